"""Places in a run that need no search: ambient, and places where nothing takes the readings."""

import numpy as np

from monitor.engine.context.air_highs import note_highs
from monitor.engine.context.core import Core
from monitor.engine.stretch.commits import Ints
from monitor.engine.stretch.curves import END, Stream
from monitor.engine.stretch.lane import Lane
from monitor.model.times import HOUR_MS
from monitor.piles import note_hours


class Course:
    """A place in a run whose readings change nothing but their probes' watches."""

    def __init__(self, lanes: list[Lane]) -> None:
        self.lanes = lanes

    def next_key(self) -> int:
        """Return the key of the first reading that may change something, or END."""
        return END

    def skip(self, key: int) -> None:
        """Take in the quiet readings before a key."""

    def jump(self, key: int) -> None:
        """Note that the readings before a key were fed one by one."""


class AmbientCourse(Course):
    """The air of the yard: every batch's walk gathers it by the hour."""

    def __init__(self, core: Core, lanes: list[Lane]) -> None:
        super().__init__(lanes)
        self._core = core
        warm = [lane for lane in lanes if lane.route.goal.value == "ambient" and len(lane.key)]
        self._stream = Stream(warm, {}) if warm else None
        self._taken = 0
        if self._stream is not None:
            self._sums = np.concatenate(([0], np.cumsum(self._stream.milli)))
            hours = self._stream.time // HOUR_MS
            self._edges = np.flatnonzero(hours[1:] != hours[:-1]) + 1

    def skip(self, key: int) -> None:
        """See `Course.skip`."""
        stream = self._stream
        if stream is None:
            return
        start, end = self._taken, stream.before(key)
        if end <= start:
            return
        self._taken = end
        self._core.state.air = int(stream.milli[end - 1])
        inside = self._edges[self._edges.searchsorted(start, side="right") : self._edges.searchsorted(end)]
        edges = [start, *inside.tolist(), end]
        hours = (stream.time[edges[:-1]] // HOUR_MS).tolist()
        highs = np.maximum.reduceat(stream.milli[start:end], np.array(edges[:-1]) - start).tolist()
        note_highs(self._core.state.air_highs, zip(hours, highs, strict=True))
        if not self._core.walks:
            return
        sums = self._sums[edges].tolist()
        parts = [(hour, sums[n + 1] - sums[n], edges[n + 1] - edges[n]) for n, hour in enumerate(hours)]
        for walk in self._core.walks.values():
            note_hours(walk.state.air, parts)

    def ahead(self) -> tuple[Ints, Ints, Ints]:
        """Return the air to come: hours since 1970, and the sums and counts of their readings."""
        if self._stream is None or self._taken >= len(self._stream):
            return (np.zeros(0, np.int64),) * 3
        start = self._taken
        edges = np.concatenate(
            ([start], self._edges[self._edges.searchsorted(start, side="right") :], [len(self._stream)])
        )
        return self._stream.time[edges[:-1]] // HOUR_MS, np.diff(self._sums[edges]), np.diff(edges)

    def jump(self, key: int) -> None:
        """See `Course.jump`."""
        if self._stream is not None:
            self._taken = self._stream.before(key)


class FedCourse(Course):
    """A place whose every reading is fed one by one."""

    def next_key(self) -> int:
        """See `Course.next_key`."""
        return min((lane.next_key() for lane in self.lanes), default=END)
