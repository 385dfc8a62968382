"""Puts a backup in the place of the journal, so that nothing of the old file can mix with it.

Rules:
1. The writer's lock is held throughout: no daemon runs, and none starts meanwhile.
2. The backup is first copied into a folder of its own and checked there, all of it. Only then is the old journal touched.
3. The old journal moves aside with its log, whatever its state; nothing of it is deleted. A log left behind would be
   played into the new file and ruin it.
4. An interrupted restore can be repeated: until the last step the old journal lies in its place or aside, whole.
"""

import os
import shutil
import sqlite3
from collections.abc import Mapping
from contextlib import closing
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from monitor.journal.audit import audit
from monitor.journal.backup import BESIDE_TABLE
from monitor.journal.chain import Finding, Told
from monitor.journal.lock import WriterLock
from monitor.journal.private import FILE_MODE, private_folder, to_disk
from monitor.journal.schema import JOURNAL_FILE, check_ours, connect, journal_path
from monitor.journal.storage_faults import DamagedError, sound, telling
from monitor.journal.store import Store, open_reader
from monitor.journal.timeline import FOREVER
from monitor.model.errors import MisuseError, MonitorError, UnavailableError
from monitor.model.times import show_time

_WAY_IN = "restoring"
_SIDES = ("", "-wal", "-shm", "-journal")


@dataclass(frozen=True, slots=True, kw_only=True)
class Missing:
    """Entries that the old journal has and the backup lacks: readings, and other events by their kind."""

    until: int
    readings: int
    events: Mapping[str, int]


@dataclass(frozen=True, slots=True, kw_only=True)
class Restored:
    """Result of a restore.

    Attributes:
        until: How far the backup's record reaches, UTC ms; None: it is empty.
        old: Where the old journal lies now; None: there was none.
        missing: Entries recorded since the backup; None: the old journal cannot be read.
        beside: Names of the files that came back with it.
        kept: Names of the files already there, which were left alone.
        findings: Findings of the check of the backup.
    """

    until: int | None
    old: Path | None
    missing: Missing | None
    beside: list[str] = field(default_factory=list)
    kept: list[str] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)


class NotSoundError(UnavailableError):
    """The backup changed since it was made; `findings` say where."""

    def __init__(self, source: Path, findings: list[Finding]) -> None:
        """Keep the findings."""
        self.findings = findings
        super().__init__(f"{source} is damaged itself; nothing was changed: take another backup")


def restore(folder: Path, source: Path, now: int, told: Told | None = None, *, anyway: bool = False) -> Restored:
    """Put a backup in the place of the journal of a data folder.

    Args:
        folder: The data folder.
        source: The backup.
        now: The present, UTC ms; names the folder that receives the old journal.
        told: Receives (days of the backup checked so far, days in all).
        anyway: Whether a damaged backup is taken too.

    Returns:
        What was put in place, what was moved aside, and what the backup lacks.

    Raises:
        MisuseError: The source is no file, or the journal itself, or a journal in use.
        NotSoundError: The backup is damaged.
        UnavailableError: A writer runs, a file cannot be read or written, or the source is no journal.
    """
    if not source.is_file():
        raise MisuseError(f"{source} is not there or no file; name a backup, such as journal-20260301T090000Z.sqlite.")
    if journal_path(folder).exists() and source.samefile(journal_path(folder)):
        raise MisuseError(f"{source} is the journal itself; name a backup.")
    log = source.with_name(source.name + "-wal")
    if log.exists() and log.stat().st_size:
        raise MisuseError(f"{log.name} lies beside {source}: that is a journal in use and no backup; name a backup.")
    with WriterLock(folder), telling(folder):
        way_in = folder / _WAY_IN
        shutil.rmtree(way_in, ignore_errors=True)
        private_folder(way_in)
        try:
            findings, until = _looked_at(source, way_in, told)
            faults = [finding for finding in findings if finding.is_fault()]
            if faults and not anyway:
                raise NotSoundError(source, faults)
            files = _files_beside(way_in)
            old = _move_aside(folder, now)
            journal_path(way_in).replace(journal_path(folder))
            to_disk(folder)
        finally:
            shutil.rmtree(way_in, ignore_errors=True)
        came, kept = _put_beside(folder, files)
    missing = None if old is None else _missing(old, until)
    return Restored(until=until, old=old, missing=missing, beside=came, kept=kept, findings=findings)


