"""The journal for reading: the same for the writer and for read-only connections beside it.

Rules: a read-only store sees one consistent state for as long as a call, or the walk through its result, lasts (packing
moves rows while others read); so callers finish or drop a walk soon. One thread at a time.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING, Self

from monitor.journal import meaning_seals
from monitor.journal.further_values import FurtherShelf
from monitor.journal.ledger import ChainLink, Mark, read_chain, read_mark
from monitor.journal.outbox_rows import Dispatch
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
from monitor.model.notice_rows import NoticeRow
from monitor.model.quarantine import SetAside
from monitor.model.readings import Reading
from monitor.model.times import DAY_MS

if TYPE_CHECKING:
    pass


class Store:
    """The content of the journal of a data folder."""

    def __init__(self, connection: sqlite3.Connection, folder: Path, *, writing: bool) -> None:
        self.folder = folder
        self.path = journal_path(folder)
        self.connection = connection
        self.book = SeriesBook(connection)
        self.blocks = BlockShelf(connection, self.path)
        self.rows = RowReader(connection, self.book, self.blocks)
        self.further_values = FurtherShelf(connection, self.book)
        self.timeline = Timeline(connection, self.rows)
        self._writing = writing
        self._views = 0
        self._closed = False

    @contextmanager
    def view(self) -> Iterator[None]:
        """Hold one consistent state inside the `with` (read-only stores; the writer's own is consistent anyway)."""
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
        """Read readings with start <= time <= end; see `RowReader.readings`.

        Args:
            probes: Ids of probes; an unknown probe has no readings.
            start: Earliest own time, UTC ms, inclusive.
            end: Latest own time, UTC ms, inclusive.
            known_at: Only readings that had arrived by this instant, UTC ms; None: all.

        Yields:
            The readings as sent, ordered by (time, probe).

        Raises:
            UnavailableError: The journal is damaged or cannot be read.
        """
        with self._read():
            yield from self.rows.readings(probes, start, end, known_at)

    def further(self, probes: Sequence[str], start: int, end: int, known_at: int | None = None) -> list[Reading]:
        """Return further values of instants with start <= time <= end; see `FurtherShelf.read`.

        Args:
            probes: Ids of probes; an unknown probe has none.
            start: Earliest own time, UTC ms, inclusive.
            end: Latest own time, UTC ms, inclusive.
            known_at: Only those that had arrived by this instant, UTC ms; None: all.

        Returns:
            The values as sent, ordered by (time, probe).

        Raises:
            UnavailableError: The journal is damaged or cannot be read.
        """
        with self._read():
            return self.further_values.read(probes, start, end, known_at)

    def further_arrived(self, probes: Sequence[str], start: int, end: int) -> list[tuple[Reading, int]]:
        """Return further values and when each arrived; see `FurtherShelf.arrived`.

        Args:
            probes: Ids of probes; an unknown probe has none.
            start: Earliest own time, UTC ms, inclusive.
            end: Latest own time, UTC ms, inclusive.

        Raises:
            UnavailableError: The journal is damaged or cannot be read.
        """
        with self._read():
            return self.further_values.arrived(probes, start, end)

    def columns(self, probe: str, start: int = -FOREVER, end: int = FOREVER) -> list[SeriesColumns]:
        """Read a probe's readings with start <= time <= end as numpy arrays; see `RowReader.columns`.

        Args:
            probe: Id of the probe.
            start: Earliest own time, UTC ms, inclusive.
            end: Latest own time, UTC ms, inclusive.

        Returns:
            One entry for each unit the probe was sent in; empty for an unknown probe.

        Raises:
            UnavailableError: The journal is damaged or cannot be read.
        """
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
        """Yield events together with the parts that their canonical bytes are made of."""
        with self._read():
            yield from self.timeline.stored_events(after, until)

    def effects(self, after: int = -FOREVER, until: int = FOREVER, place: str | None = None) -> Iterator[Effect]:
        """Read the effects with after < at <= until.

        Args:
            after: Exclusive lower bound of `at`, UTC ms.
            until: Inclusive upper bound of `at`, UTC ms.
            place: Only effects of this place; None: of all.

        Yields:
            The effects in order of their ids.

        Raises:
            UnavailableError: The journal is damaged or cannot be read.
        """
        with self._read():
            yield from self.timeline.effects(after, until, place)

    def events_of(self, *kinds: EventKind, after: int = -FOREVER) -> Iterator[Event]:
        """Yield the events of some kinds in order; `imported` events come without their readings.

        Do not ask for `readings`: most of those events have no row of their own.

        Args:
            kinds: The kinds.
            after: Exclusive lower bound of `at`, UTC ms.
        """
        with self._read():
            yield from self.timeline.events_of(kinds, after)

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
        """Return the next n effects after a cursor, or more: all of the last one's instant are included."""
        with self._read():
            return self.timeline.effects_after(cursor, n)

    def flags_after(self, cursor: int, n: int) -> list[KeptFlag]:
        """Return the next n flags (other than pass) that became final after a cursor, or more, to complete an instant."""
        with self._read():
            return self.timeline.flags_after(cursor, n)

    def flags(self, probe: str, start: int = -FOREVER, end: int = FOREVER) -> list[KeptFlag]:
        """Return a probe's flags with start <= time <= end.

        Args:
            probe: Id of the probe.
            start: Earliest own time of readings, UTC ms, inclusive.
            end: Latest own time of readings, UTC ms, inclusive.

        Returns:
            The flags other than pass, in order of time.

        Raises:
            UnavailableError: The journal is damaged or cannot be read.
        """
        with self._read():
            return self.timeline.flags(probe, start, end)

    def cursor(self, name: str) -> int | None:
        """Return how far a follower has come, or None if it never began."""
        with self._read():
            return self.timeline.cursor(name)

    def mark(self) -> Mark:
        """Return how far the journal has come: last event, watermark of `advance`, the open day."""
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
                f"SELECT DISTINCT first_at / {DAY_MS} FROM span WHERE time_max >= ? AND time_min <= ?",  # noqa: S608 - a figure
                (start, end),
            )
            return {day for (day,) in rows}

    def arrived_after(self, at: int, start: int, end: int) -> bool:
        """Return whether readings of start <= time <= end (UTC ms) may have arrived after an instant (UTC ms).

        Args:
            at: The instant.
            start: The first time of the readings.
            end: The last time of the readings.
        """
        with self._read():
            found = self.connection.execute(
                "SELECT 1 FROM span WHERE last_at > ? AND time_max >= ? AND time_min <= ? LIMIT 1", (at, start, end)
            )
            return found.fetchone() is not None

    def seals(self) -> dict[int, bytes]:
        """Return the states kept at the record's seals, by the seals' instants (UTC ms).

        Raises:
            UnavailableError: A state is damaged.
        """
        with self._read():
            rows = self.connection.execute("SELECT at FROM seal ORDER BY at").fetchall()
            return {at: meaning_seals.state_at(self.connection, at) for (at,) in rows}

    def checkpoint(self) -> Snapshot | None:
        """Return the engine's state before the oldest event still kept, or None if the beginning is kept."""
        with self._read():
            return checkpoint(self.connection)

    def quarantine(self, limit: int = 100) -> list[Quarantined]:
        """Return the newest entries of the quarantine, the newest first."""
        with self._read():
            return read_quarantine(self.connection, limit)

    def conflicts(self) -> list[Reading]:
        """Return the kept readings that were set aside because another value stood at their instant, the oldest first."""
        with self._read():
            return read_conflicts(self.connection)

    def set_aside(self) -> list[Tally]:
        """Return the counts of the quarantine by source and reason."""
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

    def notices(self, after: int = 0, limit: int = 1000) -> list[NoticeRow]:
        """Return outbox rows with an id above `after`, in order of id, in whatever state."""
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
    """The history as it stood at an instant: an event fed again must see what the engine saw when it first decided."""

    def __init__(self, store: Store, known_at: int) -> None:
        self._store = store
        self._known_at = known_at

    def readings(self, probes: Sequence[str], start: int, end: int) -> Iterator[Reading]:
        """Read readings with start <= time <= end that had arrived by the instant.

        Args:
            probes: Ids of probes; an unknown probe has no readings.
            start: Earliest own time, UTC ms, inclusive.
            end: Latest own time, UTC ms, inclusive.

        Yields:
            The readings as sent, ordered by (time, probe).

        Raises:
            UnavailableError: The journal is damaged or cannot be read.
        """
        with sound(self._store.path):
            yield from self._store.rows.readings(probes, start, end, self._known_at)

    def further(self, probes: Sequence[str], start: int, end: int) -> list[Reading]:
        """Return further values with start <= time <= end that had arrived by the instant.

        Args:
            probes: Ids of probes; an unknown probe has none.
            start: Earliest own time, UTC ms, inclusive.
            end: Latest own time, UTC ms, inclusive.

        Returns:
            The values as sent, ordered by (time, probe).
        """
        with sound(self._store.path):
            return self._store.further_values.read(probes, start, end, self._known_at)


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
