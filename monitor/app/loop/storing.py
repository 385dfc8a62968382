"""Tells other processes whether the daemon can store; the daemon marks it in the times of its lock file, which needs no space.

Where even that cannot be written (a read-only disk), a file in the service manager's folder for this service
(`RUNTIME_DIRECTORY`), else in the folder for temporary files, is the mark: a daemon that is started again and again must not
tell people each time.

A command cannot ask a daemon whose disk is full, because neither can write. So it looks at three things: the mark, whether the
journal was written lately (its watermark moves once a minute), and whether the folder takes a small file.
"""

import errno
import hashlib
import os
import stat
import tempfile
import time
from contextlib import suppress
from pathlib import Path

from monitor.journal import LOCK_FILE, journal_path

FAILING_S = 1.0
"""The lock file's modification time, in seconds since 1970, while nothing can be stored."""

STILL_S = 180.0
"""After so many seconds without a write the daemon counts as stuck: its watermark moves each minute."""

TRIED_BYTES = 65_536


def mark_storing(folder: Path, *, works: bool) -> None:
    """Mark for other processes whether anything can be stored; if even that fails, they notice by other signs."""
    if works:
        with suppress(OSError):
            _mark_elsewhere(folder).unlink()
        with suppress(OSError):
            os.utime(folder / LOCK_FILE, None)
        return
    try:
        os.utime(folder / LOCK_FILE, (FAILING_S, FAILING_S))
    except OSError:
        with suppress(OSError):
            os.close(os.open(_mark_elsewhere(folder), os.O_CREAT | os.O_WRONLY | os.O_NOFOLLOW | os.O_CLOEXEC, 0o600))


def is_marked_failing(folder: Path) -> bool:
    """Return whether the daemon's last mark says that nothing can be stored."""
    return _changed(folder / LOCK_FILE) == FAILING_S or _is_marked_elsewhere(folder)


def _mark_elsewhere(folder: Path) -> Path:
    name = hashlib.sha256(os.fsencode(folder.resolve())).hexdigest()[:16]
    given = os.environ.get("RUNTIME_DIRECTORY", "").partition(":")[0]
    return Path(given or tempfile.gettempdir()) / f"heaptender-unstored-{name}"


def _is_marked_elsewhere(folder: Path) -> bool:
    """Return whether the mark lies elsewhere; one that another user made there, where all may write, does not count."""
    try:
        mark, owner = _mark_elsewhere(folder).lstat(), folder.stat().st_uid
    except OSError:
        return False
    return stat.S_ISREG(mark.st_mode) and mark.st_uid == owner


def why_unstored(folder: Path, pid: int | None) -> str:
    """Return why nothing can be stored in a data folder, or "" if all is well; `pid` is the daemon's, None without a daemon."""
    trouble = _tried(folder)
    if pid is None:
        return trouble
    if is_marked_failing(folder):
        return trouble or "its disk fails; the daemon's log says how"
    journal = journal_path(folder)
    written = [when for when in (_changed(journal), _changed(journal.with_name(f"{journal.name}-wal"))) if when]
    still = time.time() - max(written) if written else 0.0
    if still > STILL_S:
        return trouble or f"the journal was last written {still / 60:.0f} min ago; the daemon hangs, or its disk does"
    return trouble


def _changed(path: Path) -> float | None:
    try:
        return path.stat().st_mtime
    except OSError:
        return None


def _tried(folder: Path) -> str:
    """Return why a small file cannot be written; missing permission does not count, because it is no fault of the disk."""
    if not folder.is_dir():
        return ""
    try:
        with tempfile.TemporaryFile(dir=folder, buffering=0) as file:
            file.write(b"\0" * TRIED_BYTES)
            os.fsync(file.fileno())
    except OSError as fault:
        if fault.errno in (errno.EACCES, errno.EPERM):
            return ""
        words = {errno.ENOSPC: "the disk is full: free some space", errno.EROFS: "the disk is read-only"}
        return words.get(fault.errno or 0, f"the disk fails ({fault.strerror or fault})")
    return ""
