"""Reads readings back, fresh rows and blocks merged, so that no reader sees where a row lies.

Three ways: as `Reading` values ordered by (time, probe) (the engine's history), as numpy columns of a whole series (the
certificate, replay, tuning), and by arrival (the rows of events in a range of `at`).
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator, Sequence
from itertools import groupby, repeat
from operator import itemgetter
from typing import TYPE_CHECKING, NamedTuple

from monitor.journal.packed import BlockShelf
from monitor.journal.reading_writer import BY_TIME_AND_PROBE
from monitor.journal.series_book import SeriesBook
from monitor.model.readings import Reading
from monitor.model.times import HOUR_MS, in_calendar

if TYPE_CHECKING:
    from numpy import int64
    from numpy.typing import NDArray

_WINDOW_MS = 6 * HOUR_MS


class SeriesColumns(NamedTuple):
    """All readings of one probe in one unit, in order of time; `at` is the event that brought each."""

    probe: str
    unit: str
    time: NDArray[int64]
    micro: NDArray[int64]
    at: NDArray[int64]


class Arrival(NamedTuple):
    """The rows of one event, ordered by (time, probe)."""

    at: int
    rows: list[Reading]


def _check(rows: list[Reading]) -> None:
    """Refuse rows, ordered by time, that no writer put there.

    Raises:
        ValueError: A value is not a whole number, or a time cannot be shown.
    """
    if rows:
        in_calendar(rows[0].time)
        in_calendar(rows[-1].time)
        if any(type(row.micro) is not int for row in rows):
            raise ValueError("a reading has no whole number for its value")


class RowReader:
    """The readings of one connection."""

    def __init__(self, connection: sqlite3.Connection, book: SeriesBook, blocks: BlockShelf) -> None:
        self._connection = connection
        self._book = book
        self._blocks = blocks

    def readings(self, probes: Sequence[str], start: int, end: int, known_at: int | None = None) -> Iterator[Reading]:
        """Read readings with start <= time <= end.

        Args:
            probes: Ids of probes; an unknown probe has no readings.
            start: Earliest own time, UTC ms, inclusive.
            end: Latest own time, UTC ms, inclusive.
            known_at: Only readings that had arrived by this instant, UTC ms (the record as it stood then); None: all.

        Yields:
            The readings as sent, ordered by (time, probe).

        Raises:
            ValueError: A stored row is none that a writer puts there.
            UnavailableError: A block is damaged.
        """
        series = [number for probe in dict.fromkeys(probes) for number in self._book.of_probe.get(probe, ())]
        while start <= end:
            following = self._next_time(series, start)
            if following is None:
                return
            stop = min(end, following + _WINDOW_MS)
            rows: list[Reading] = []
            for number in series:
                rows.extend(self._of_series(number, following, stop, known_at))
            rows.sort(key=BY_TIME_AND_PROBE)
            _check(rows)
            yield from rows
            start = stop + 1

    def columns(self, probe: str, start: int, end: int) -> list[SeriesColumns]:
        """Read a probe's readings with start <= time <= end as arrays.

        Args:
            probe: Id of the probe.
            start: Earliest own time, UTC ms, inclusive.
            end: Latest own time, UTC ms, inclusive.

        Returns:
            One entry for each unit the probe was sent in, the oldest unit first; empty for an unknown probe.

        Raises:
            UnavailableError: A block is damaged.
        """
        import numpy as np  # noqa: PLC0415 -- only what works on whole series pays for it

        loaded = []
        for number in self._book.of_probe.get(probe, ()):
            fresh = np.fromiter(
                self._connection.execute(
                    "SELECT time, micro, lag FROM reading WHERE series = ? AND time BETWEEN ? AND ?",
                    (number, start, end),
                ),
                dtype=[("time", np.int64), ("micro", np.int64), ("lag", np.int64)],
            )
            parts = [*self._blocks.slices(number, start, end), tuple(fresh[name] for name in ("time", "micro", "lag"))]
            time, micro, lag = (np.concatenate([part[i] for part in parts]) for i in range(3))
            packed = len(time) - len(fresh)
            if packed and len(fresh) and time[packed - 1] > time[packed]:
                order = np.argsort(time, kind="stable")
                time, micro, lag = time[order], micro[order], lag[order]
            _, unit = self._book.meaning[number]
            loaded.append(SeriesColumns(probe, unit, time, micro, time + lag))
        return loaded

    def arrivals(self, after: int, until: int) -> Iterator[Arrival]:
        """Yield the rows of each event with after < at <= until, in order of `at`."""
        place = after
        while True:
            span = self._connection.execute(
                "SELECT last_at, time_min, time_max FROM span WHERE last_at > ? AND first_at <= ? "
                "ORDER BY first_at LIMIT 1",
                (place, until),
            ).fetchone()
            if span is None:
                return
            last_at, time_min, time_max = span
            stop = min(last_at, until)
            yield from self.sweep((time_min, time_max), (place + 1, stop))
            place = last_at

    def sweep(self, times: tuple[int, int], ats: tuple[int, int]) -> Iterator[Arrival]:
        """Yield, event by event, the rows whose own time and whose event's `at` lie in two ranges (UTC ms, ends included)."""
        found: list[tuple[int, int, str, int, str]] = []
        for number, (probe, unit) in self._book.meaning.items():
            found += [
                (at, time, probe, micro, unit)
                for at, time, micro in self._connection.execute(
                    "SELECT time + lag, time, micro FROM reading WHERE series = ? AND time BETWEEN ? AND ? "
                    "AND time + lag BETWEEN ? AND ?",
                    (number, *times, *ats),
                )
            ]
            for part in self._blocks.arrived(number, times, ats):
                at = (part.time + part.lag).tolist()
                found += zip(at, part.time.tolist(), repeat(probe), part.micro.tolist(), repeat(unit), strict=False)
        if any(type(row[3]) is not int for row in found):
            raise ValueError("a reading has no whole number for its value")
        found.sort()  # (time, probe) is unique, so the later fields never decide the order
        for at, group in groupby(found, key=itemgetter(0)):
            yield Arrival(at, [Reading(time, probe, micro, unit) for _, time, probe, micro, unit in group])

    def latest(self, probe: str) -> Reading | None:
        """Return a probe's newest reading by its own time, or None."""
        newest: Reading | None = None
        for number in self._book.of_probe.get(probe, ()):
            row = self._connection.execute(
                "SELECT time, micro FROM reading WHERE series = ? ORDER BY time DESC LIMIT 1", (number,)
            ).fetchone()
            packed = self._blocks.last_time(number)
            if row is None or row[0] < packed:
                found = self._blocks.find(number, packed)
                row = (packed, found[0]) if found else row
            if row is not None and (newest is None or row[0] > newest.time):
                newest = Reading(row[0], probe, row[1], self._book.meaning[number][1])
        return newest

    def _of_series(self, number: int, start: int, end: int, known_at: int | None) -> Iterable[Reading]:
        probe, unit = self._book.meaning[number]
        known = 1 << 62 if known_at is None else known_at
        rows = [
            Reading(time, probe, micro, unit)
            for time, micro in self._connection.execute(
                "SELECT time, micro FROM reading WHERE series = ? AND time BETWEEN ? AND ? AND time + lag <= ?",
                (number, start, end, known),
            )
        ]
        for part in self._blocks.slices(number, start, end):
            time, micro = part.time, part.micro
            if known_at is not None:
                chosen = part.time + part.lag <= known_at
                time, micro = time[chosen], micro[chosen]
            rows += map(Reading, time.tolist(), repeat(probe), micro.tolist(), repeat(unit))
        return rows

    def _next_time(self, series: list[int], start: int) -> int | None:
        """Return an instant at or after `start` that no row of these series precedes, or None if no row follows."""
        following: int | None = None
        for number in series:
            for row in (
                self._connection.execute(
                    "SELECT min(time) FROM reading WHERE series = ? AND time >= ?", (number, start)
                ).fetchone(),
                self._connection.execute(
                    "SELECT min(first) FROM block WHERE series = ? AND first >= ?", (number, start)
                ).fetchone(),
            ):
                if row[0] is not None and (following is None or row[0] < following):
                    following = row[0]
            before = self._connection.execute(
                "SELECT last FROM block WHERE series = ? AND first <= ? ORDER BY first DESC LIMIT 1", (number, start)
            ).fetchone()
            if before is not None and before[0] >= start:
                return start
        return following
