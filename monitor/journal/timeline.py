"""The events and effects of the journal in order, for its followers: outbox, mirror, page, exports.

Rules: a cursor is an `at`; rows of one transaction are never handed out in part, so a cursor never stands inside an event
or among the effects of one instant. A `readings` event with nothing set aside has no row of its own: its readings are all
there is of it (see `schema`).
"""

import json
import sqlite3
from collections.abc import Iterator, Sequence
from itertools import islice
from typing import Any, NamedTuple

from monitor.journal.effect_rows import EFFECT_COLUMNS, from_row
from monitor.journal.reading_rows import Arrival, RowReader
from monitor.model.effects import Effect
from monitor.model.events import FURTHER, Event, EventKind
from monitor.model.flags import Flag, FlagReason
from monitor.model.readings import Reading
from monitor.model.times import in_calendar

FOREVER = 1 << 62
"""Later than every instant."""


class StoredEvent(NamedTuple):
    """An event and its payload as stored: `rest` is the payload without the rows, which stand in `rows` (None: it has none)."""

    event: Event
    rest: str
    rows: list[Reading] | None


class KeptFlag(NamedTuple):
    """A flag other than pass, and the event or advance after which it was final."""

    time: int
    probe: str
    flag: Flag
    reason: FlagReason
    at: int


