"""Makes the data folder private by its mode, also if an older release made it before modes were private.

Rules: only our own things are touched: files that this user owns and this program names, never through a link. The folder
itself is closed only if nothing else lies in it, because closing a shared folder (a home, `/srv`) would lock others out of
theirs. `check` reports paths that could not be closed, with the command to do it.
"""

import os
import stat
from collections.abc import Iterator
from contextlib import suppress
from fnmatch import fnmatch
from pathlib import Path

from monitor.app.upkeep.backups import BESIDE
from monitor.app.upkeep.disk_room import FILE as ROOM_FILE
from monitor.app.yard.taken_file import FILE as TAKEN_FILE
from monitor.configuration import Configuration
from monitor.journal import FILE_MODE, FOLDER_MODE, JOURNAL_FILE, LOCK_FILE, PHOTOS, journal_path

_KEYS = ("page.key", "page-guests.json", "page-calendars.json", "page-ended.json", "keys", LOCK_FILE)
_OURS = (
    *(f"{name}*" for name in (JOURNAL_FILE, *_KEYS, *BESIDE)),
    "certificates",
    "mirror-cursor.json*",
    f"{ROOM_FILE}*",
    f"{TAKEN_FILE}*",
    "material.kept*",
    PHOTOS,
    "before-restore-*",
    "restoring",
    "typeface",
)
"""Patterns for the names of this program's files in the data folder, half-written files included."""

_OTHERS = stat.S_IRWXG | stat.S_IRWXO


def private_paths(configuration: Configuration) -> list[Path]:
    """Return the paths that only their owner should read: the folder, the record, keys and links."""
    data = configuration.data
    record = [journal_path(data).with_name(JOURNAL_FILE + end) for end in ("", "-wal", "-shm")]
    return [data, *record, *(data / name for name in _KEYS), data / PHOTOS]


def make_private(configuration: Configuration) -> list[Path]:
    """Close the data folder and the record in it to other users; return the paths that changed.

    A path that cannot be changed stays as it is.
    """
    folder, *files = private_paths(configuration)
    changed = [path for path in files if _closed(path)]
    if all(_is_ours(path, configuration) for path in _within(folder)) and _closed(folder.resolve()):
        changed.insert(0, folder)
    return changed


def _within(folder: Path) -> Iterator[Path]:
    with suppress(OSError):
        yield from folder.iterdir()


def _is_ours(path: Path, configuration: Configuration) -> bool:
    if any(fnmatch(path.name, pattern) for pattern in _OURS) or path in configuration.secret_files:
        return True
    copies = configuration.backup.folder if configuration.backup is not None else None
    return copies is not None and path in (copies, *copies.parents)


def _closed(path: Path) -> bool:
    """Close a file or folder of this user to others; tell whether that changed anything.

    The file is never opened for reading or writing: a process that closes any such descriptor of an SQLite file loses all
    locks that its connections hold on it (POSIX, `fcntl(2)`), and another process may then take the journal for abandoned.
    """
    try:
        descriptor = os.open(path, os.O_PATH | os.O_CLOEXEC | os.O_NOFOLLOW)
    except OSError:
        return False
    try:
        there = os.fstat(descriptor)
        is_folder = stat.S_ISDIR(there.st_mode)
        if (
            there.st_uid != os.geteuid()
            or not there.st_mode & _OTHERS
            or not (is_folder or stat.S_ISREG(there.st_mode))
        ):
            return False
        mode = stat.S_IMODE(there.st_mode) & (FOLDER_MODE if is_folder else FILE_MODE)
        Path(f"/proc/self/fd/{descriptor}").chmod(mode)
    except OSError:
        return False
    finally:
        os.close(descriptor)
    return True
