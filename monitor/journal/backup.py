"""A copy of the journal that is whole, made while the writer goes on.

Rules: SQLite's own backup makes the copy in one step (so it is one consistent state), into a temporary file beside the
target. The copy is checked, brought to the disk, and only then renamed to the target: a backup is whole or is not there.
Small files of the yard that lie beside the journal travel in the copy, in a table of their own.
"""

import os
import sqlite3
from collections.abc import Mapping
from contextlib import closing
from pathlib import Path

from monitor.journal.private import FILE_MODE, to_disk
from monitor.journal.storage_faults import damaged, telling
from monitor.journal.store import open_reader

BESIDE_TABLE = "beside"
"""Table of a backup that holds files from beside the journal: (name, data)."""


def backup(folder: Path, target: Path, beside: Mapping[str, bytes] | None = None) -> int:
    """Copy the journal of a data folder to a file; an older file there is replaced.

    Args:
        folder: The data folder.
        target: Path of the copy; only its owner may read it.
        beside: Further files that travel in the copy: name -> content.

    Returns:
        Size of the copy, in bytes.

    Raises:
        UnavailableError: There is no journal, it is damaged, or the target cannot be written.
    """
    temporary = target.with_name(target.name + ".part")
    with open_reader(folder) as source:
        try:
            with telling(target):
                temporary.unlink(missing_ok=True)
                os.close(os.open(temporary, os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_CLOEXEC, FILE_MODE))
                with closing(sqlite3.connect(temporary, isolation_level=None)) as copy:
                    with telling(source.path):
                        source.connection.backup(copy)
                    copy.execute("PRAGMA journal_mode = DELETE")
                    copy.execute(f"DROP TABLE IF EXISTS {BESIDE_TABLE}")
                    copy.execute(f"CREATE TABLE {BESIDE_TABLE} (name TEXT PRIMARY KEY, data BLOB NOT NULL) STRICT")
                    copy.executemany(f"INSERT INTO {BESIDE_TABLE} VALUES (?, ?)", (beside or {}).items())  # noqa: S608 - a constant
                    found = copy.execute("PRAGMA quick_check(1)").fetchone()[0]
                    if found != "ok":
                        raise damaged(source.path, str(found))
                to_disk(temporary)
                size = temporary.stat().st_size
                temporary.replace(target)
                to_disk(target.parent)
        finally:
            temporary.unlink(missing_ok=True)
    return size