def _looked_at(source: Path, way_in: Path, told: Told | None) -> tuple[list[Finding], int | None]:
    """Copy a backup into a folder, migrate it to today's tables, and check all of it."""
    target = journal_path(way_in)
    with source.open("rb") as read, os.fdopen(os.open(target, os.O_WRONLY | os.O_CREAT, FILE_MODE), "wb") as write:
        shutil.copyfileobj(read, write, 1 << 20)
        write.flush()
        os.fsync(write.fileno())
    try:
        with closing(sqlite3.connect(target)) as copy, sound(target):
            if not check_ours(copy, target):
                # Opening an empty file would make a new, empty journal, which would then replace the one that is there.
                raise UnavailableError(f"{target} is empty, as a copy that broke off is")
        with closing(connect(way_in)) as connection, sound(target):
            store = Store(connection, way_in, writing=True)
            findings, until = audit(store, told), _reach(store)
            # These messages may have gone out after the backup was made, so a second copy must say that it may be a repeat.
            connection.execute("UPDATE outbox SET maybe_repeat = 1 WHERE state IN ('waiting', 'handed')")
            connection.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchall()
    except MonitorError as fault:
        raise _about(source, target, fault) from fault
    to_disk(target)
    return findings, until


def _reach(store: Store) -> int | None:
    try:
        return store.mark().latest()
    except DamagedError:
        return None


def _about(source: Path, target: Path, fault: MonitorError) -> UnavailableError:
    """Return an error about the temporary copy as one about the backup that it was made from."""
    said = str(fault).replace(str(target), str(source)).partition(": it was left as it is")[0]
    return UnavailableError(f"{said}: nothing was changed; take another backup")


def _files_beside(way_in: Path) -> dict[str, bytes]:
    """Take the files that travelled in a backup out of it."""
    with closing(sqlite3.connect(journal_path(way_in), isolation_level=None)) as copy:
        there = copy.execute("SELECT count(*) FROM sqlite_schema WHERE name = ?", (BESIDE_TABLE,)).fetchone()[0]
        files = dict(copy.execute(f"SELECT name, data FROM {BESIDE_TABLE}")) if there else {}  # noqa: S608 - a constant
        copy.execute(f"DROP TABLE IF EXISTS {BESIDE_TABLE}")
        copy.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchall()
    return {name: data for name, data in files.items() if _is_file_beside(name, data)}


def _is_file_beside(name: Any, data: Any) -> bool:
    """Return whether a row of a backup is a file beside the journal; a backup from elsewhere may hold anything."""
    whole = isinstance(name, str) and isinstance(data, bytes)
    return whole and Path(name).name == name and name not in ("", "..", JOURNAL_FILE) and "\0" not in name


def _move_aside(folder: Path, now: int) -> Path | None:
    """Move the old journal, with SQLite's files beside it, into a folder of its own; return that folder."""
    path = journal_path(folder)
    there = [one for side in _SIDES if (one := path.with_name(path.name + side)).exists()]
    if not there:
        return None
    stamp = show_time(now)[:19].replace("-", "").replace(":", "")
    aside, number = folder / f"before-restore-{stamp}Z", 1
    while aside.exists():
        number += 1
        aside = folder / f"before-restore-{stamp}Z-{number}"
    private_folder(aside)
    # The log first: a journal without its log is whole up to its last checkpoint; a log without its journal is refused.
    for one in reversed(there):
        one.replace(aside / one.name)
    to_disk(aside)
    to_disk(folder)
    return aside


def _put_beside(folder: Path, files: Mapping[str, bytes]) -> tuple[list[str], list[str]]:
    came, kept = [], []
    for name, data in sorted(files.items()):
        path = folder / name
        if path.is_dir():
            kept.append(name)
            continue
        if path.exists() and path.stat().st_size:
            if path.read_bytes() != data:
                kept.append(name)
            continue
        part = path.with_name(f"{name}.part")
        part.unlink(missing_ok=True)
        with os.fdopen(os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL, FILE_MODE), "wb") as out:
            out.write(data)
            out.flush()
            os.fsync(out.fileno())
        part.replace(path)
        came.append(name)
    to_disk(folder)
    return came, kept


def _missing(old: Path, until: int | None) -> Missing | None:
    """Count the old journal's entries after an instant; None if the old journal cannot be read."""
    try:
        with open_reader(old) as store:
            latest = store.mark().latest()
            if latest is None:
                return None
            readings, events = 0, dict[str, int]()
            for event in store.events(-FOREVER if until is None else until):
                rows = len(event.payload.get("rows", ()))
                readings += rows
                if not rows:
                    events[event.kind.value] = events.get(event.kind.value, 0) + 1
            return Missing(until=latest, readings=readings, events=events)
    except MonitorError:
        return None
