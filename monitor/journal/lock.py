"""The lock that makes the writer the only one: held by the operating system, so that it ends with the process.

Rules: the writer takes two locks (`flock`, advisory; the kernel releases them however the process dies). One is on
`writer.lock` in the data folder, a file that also holds the writer's process id for the message to a second writer. The
other is on the folder itself: a lock file can be deleted, and then two processes would lock two files of one name; the
folder of an open journal cannot. On a file system that cannot lock a folder, the file's lock must do.
"""

import fcntl
import os
import time
from pathlib import Path
from types import TracebackType
from typing import Self

from monitor.journal.private import FILE_MODE, private_folder
from monitor.model.errors import UnavailableError

LOCK_FILE = "writer.lock"
"""Name of the lock file in the data folder."""

_POLL_S = 0.1


class WriterLock:
    """The writer's lock, held from construction until `release`.

    Args:
        folder: The data folder; made if it is not there.
        wait_s: Seconds to wait for another holder: a command holds the lock for a moment only.

    Raises:
        UnavailableError: Another process holds it, or the folder cannot be used.
    """

    def __init__(self, folder: Path, wait_s: float = 0.0) -> None:
        self._descriptors: list[int] = []
        until = time.monotonic() + wait_s
        while not self._take(folder):
            if time.monotonic() >= until:
                who = _pid_in(folder / LOCK_FILE)
                process = f" (process {who})" if who else ""
                raise UnavailableError(f"another writer{process} already holds the data folder {folder}")
            time.sleep(_POLL_S)
        descriptor = self._descriptors[0]
        try:
            os.ftruncate(descriptor, 0)
            os.pwrite(descriptor, f"{os.getpid()}\n".encode(), 0)
        except OSError:
            # The lock counts even if the disk is full; only the message to a second writer then lacks the process id.
            os.ftruncate(descriptor, 0)

    def release(self) -> None:
        """Let another process become the writer; safe to call twice."""
        for descriptor in self._descriptors:
            os.close(descriptor)
        self._descriptors.clear()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, fault: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.release()

    def _take(self, folder: Path) -> bool:
        """Take both locks, or neither: False where another process holds one of them."""
        try:
            private_folder(folder)
            flags = os.O_RDWR | os.O_CREAT | os.O_CLOEXEC
            self._descriptors.append(os.open(folder / LOCK_FILE, flags, FILE_MODE))
            self._descriptors.append(os.open(folder, os.O_RDONLY | os.O_DIRECTORY | os.O_CLOEXEC))
        except OSError as fault:
            self.release()
            raise UnavailableError(f"{folder} cannot be used as the data folder: {fault.strerror or fault}") from fault
        if all(_locked(descriptor, fcntl.LOCK_EX) for descriptor in self._descriptors):
            return True
        self.release()
        return False


def holder(folder: Path) -> int | None:
    """Return the process id of the running writer, 0 if one runs but its id is unknown, None if none runs."""
    for path in (folder / LOCK_FILE, folder):
        try:
            descriptor = os.open(path, os.O_RDONLY | os.O_CLOEXEC)
        except OSError:
            continue
        try:
            if not _locked(descriptor, fcntl.LOCK_SH):
                return _pid_in(folder / LOCK_FILE) or 0
        finally:
            os.close(descriptor)
    return None


def _locked(descriptor: int, how: int) -> bool:
    """Take a lock at once; False if another process holds it. True if the file system cannot lock a folder."""
    try:
        fcntl.flock(descriptor, how | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    except OSError:
        return True
    return True


def _pid_in(path: Path) -> int | None:
    try:
        text = path.read_text(encoding="ascii").strip()
    except (OSError, UnicodeDecodeError):
        return None
    return int(text) if text.isascii() and text.isdigit() else None
