"""Whether the daemon can store, as others see it: the daemon marks it in the times of its lock file, which needs no room.

A command cannot ask a daemon whose disk is full: neither of them can write. So three things are looked at: the mark, whether
the journal was written at all lately (its watermark moves once a minute), and whether the folder takes a little file.
"""

import errno
import os
import tempfile
import time
from contextlib import suppress
from pathlib import Path

from monitor.journal import LOCK_FILE, journal_path

FAILING_S = 1.0
"""The lock file's time of change while nothing can be stored: one second after 1970 began."""

STILL_S = 180.0
"""So long without a write the daemon, whose watermark moves each minute, stores nothing."""

TRIED_BYTES = 65_536


def mark_storing(folder: Path, *, works: bool) -> None:
    """Leave word for other commands whether anything can be stored; where even that fails they find it out otherwise."""
    with suppress(OSError):
        os.utime(folder / LOCK_FILE, None if works else (FAILING_S, FAILING_S))


def is_marked_failing(folder: Path) -> bool:
    """Tell whether the last word was that nothing can be stored."""
    return _changed(folder / LOCK_FILE) == FAILING_S


def why_unstored(folder: Path, pid: int | None) -> str:
    """Return why nothing can be stored in a data folder, or "" where all is well; `pid` is the daemon's, None without one."""
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
    """Return why a little file cannot be written; that this user may not is no fault of the disk."""
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
