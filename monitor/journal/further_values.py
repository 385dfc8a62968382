"""Further values of an instant: readings whose probe already has another value there. The first stays; these stand beside it.

Each is kept once, with the event that brought it (`further` in its payload), so that whoever judges a batch can hold all
values of an instant against it. The quarantine counts them, too.
"""

import json
import sqlite3
from collections.abc import Iterable, Iterator, Sequence

from monitor.journal.reading_writer import BY_TIME_AND_PROBE
from monitor.journal.series_book import SeriesBook
from monitor.model.events import FURTHER, EventKind
from monitor.model.readings import Reading
from monitor.model.times import DAY_MS


class FurtherShelf:
    """The `further` table of one connection."""

    def __init__(self, connection: sqlite3.Connection, book: SeriesBook) -> None:
        self._connection = connection
        self._book = book

    def put(self, rows: Iterable[Reading], at: int) -> list[Reading]:
        """Keep values as of the event `at` (UTC ms; inside the transaction); return those that were not there yet, in order."""
        new = []
        for row in sorted(rows, key=BY_TIME_AND_PROBE):
            series = self._book.add(row.probe, row.unit)
            kept = self._connection.execute(
                "INSERT OR IGNORE INTO further VALUES (?, ?, ?, ?)", (series, row.time, row.micro, at)
            )
            if kept.rowcount:
                new.append(row)
        return new

    def read(self, probes: Sequence[str], start: int, end: int, known_at: int | None = None) -> list[Reading]:
        """Return further values with start <= time <= end.

        Args:
            probes: Ids of probes; an unknown probe has none.
            start: Earliest own time, UTC ms, inclusive.
            end: Latest own time, UTC ms, inclusive.
            known_at: Only those that had arrived by this instant, UTC ms; None: all.

        Returns:
            The values as sent, ordered by (time, probe).
        """
        return [row for row, at in self.arrived(probes, start, end) if known_at is None or at <= known_at]

    def arrived(self, probes: Sequence[str], start: int, end: int) -> list[tuple[Reading, int]]:
        """Return further values with start <= time <= end, and the `at` of the event that brought each.

        Args:
            probes: Ids of probes; an unknown probe has none.
            start: Earliest own time, UTC ms, inclusive.
            end: Latest own time, UTC ms, inclusive.

        Returns:
            The values as sent with their arrival (UTC ms), ordered by (time, probe, value, unit).
        """
        found = [
            (Reading(time, probe, micro, self._book.meaning[series][1]), at)
            for probe in dict.fromkeys(probes)
            for series in self._book.of_probe.get(probe, ())
            for time, micro, at in self._connection.execute(
                "SELECT time, micro, at FROM further WHERE series = ? AND time BETWEEN ? AND ? ORDER BY time, micro",
                (series, start, end),
            )
        ]
        return sorted(found)


def further_times(connection: sqlite3.Connection, first_at: int, last_at: int) -> list[int]:
    """Return the own times (UTC ms) of the values that some events brought.

    Args:
        connection: The journal's.
        first_at: `at` of the first event, UTC ms.
        last_at: `at` of the last event, UTC ms, inclusive.
    """
    rows = connection.execute("SELECT time FROM further WHERE at BETWEEN ? AND ?", (first_at, last_at))
    return [time for (time,) in rows]


def drop_further(connection: sqlite3.Connection, days: Iterable[int]) -> None:
    """Drop what arrived on some UTC days (since 1970-01-01)."""
    for day in days:
        connection.execute("DELETE FROM further WHERE at BETWEEN ? AND ?", (day * DAY_MS, (day + 1) * DAY_MS - 1))


def differs_from_events(connection: sqlite3.Connection, book: SeriesBook) -> Iterator[str]:
    """Yield a sentence for each instant at which the table does not hold what the events of that instant say.

    Both go together with a day that is dropped.
    """
    kept: dict[int, list[Reading]] = {}
    for series, time, micro, at in connection.execute("SELECT series, time, micro, at FROM further"):
        probe, unit = book.meaning.get(series, (f"series {series}", ""))
        kept.setdefault(at, []).append(Reading(time, probe, micro, unit))
    told: dict[int, list[Reading]] = {}
    events = connection.execute(
        f"SELECT at, payload FROM event WHERE kind IN (?, ?) AND payload LIKE '%\"{FURTHER}\"%'",  # noqa: S608 - a constant
        (str(EventKind.READINGS), str(EventKind.IMPORTED)),
    )
    for at, payload in events:
        rows = json.loads(payload).get(FURTHER)
        if rows:
            told[at] = [Reading(*row) for row in rows]
    for at in sorted(kept.keys() | told.keys()):
        if sorted(kept.get(at, ())) != sorted(told.get(at, ())):
            yield f"the further values that came at {at}: they are not those that their event names"