class Timeline:
    """Events, effects, flags and cursors of one connection."""

    def __init__(self, connection: sqlite3.Connection, rows: RowReader) -> None:
        self._connection = connection
        self._rows = rows

    def events(self, after: int = -FOREVER, until: int = FOREVER) -> Iterator[Event]:
        """Yield the events with after < at <= until, in order; rows in payloads are `Reading` values."""
        return (stored.event for stored in self.stored_events(after, until))

    def stored_events(self, after: int = -FOREVER, until: int = FOREVER) -> Iterator[StoredEvent]:
        """Yield events as `events` does, together with the parts that their canonical bytes are made of."""
        arrivals = self._rows.arrivals(after, until)
        arrival = next(arrivals, None)
        for at, kind, payload in self.explicit(after, until):
            while arrival is not None and arrival.at < at:
                yield _implied(arrival)
                arrival = next(arrivals, None)
            if arrival is not None and arrival.at == at:
                yield _with_rows(at, kind, payload, arrival.rows)
                arrival = next(arrivals, None)
            else:
                yield _without_readings(at, kind, payload)
        while arrival is not None:
            yield _implied(arrival)
            arrival = next(arrivals, None)

    def events_of(self, kinds: Sequence[EventKind], after: int = -FOREVER) -> Iterator[Event]:
        """Yield the events of some kinds later than `after` (UTC ms) in order; those of imports come without their readings."""
        marks = ",".join("?" * len(kinds))
        rows = self._connection.execute(
            f"SELECT at, kind, payload FROM event WHERE at > ? AND kind IN ({marks}) ORDER BY at",  # noqa: S608 - question marks
            [after, *(str(kind) for kind in kinds)],
        )
        return (Event(in_calendar(at), EventKind(kind), json.loads(payload)) for at, kind, payload in rows)

    def last_of(self, kind: EventKind) -> int | None:
        """Return the `at` of the newest event of a kind that has a row of its own (not `readings`), or None."""
        row = self._connection.execute(
            "SELECT at FROM event WHERE kind = ? ORDER BY at DESC LIMIT 1", (str(kind),)
        ).fetchone()
        return None if row is None else int(row[0])

    def events_after(self, cursor: int, n: int) -> list[Event]:
        """Return the next n events after a cursor."""
        return list(islice(self.events(cursor), n))

    def readings_after(self, cursor: int, n: int) -> list[Arrival]:
        """Return the next arrivals after a cursor until they hold at least n rows; the next cursor is the last's `at`.

        Rows of `imported` events are among them.
        """
        found: list[Arrival] = []
        held = 0
        for arrival in self._rows.arrivals(cursor, FOREVER):
            found.append(arrival)
            held += len(arrival.rows)
            if held >= n:
                break
        return found

    def effects_after(self, cursor: int, n: int) -> list[Effect]:
        """Return the next n effects after a cursor, or more: all of the last one's instant are included."""
        last = self._connection.execute(
            "SELECT max(at) FROM (SELECT at FROM effect WHERE at > ? ORDER BY at, ordinal LIMIT ?)", (cursor, max(n, 1))
        ).fetchone()[0]
        return [] if last is None else list(self.effects(cursor, last))

    def effects(self, after: int = -FOREVER, until: int = FOREVER, place: str | None = None) -> Iterator[Effect]:
        """Read the effects with after < at <= until.

        Args:
            after: Exclusive lower bound of `at`, UTC ms.
            until: Inclusive upper bound of `at`, UTC ms.
            place: Only effects of this place; None: of all.

        Returns:
            The effects in order of their ids.
        """
        where, bound = ("", (after, until)) if place is None else (" AND place = ?", (after, until, place))
        rows: Iterator[Any] = self._connection.execute(
            f"SELECT {EFFECT_COLUMNS} FROM effect WHERE at > ? AND at <= ?{where} ORDER BY at, ordinal",  # noqa: S608 - a constant; the condition stands just above
            bound,
        )
        return map(from_row, rows)

    def flags_after(self, cursor: int, n: int) -> list[KeptFlag]:
        """Return the next n flags that became final after a cursor, or more: all of the last one's instant are included."""
        last = self._connection.execute(
            "SELECT max(at) FROM (SELECT at FROM flag WHERE at > ? ORDER BY at LIMIT ?)", (cursor, max(n, 1))
        ).fetchone()[0]
        return [] if last is None else self._flags("f.at > ? AND f.at <= ? ORDER BY f.at, f.time", (cursor, last))

    def flags(self, probe: str, start: int, end: int) -> list[KeptFlag]:
        """Return a probe's flags with start <= time <= end.

        Args:
            probe: Id of the probe.
            start: Earliest own time of readings, UTC ms, inclusive.
            end: Latest own time of readings, UTC ms, inclusive.

        Returns:
            The flags other than pass, in order of time.
        """
        return self._flags("s.probe = ? AND f.time BETWEEN ? AND ? ORDER BY f.time", (probe, start, end))

    def _flags(self, where: str, bound: tuple[Any, ...]) -> list[KeptFlag]:
        rows = self._connection.execute(
            "SELECT f.time, s.probe, f.flag, f.reason, f.at FROM series s JOIN flag f ON f.series = s.id WHERE "  # noqa: S608 - conditions stand just above
            + where,
            bound,
        )
        return [KeptFlag(time, probe, Flag(flag), FlagReason(reason), at) for time, probe, flag, reason, at in rows]

    def cursor(self, name: str) -> int | None:
        """Return how far a follower has come, or None if it never began."""
        row = self._connection.execute("SELECT at FROM cursor WHERE name = ?", (name,)).fetchone()
        return None if row is None else int(row[0])

    def set_cursor(self, name: str, at: int) -> None:
        """Store how far a follower has come (on the writer's connection only)."""
        self._connection.execute("INSERT OR REPLACE INTO cursor VALUES (?, ?)", (name, at))

    def explicit(self, after: int, until: int) -> Iterator[tuple[int, str, str]]:
        """Yield (at, kind, payload without rows) of the events that have a row of their own, with after < at <= until."""
        place = after
        while True:
            rows = self._connection.execute(
                "SELECT at, kind, payload FROM event WHERE at > ? AND at <= ? ORDER BY at LIMIT 500", (place, until)
            ).fetchall()
            yield from rows
            if len(rows) < 500:
                return
            place = rows[-1][0]


def _implied(arrival: Arrival) -> StoredEvent:
    return _with_rows(arrival.at, EventKind.READINGS, '{"ahead":[]}', arrival.rows)


def _without_readings(at: int, kind: str, rest: str) -> StoredEvent:
    """Return an event that brought no reading; `readings`, and what brought further values, has rows all the same."""
    payload = json.loads(rest)
    if kind == EventKind.READINGS or (kind == EventKind.IMPORTED and FURTHER in payload):
        return _with_rows(at, kind, rest, [])
    return StoredEvent(Event(in_calendar(at), EventKind(kind), payload), rest, None)


def _with_rows(at: int, kind: str, rest: str, rows: list[Reading]) -> StoredEvent:
    return StoredEvent(Event(in_calendar(at), EventKind(kind), {**json.loads(rest), "rows": rows}), rest, rows)
