"""The journal as one reads it: the same for the writer and for read-only connections beside it.

Rules: a read-only store sees one consistent state for as long as a call, or the walk through what it returned, lasts
(packing moves rows while others read); walks are therefore finished or dropped soon. One thread at a time.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING, Self

from monitor.journal import meaning_seals
from monitor.journal.ledger import ChainLink, Mark, read_chain, read_mark
from monitor.journal.outbox_rows import Dispatch, OutboxRow
from monitor.journal.packed import BlockShelf
from monitor.journal.quarantine import (
    Quarantined,
    Tally,
    read_conflicts,
    read_newest_by_reason,
    read_quarantine,
    read_tallies,
)
from monitor.journal.reading_rows import Arrival, RowReader, SeriesColumns
from monitor.journal.schema import connect_reader, journal_path
from monitor.journal.series_book import SeriesBook
from monitor.journal.snapshots import Snapshot, checkpoint
from monitor.journal.storage_faults import sound, telling
from monitor.journal.timeline import FOREVER, KeptFlag, StoredEvent, Timeline
from monitor.journal.waiting import count_waiting
from monitor.model.effects import Effect
from monitor.model.events import Event, EventKind
from monitor.model.quarantine import SetAside
from monitor.model.readings import Reading
from monitor.model.times import DAY_MS

if TYPE_CHECKING:
    pass


class Store:
    """What stands in the journal of a data folder."""

    def __init__(self, connection: sqlite3.Connection, folder: Path, *, writing: bool) -> None:
        self.folder = folder
        self.path = journal_path(folder)
        self.connection = connection
        self.book = SeriesBook(connection)
        self.blocks = BlockShelf(connection, self.path)
        self.rows = RowReader(connection, self.book, self.blocks)
        self.timeline = Timeline(connection, self.rows)
        self._writing = writing
        self._views = 0
        self._closed = False

    @contextmanager
    def view(self) -> Iterator[None]:
        """Hold one consistent state while inside (read-only stores; the writer's own is consistent anyway)."""
        with telling(self.path):
            if self._writing:
                yield
                return
            if self._views == 0:
                self.connection.execute("BEGIN")
                self.book.reload()
            self._views += 1
            try:
                yield
            finally:
                self._views -= 1
                if self._views == 0 and not self._closed and self.connection.in_transaction:
                    self.connection.execute("ROLLBACK")

    @contextmanager
    def _read(self) -> Iterator[None]:
        with self.view(), sound(self.path):
            yield

    def readings(self, probes: Sequence[str], start: int, end: int, known_at: int | None = None) -> Iterator[Reading]:
        """Yield readings with start <= time <= end (UTC ms), ordered by (time, probe); see `RowReader.readings`."""
        with self._read():
            yield from self.rows.readings(probes, start, end, known_at)

    def columns(self, probe: str, start: int = -FOREVER, end: int = FOREVER) -> list[SeriesColumns]:
        """Return a probe's readings as numpy arrays, one entry for each unit; see `RowReader.columns`."""
        with self._read():
            return self.rows.columns(probe, start, end)

    def latest(self, probe: str) -> Reading | None:
        """Return a probe's newest reading by its own time, or None."""
        with self._read():
            return self.rows.latest(probe)

    def probes(self) -> list[str]:
        """Return the ids of all probes that ever spoke, sorted."""
        with self._read():
            return sorted(self.book.of_probe)

    def events(self, after: int = -FOREVER, until: int = FOREVER) -> Iterator[Event]:
        """Yield the events with after < at <= until, in order."""
        with self._read():
            yield from self.timeline.events(after, until)

    def stored_events(self, after: int = -FOREVER, until: int = FOREVER) -> Iterator[StoredEvent]:
        """Yield events with what their canonical bytes are made of."""
        with self._read():
            yield from self.timeline.stored_events(after, until)

    def effects(self, after: int = -FOREVER, until: int = FOREVER, place: str | None = None) -> Iterator[Effect]:
        """Yield the effects with after < at <= until in order of their ids, of one place or of all."""
        with self._read():
            yield from self.timeline.effects(after, until, place)

    def events_of(self, *kinds: EventKind) -> Iterator[Event]:
        """Yield the events of some kinds in order, without the readings that `imported` ones may have.

        `readings` cannot be asked for: most of those have no row of their own.
        """
        with self._read():
            yield from self.timeline.events_of(kinds)

    def last_of(self, kind: EventKind) -> int | None:
        """Return the `at` of the newest event of a kind that has a row of its own (not `readings`), or None."""
        with self._read():
            return self.timeline.last_of(kind)

    def newest_set_aside(self) -> dict[SetAside, Quarantined]:
        """Return the newest kept entry of the quarantine for each reason that has one."""
        with self._read():
            return {entry.reason: entry for entry in read_newest_by_reason(self.connection)}

    def events_after(self, cursor: int, n: int) -> list[Event]:
        """Return the next n events after a cursor."""
        with self._read():
            return self.timeline.events_after(cursor, n)

    def readings_after(self, cursor: int, n: int) -> list[Arrival]:
        """Return the next arrivals after a cursor, until they hold at least n rows."""
        with self._read():
            return self.timeline.readings_after(cursor, n)

    def effects_after(self, cursor: int, n: int) -> list[Effect]:
        """Return at least the next n effects after a cursor, all of the last one's instant included."""
        with self._read():
            return self.timeline.effects_after(cursor, n)

    def flags_after(self, cursor: int, n: int) -> list[KeptFlag]:
        """Return at least the next n flags (other than pass) that became final after a cursor."""
        with self._read():
            return self.timeline.flags_after(cursor, n)

    def flags(self, probe: str, start: int = -FOREVER, end: int = FOREVER) -> list[KeptFlag]:
        """Return a probe's flags other than pass with start <= time <= end."""
        with self._read():
            return self.timeline.flags(probe, start, end)

    def cursor(self, name: str) -> int | None:
        """Return how far a follower came, or None if it never began."""
        with self._read():
            return self.timeline.cursor(name)

    def mark(self) -> Mark:
        """Return how far the journal came: last event, watermark of `advance`, the open day."""
        with self._read():
            return read_mark(self.connection)

    def chain(self) -> list[ChainLink]:
        """Return the links of the closed days, the oldest first."""
        with self._read():
            return read_chain(self.connection)

    def days_with(self, start: int, end: int) -> set[int]:
        """Return the UTC days (since 1970-01-01) on which readings of start <= time <= end may have arrived."""
        with self._read():
            rows = self.connection.execute(
                f"SELECT DISTINCT first_at / {DAY_MS} FROM span WHERE time_max >= ? AND time_min <= ?",  # noqa: S608
                (start, end),
            )
            return {day for (day,) in rows}

    def seals(self) -> dict[int, bytes]:
        """Return the states from which the record goes on at its seals, by the instants of those.

        Raises:
            UnavailableError: One is damaged.
        """
        with self._read():
            rows = self.connection.execute("SELECT at FROM seal ORDER BY at").fetchall()
            return {at: meaning_seals.state_at(self.connection, at) for (at,) in rows}

    def checkpoint(self) -> Snapshot | None:
        """Return the engine's state before the oldest event still kept, or None if the beginning is kept."""
        with self._read():
            return checkpoint(self.connection)

    def quarantine(self, limit: int = 100) -> list[Quarantined]:
        """Return what was set aside last, the newest first."""
        with self._read():
            return read_quarantine(self.connection, limit)

    def conflicts(self) -> list[Reading]:
        """Return the readings that were set aside for another value at their instant, as far as they are kept, oldest first."""
        with self._read():
            return read_conflicts(self.connection)

    def set_aside(self) -> list[Tally]:
        """Return how often each source had something set aside, and why."""
        with self._read():
            return read_tallies(self.connection)

    def waiting_readings(self) -> int:
        """Return how many readings wait for the clock to be confirmed."""
        with self.view():
            return count_waiting(self.connection)

    def waiting_notices(self) -> int:
        """Return how many outbox rows are not delivered yet (nor given up)."""
        with self._read():
            row = self.connection.execute("SELECT count(*) FROM outbox WHERE state IN ('waiting', 'handed')").fetchone()
            return int(row[0])

    def notices(self, after: int = 0, limit: int = 1000) -> list[OutboxRow]:
        """Return outbox rows with an id above `after`, in order of id, whatever became of them."""
        with self._read():
            return Dispatch(self.connection, self.path).rows(after, limit)

    def close(self) -> None:
        """Close the connection; safe to call twice."""
        self._closed = True
        self.connection.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, fault: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()


class AsOf:
    """The history as it stood at an instant: what the engine saw when it decided, for feeding an event again."""

    def __init__(self, rows: RowReader, known_at: int, path: Path) -> None:
        self._rows = rows
        self._known_at = known_at
        self._path = path

    def readings(self, probes: Sequence[str], start: int, end: int) -> Iterator[Reading]:
        """Yield readings with start <= time <= end that had arrived by then, ordered by (time, probe)."""
        with sound(self._path):
            yield from self._rows.readings(probes, start, end, self._known_at)


def open_reader(folder: Path) -> Store:
    """Return the journal of a data folder for reading only; works while a writer runs.

    Raises:
        UnavailableError: There is no journal, it cannot be read, or it is damaged, foreign or of another version.
    """
    connection = connect_reader(folder)
    try:
        with sound(journal_path(folder)):
            return Store(connection, folder, writing=False)
    except BaseException:
        connection.close()
        raise
