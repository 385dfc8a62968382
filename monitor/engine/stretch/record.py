"""The record of a list of pieces, as far as it has been fed, for the engine to work batches out again.

Nothing is copied while commits are fed: each piece of columns is sorted by probe and time once, when it is first asked
for, and a row counts only if its commit has been reached (`reach`).
"""

from bisect import bisect_left, insort
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any

import numpy as np

from monitor.engine.stretch.commits import Commits, Ints
from monitor.model.events import FURTHER
from monitor.model.readings import Reading

_STRETCH_MS = 7 * 24 * 3_600_000


class _Sorted:
    """One piece: its rows by (probe, time), sorted when first asked for."""

    __slots__ = ("_order", "_starts", "commits", "rows")

    def __init__(self, commits: Commits) -> None:
        self.commits = commits
        self.rows = 0
        self._order: Ints | None = None
        self._starts: Ints | None = None

    def of(self, probe: str, start: int, end: int) -> list[Reading]:
        commits = self.commits
        if not self.rows or probe not in commits.names:
            return []
        if self._order is None:
            self._order = np.lexsort((commits.time, commits.probe))
            self._starts = np.searchsorted(commits.probe[self._order], np.arange(len(commits.names) + 1))
        assert self._starts is not None
        code = commits.names.index(probe)
        mine = self._order[self._starts[code] : self._starts[code + 1]]
        times = commits.time[mine]
        mine = mine[times.searchsorted(start) : times.searchsorted(end, side="right")]
        mine = mine[mine < self.rows]
        units = commits.units
        return [
            Reading(time, probe, micro, units[unit])
            for time, micro, unit in zip(
                commits.time[mine].tolist(), commits.micro[mine].tolist(), commits.unit[mine].tolist(), strict=True
            )
        ]


class ColumnHistory:
    """Readings of pieces in the order in which they were fed; implements `engine.History`. Not for use in parallel."""

    def __init__(self) -> None:
        self._pieces: list[_Sorted] = []
        self._others: dict[str, list[Reading]] = {}
        self._further: dict[str, list[Reading]] = {}

    def open(self, commits: Commits) -> None:
        """Note that these commits come next; none of their rows counts yet."""
        self._pieces.append(_Sorted(commits))

    def reach(self, rows: int) -> None:
        """Note how many rows of the newest commits have been fed, or are being fed."""
        self._pieces[-1].rows = rows

    def extend(self, readings: Iterable[Reading]) -> None:
        """Add readings that came by themselves, such as imported ones."""
        for reading in readings:
            insort(self._others.setdefault(reading.probe, []), reading)

    def take(self, payload: Mapping[str, Any]) -> None:
        """Add the readings of an event that came by itself, and its values whose instant has another one already."""
        self.extend(Reading(*row) for row in payload.get("rows", ()))
        for row in payload.get(FURTHER, ()):
            insort(self._further.setdefault(row[1], []), Reading(*row))

    def readings(self, probes: Sequence[str], start: int, end: int) -> Iterator[Reading]:
        """Yield the readings of some series in a span.

        Args:
            probes: The series.
            start: The first instant, UTC ms.
            end: The last instant, UTC ms.

        Yields:
            The readings, ordered by (time, probe), each of them once.
        """
        while start <= end:
            stop = min(end, start + _STRETCH_MS) if self._any_before(end) else end
            yield from self._stretch(probes, start, stop)
            start = stop + 1

    def further(self, probes: Sequence[str], start: int, end: int) -> list[Reading]:
        """Return the further values of some series in a span.

        Args:
            probes: The series.
            start: The first instant, UTC ms.
            end: The last instant, UTC ms.

        Returns:
            The values, ordered by (time, probe).
        """
        found: list[Reading] = []
        for probe in dict.fromkeys(probes):
            own = self._further.get(probe, [])
            found += own[bisect_left(own, (start,)) : bisect_left(own, (end + 1,))]
        return sorted(found)

    def _any_before(self, end: int) -> bool:
        return bool(self._pieces) and end < 1 << 50

    def _stretch(self, probes: Sequence[str], start: int, stop: int) -> list[Reading]:
        found: list[Reading] = []
        for probe in dict.fromkeys(probes):
            for piece in self._pieces:
                found += piece.of(probe, start, stop)
            found += [one for one in self._others.get(probe, ()) if start <= one.time <= stop]
        found.sort()
        return found
