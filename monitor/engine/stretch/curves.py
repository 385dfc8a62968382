"""Several probes' newest values merged into one course of readings, and where that course first passes a limit."""

from collections.abc import Hashable, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from monitor.engine.stretch.commits import Ints
from monitor.engine.stretch.lane import Lane
from monitor.model.bounds import HIGHEST, LOWEST

END = 1 << 62


Kept = dict[Hashable, Any]
"""Values that a run keeps for the next time that it is run."""


class Curve:
    """A column, and the first index from which a comparison with a limit holds; what was searched is remembered."""

    def __init__(self, values: Ints) -> None:
        self.values = values
        self._found: dict[tuple[str, int], tuple[bool, Ints]] = {}

    def outside(self, start: int, least: int, most: int) -> int:
        """Return the first index whose value lies outside a span.

        Args:
            start: The first index to look at.
            least: The lowest value of the span.
            most: The highest value of the span.

        Returns:
            The index, or `END`.
        """
        if least == LOWEST:
            return END if most == HIGHEST else self._first(">", start, most)
        found = self._first("<", start, least)
        return found if most == HIGHEST else min(found, self._first(">", start, most))

    def _first(self, sign: str, start: int, limit: int) -> int:
        found = self._found.get((sign, limit))
        if found is None:
            passes: NDArray[np.bool_] = self.values > limit if sign == ">" else self.values < limit
            turns = np.flatnonzero(passes[1:] != passes[:-1]) + 1
            found = self._found[sign, limit] = (len(passes) > 0 and bool(passes[0]), turns)
        begins, turns = found
        place = int(turns.searchsorted(start, side="right"))
        if begins is (place % 2 == 0):
            return start if start < len(self.values) else END
        return int(turns[place]) if place < len(turns) else END


class Stream:
    """Accepted readings of some probes in the order in which they are taken.

    Attributes:
        lanes: Whose they are.
        key, time: Where in the run, and own times.
        lane: Whose each is.
        high, low: The highest and the lowest of the newest values after each, of those that are no silent ones.
        late: Which came late.
    """

    def __init__(self, lanes: Sequence[Lane], held: dict[str, int]) -> None:
        """Merge lanes; `held` are the newest values before the run of those that speak, by probe."""
        self.lanes = list(lanes)
        if len(self.lanes) == 1:
            one = self.lanes[0]
            self.key, self.time, self.late, milli = one.key, one.time, one.late, one.milli
            self.lane = np.zeros(len(self.key), np.int64)
        else:
            key = np.concatenate([one.key for one in self.lanes])
            owner = np.repeat(np.arange(len(self.lanes)), [len(one.key) for one in self.lanes])
            order = np.argsort(key, kind="stable")
            self.key, self.lane = key[order], owner[order]
            self.time = np.concatenate([one.time for one in self.lanes])[order]
            self.late = np.concatenate([one.late for one in self.lanes])[order]
            milli = np.concatenate([one.milli for one in self.lanes])[order]
        self.milli = milli
        heard = {one.name for one in self.lanes}
        others = [value for name, value in held.items() if name not in heard]
        if len(self.lanes) == 1 and not others:
            high = low = milli
        else:
            high = np.full(len(milli), max(others, default=LOWEST), dtype=np.int64)
            low = np.full(len(milli), min(others, default=HIGHEST), dtype=np.int64)
            index = np.arange(len(milli))
            for number, one in enumerate(self.lanes):
                last = np.maximum.accumulate(np.where(self.lane == number, index, -1))
                value = milli[last]
                first = int(last.searchsorted(0))
                if one.name in held:
                    value[:first] = held[one.name]
                    np.maximum(high, value, out=high)
                    np.minimum(low, value, out=low)
                else:
                    np.maximum(high[first:], value[first:], out=high[first:])
                    np.minimum(low[first:], value[first:], out=low[first:])
        self.high, self.low = Curve(high), Curve(low)

    def of(self, lanes: Sequence[Lane]) -> "Stream":
        """Return this stream for other lanes with the same columns."""
        other = Stream.__new__(Stream)
        other.__dict__.update(self.__dict__)
        other.lanes = list(lanes)
        return other

    def __len__(self) -> int:
        return len(self.key)

    def before(self, key: int) -> int:
        """Return how many readings are taken before a key."""
        return int(self.key.searchsorted(key))

    def newest(self, count: int) -> list[tuple[Lane, int]]:
        """Return, by lane, the index in it of its last reading among the first `count`; those without one are left out."""
        if not count:
            return []
        key = int(self.key[count - 1])
        found = [(one, int(one.key.searchsorted(key, side="right")) - 1) for one in self.lanes]
        return [pair for pair in found if pair[1] >= 0]

    def first_at(self, start: int, time: int) -> int:
        """Return the first index >= start whose own time is at or after an instant (UTC ms), or END."""
        size = 64
        while start < len(self.time):
            there = np.flatnonzero(self.time[start : start + size] >= time)
            if len(there):
                return start + int(there[0])
            start, size = start + size, size * 2
        return END

    def first_prompt(self, start: int) -> int:
        """Return the first index >= start of a reading that did not come late, or END."""
        there = np.flatnonzero(~self.late[start:])
        return start + int(there[0]) if len(there) else END


def stream_of(lanes: Sequence[Lane], held: dict[str, int], kept: Kept) -> Stream:
    """Return the stream of some lanes; it is made only once for the same lanes and values.

    Args:
        lanes: The lanes.
        held: By probe, the newest values before the run.
        kept: Values kept from earlier runs; changed in place.
    """
    key = ("stream", tuple((one.name, len(one.key)) for one in lanes), tuple(sorted(held.items())))
    found = kept.get(key)
    if found is None:
        found = kept[key] = Stream(lanes, held)
    # This run has lanes of its own, with the same columns.
    return found.of(lanes)
