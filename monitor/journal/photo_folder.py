"""The photos that go with remarks: each a file under the SHA-256 of its bytes, in the folder `photos` beside the journal.

Rules:
1. A photo is on the disk, whole, before the entry that names it is asked for: it is written beside its place, synced, and then
   renamed. The same photo is kept once.
2. All photos together have a limit, which the yard sets. Who counts, adds or removes holds the folder's lock, so that two
   processes neither pass the limit nor remove what the other is about to name.
3. What is read is compared with its name. A photo that is missing or has changed is no photo; it stops nothing.
"""

import fcntl
import hashlib
import os
import time
from collections.abc import Collection, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from monitor.journal.private import FILE_MODE, private_folder, to_disk
from monitor.journal.storage_faults import telling
from monitor.model.photo_names import photo_parts

PHOTOS = "photos"
"""The folder's name, in the data folder and beside the copies of the journal."""


class PhotosFullError(Exception):
    """All photos together would be larger than they may; `used` is their size, bytes."""

    def __init__(self, used: int) -> None:
        """Keep the size."""
        self.used = used
        super().__init__(f"{used} bytes of photos are kept already")


class PhotoFolder:
    """The photos in a folder; any thread and any process may use it.

    Args:
        folder: The folder itself; it is made when the first photo is kept.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def path(self, sha256: str) -> Path:
        """Return where the photo with a hash lies."""
        return self.folder / sha256[:2] / f"{sha256}.jpg"

    def keep(self, data: bytes, most: int | None = None) -> str:
        """Keep a photo, and return its SHA-256; one that is there already counts as new from now on.

        Args:
            data: The photo.
            most: The most bytes of all photos together; None: no limit.

        Raises:
            PhotosFullError: There is no room for it.
            UnavailableError: The disk does not take it.
        """
        sha256 = hashlib.sha256(data).hexdigest()
        path = self.path(sha256)
        with telling(self.folder):
            private_folder(self.folder)
            with self._locked():
                if self.read(sha256) is not None:
                    os.utime(path)
                    return sha256
                if most is not None and (used := self.used()) + len(data) > most:
                    raise PhotosFullError(used)
                private_folder(path.parent)
                part = path.with_name(path.name + ".part")
                part.unlink(missing_ok=True)
                with os.fdopen(
                    os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_CLOEXEC, FILE_MODE), "wb"
                ) as out:
                    out.write(data)
                    out.flush()
                    os.fsync(out.fileno())
                part.replace(path)
                to_disk(path.parent)
        return sha256

    def read(self, sha256: str) -> bytes | None:
        """Return a photo; None if it is missing, cannot be read, or is not what was kept."""
        try:
            data = self.path(sha256).read_bytes()
        except OSError:
            return None
        return data if hashlib.sha256(data).hexdigest() == sha256 else None

    def listed(self) -> Iterator[tuple[str, int, float]]:
        """Yield the SHA-256 in the name of each photo, its size in bytes, and when it was last kept, seconds since 1970."""
        for path in sorted(self.folder.glob("??/*.jpg")):
            if path.parent.name == path.name[:2] and photo_parts(path.stem) == (path.stem, 1):
                with suppress(FileNotFoundError):
                    there = path.stat()
                    yield path.stem, there.st_size, there.st_mtime

    def used(self) -> int:
        """Return the size of all photos together, bytes."""
        return sum(size for _, size, _ in self.listed())

    def remove(self, but: Collection[str], older_s: float) -> int:
        """Remove the photos that nothing names and that were kept longer ago than some seconds; return how many went.

        Args:
            but: The SHA-256 of the photos that stay.
            older_s: The least age of what goes, by the file's own time.

        Raises:
            UnavailableError: A photo cannot be removed.
        """
        if not self.folder.is_dir():
            return 0
        gone = 0
        with telling(self.folder), self._locked():
            before = time.time() - older_s
            for broken_off in self.folder.glob("??/*.part"):
                broken_off.unlink(missing_ok=True)
            for sha256, _, kept_s in list(self.listed()):
                if sha256 not in but and kept_s < before:
                    self.path(sha256).unlink(missing_ok=True)
                    gone += 1
        return gone

    def touch(self, some: Collection[str]) -> None:
        """Note of some photos that they are still wanted, so that `remove` counts their age from now."""
        for sha256 in some:
            with suppress(OSError):
                os.utime(self.path(sha256))

    @contextmanager
    def _locked(self) -> Iterator[None]:
        descriptor = os.open(self.folder, os.O_RDONLY | os.O_CLOEXEC)
        try:
            # A file system that cannot lock a folder (some sticks, some network disks) goes without.
            with suppress(OSError):
                fcntl.flock(descriptor, fcntl.LOCK_EX)
            yield
        finally:
            os.close(descriptor)


def bring_photos(source: PhotoFolder, target: PhotoFolder, wanted: Collection[str]) -> int:
    """Copy the wanted photos that the target lacks and the source has; return how many.

    Args:
        source: Where they are.
        target: Where they are brought.
        wanted: The SHA-256 of each.

    Raises:
        UnavailableError: One cannot be written.
    """
    there, brought = {sha256 for sha256, _, _ in target.listed()}, 0
    for sha256 in sorted(wanted):
        if sha256 not in there and (data := source.read(sha256)) is not None:
            target.keep(data)
            brought += 1
    return brought
