"""A copy of the journal that is whole, made while the writer goes on.

Rules:
1. SQLite's own backup makes the copy in one step (so it is one consistent state), into a temporary file beside the target. The
   copy is checked, brought to the disk, and only then renamed to the target: a backup is whole or is not there.
2. Who makes it may look through the copy before it is renamed. What is looked at is the copy: nothing writes to it meanwhile,
   and a fault of the disk that it lies on shows too.
3. Small files of the yard that lie beside the journal travel in the copy, in a table of their own.
"""

import os
import sqlite3
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import closing, contextmanager
from pathlib import Path

from monitor.journal.chain import Finding
from monitor.journal.private import FILE_MODE, to_disk
from monitor.journal.schema import check_ours, check_tables
from monitor.journal.storage_faults import damaged, sound, telling
from monitor.journal.store import Store, open_reader
from monitor.model.errors import UnavailableError

BESIDE_TABLE = "beside"
"""Table of a backup that holds files from beside the journal: (name, data)."""

Look = Callable[[Store], Sequence[Finding]]
"""Looks through a copy, and returns its findings."""


class UnsoundCopyError(UnavailableError):
    """The copy is not what was entered, and was not kept; `findings` say where."""

    def __init__(self, findings: Sequence[Finding]) -> None:
        """Keep the findings."""
        self.findings = findings
        super().__init__(findings[0].sentence)


def backup(
    folder: Path,
    target: Path,
    beside: Mapping[str, bytes] | None = None,
    look: Look | None = None,
    *,
    anyway: bool = False,
) -> int:
    """Copy the journal of a data folder to a file; an older file there is replaced.

    Args:
        folder: The data folder.
        target: Path of the copy; only its owner may read it.
        beside: Further files that travel in the copy: name -> content.
        look: Looks through the copy before it is put in place.
        anyway: Whether to copy a damaged journal too, which is then not checked at all.

    Returns:
        Size of the copy, in bytes.

    Raises:
        UnsoundCopyError: The look found faults.
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
                    if not anyway:
                        _check(copy, source, look)
                to_disk(temporary)
                size = temporary.stat().st_size
                temporary.replace(target)
                to_disk(target.parent)
        finally:
            temporary.unlink(missing_ok=True)
    return size


@contextmanager
def copy_reader(copy: Path) -> Iterator[Store]:
    """Open a copy for reading only; nobody may write to it meanwhile.

    Raises:
        UnavailableError: It is no copy, cannot be read, or is damaged.
    """
    with sound(copy):
        address = copy.absolute().as_uri() + "?mode=ro&immutable=1"
        with closing(sqlite3.connect(address, uri=True, isolation_level=None)) as connection:
            if not check_ours(connection, copy):
                raise damaged(copy, "it is empty")
            check_tables(connection, copy)
            yield Store(connection, copy.parent, writing=True)


def files_beside(store: Store) -> dict[str, bytes]:
    """Return the files that travel in a copy: name -> content."""
    with sound(store.path):
        rows = store.connection.execute("SELECT name FROM sqlite_schema WHERE name = ?", (BESIDE_TABLE,)).fetchall()
        if not rows:
            return {}
        return dict(store.connection.execute(f"SELECT name, data FROM {BESIDE_TABLE}"))  # noqa: S608 - a constant


def _check(copy: sqlite3.Connection, source: Store, look: Look | None) -> None:
    found = copy.execute("PRAGMA quick_check(1)").fetchone()[0]
    if found != "ok":
        raise damaged(source.path, str(found))
    if look is not None:
        faults = [one for one in look(Store(copy, source.folder, writing=True)) if one.is_fault()]
        if faults:
            raise UnsoundCopyError(faults)
