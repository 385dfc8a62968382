"""A copy of the journal that is whole, made while the writer goes on.

Rules: the copy is made by SQLite's own backup in one step (so it is one consistent state), into a temporary file beside
the target, checked, brought to the disk, and only then given the target's name: a backup is whole or is not there.
"""

import os
import sqlite3
from contextlib import closing
from pathlib import Path

from monitor.journal.faults import damaged, telling
from monitor.journal.store import open_reader


def backup(folder: Path, target: Path) -> int:
    """Copy the journal of a data folder to `target` (replaced if it is there) and return the copy's size in bytes.

    Raises:
        UnavailableError: There is no journal, it is damaged, or the target cannot be written.
    """
    temporary = target.with_name(target.name + ".part")
    with open_reader(folder) as source:
        try:
            with telling(target):
                temporary.unlink(missing_ok=True)
                with closing(sqlite3.connect(temporary, isolation_level=None)) as copy:
                    with telling(source.path):
                        source.connection.backup(copy)
                    copy.execute("PRAGMA journal_mode = DELETE")
                    found = copy.execute("PRAGMA quick_check(1)").fetchone()[0]
                    if found != "ok":
                        raise damaged(source.path, str(found))
                _to_disk(temporary)
                size = temporary.stat().st_size
                temporary.replace(target)
                _to_disk(target.parent)
        finally:
            temporary.unlink(missing_ok=True)
    return size


def _to_disk(path: Path) -> None:
    descriptor = os.open(path, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)
