"""Sets of instants as closed intervals with whole-millisecond ends, and exact arithmetic on them.

Rules this module keeps:

1. A set is a tuple of (start, end) pairs with start <= end, in rising order, no two of them touching. An interval
   stands for every instant of real time between its ends, both included; its duration is end - start.
2. Intervals that share an end are one. Intervals a millisecond apart are two: their ends are exact crossings rounded
   inward, so what lies between them was not inside.
3. A single instant (start == end) is a member like any other: it lasts 0 ms, but it is an instant that was known.
4. What is left when something is taken away is closed again by adding its ends, which changes no duration. Slivers of
   no length that this would make are dropped; a single instant that was there from the start is kept.
5. Long sets are `Spans` (arrays), worked on by `interval_arrays`; short ones are tuples, and no numpy is loaded for them.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Sequence
from importlib import import_module
from itertools import accumulate
from typing import Any

from monitor.proof.intervals.interval_columns import Spans

Intervals = Sequence[tuple[int, int]]
"""A set of instants, UTC ms, as the module docstring says: a tuple of pairs, or `Spans` if it is long."""

LONG_AGO_MS = -(2**60)
"""An instant before every other."""

FAR_AHEAD_MS = 2**60
"""An instant after every other."""

EMPTY: Intervals = ()
"""No instant at all."""


def _long(*sets: Any) -> Any:
    """Return the module for arrays if one of the sets is held as such, else None."""
    if any(isinstance(one, Spans) for one in sets):
        return import_module("monitor.proof.intervals.interval_arrays")
    return None


def _settled(arrays: Any, one: Spans) -> Intervals:
    result: Intervals = arrays.settled(one)
    return result


def normal(pairs: Iterable[tuple[int, int]]) -> Intervals:
    """Return any pairs as a set: ordered, with those that overlap or touch joined.

    Raises:
        ValueError: A pair ends before it starts.
    """
    if isinstance(pairs, Spans):
        return pairs
    joined: list[tuple[int, int]] = []
    for start, end in sorted(pairs):
        if end < start:
            raise ValueError(f"an interval cannot start at {start} and end at {end}")
        if joined and start <= joined[-1][1]:
            if end > joined[-1][1]:
                joined[-1] = (joined[-1][0], end)
        else:
            joined.append((start, end))
    return tuple(joined)


def union(*sets: Intervals) -> Intervals:
    """Return the instants that are in any of the sets."""
    if arrays := _long(*sets):
        return _settled(arrays, arrays.union(*map(arrays.as_spans, sets)))
    return normal(pair for one in sets for pair in one)


def intersection(one: Intervals, other: Intervals) -> Intervals:
    """Return the instants that are in both sets."""
    if arrays := _long(one, other):
        return _settled(arrays, arrays.intersection(arrays.as_spans(one), arrays.as_spans(other)))
    common: list[tuple[int, int]] = []
    i = j = 0
    while i < len(one) and j < len(other):
        start, end = max(one[i][0], other[j][0]), min(one[i][1], other[j][1])
        if start <= end:
            common.append((start, end))
        if one[i][1] < other[j][1]:
            i += 1
        else:
            j += 1
    # Two members of one set may meet a single instant of the other only at different ends, so nothing touches here.
    return tuple(common)


def difference(one: Intervals, other: Intervals) -> Intervals:
    """Return the instants of `one` that are not in `other`, closed (rule 4 of this module)."""
    if arrays := _long(one, other):
        return _settled(arrays, arrays.difference(arrays.as_spans(one), arrays.as_spans(other)))
    left: list[tuple[int, int]] = []
    j = 0
    for start, end in one:
        while j < len(other) and other[j][1] < start:
            j += 1
        if start == end:
            if j == len(other) or other[j][0] > start:
                left.append((start, end))
            continue
        at, k = start, j
        while k < len(other) and other[k][0] < end:
            if other[k][0] > at:
                left.append((at, other[k][0]))
            at = max(at, other[k][1])
            k += 1
        if at < end:
            left.append((at, end))
    return normal(left)


def complement(one: Intervals, start: int, end: int) -> Intervals:
    """Return the instants between `start` and `end` that are not in the set, closed (rule 4)."""
    return difference(((start, end),), one)


def cut(one: Intervals, start: int, end: int) -> Intervals:
    """Return the instants of the set from `start` to `end`, both included."""
    return intersection(one, ((start, end),)) if start <= end else EMPTY


def total(one: Intervals) -> int:
    """Return how long the set lasts in all, ms."""
    if arrays := _long(one):
        return int(arrays.total(one))
    return sum(end - start for start, end in one)


def longest(one: Intervals) -> tuple[int, int] | None:
    """Return the longest interval (the earliest of equals), or None for an empty set."""
    if arrays := _long(one):
        longest_pair: tuple[int, int] | None = arrays.longest(one)
        return longest_pair
    return max(one, key=lambda pair: pair[1] - pair[0], default=None)


def lasting(one: Intervals, least_ms: int) -> Intervals:
    """Return the members that last at least so long."""
    if arrays := _long(one):
        return _settled(arrays, arrays.lasting(one, least_ms))
    return tuple(pair for pair in one if pair[1] - pair[0] >= least_ms)


def instants(one: Intervals) -> tuple[int, ...]:
    """Return the members of no length."""
    if arrays := _long(one):
        single: tuple[int, ...] = arrays.instants(one)
        return single
    return tuple(start for start, end in one if start == end)


def contains(one: Intervals, at: int) -> bool:
    """Tell whether an instant is in the set."""
    place = bisect_right(one, (at, FAR_AHEAD_MS + 1)) - 1
    return place >= 0 and one[place][1] >= at


def next_start(one: Intervals, at: int) -> int | None:
    """Return the first start of an interval at or after `at`, or None."""
    place = bisect_left(one, (at, LONG_AGO_MS - 1))
    return one[place][0] if place < len(one) else None


def next_instant(one: Intervals, at: int) -> int | None:
    """Return the first instant of the set at or after `at`, or None."""
    return at if contains(one, at) else next_start(one, at)


class Measure:
    """How long a set lasts up to any instant, and when it has lasted so long; each asked in logarithmic time."""

    def __init__(self, one: Intervals) -> None:
        """Sum the set up once."""
        self._starts: Sequence[int]
        self._ends: Sequence[int]
        self._before: Sequence[int]
        if arrays := _long(one):
            # Columns are asked by place and by bisection only, as lists are.
            self._starts, self._ends, self._before = one.starts, one.ends, arrays.lasted(one)  # type: ignore[attr-defined]
        else:
            self._starts = [start for start, _ in one]
            self._ends = [end for _, end in one]
            self._before = [0, *accumulate(end - start for start, end in one)]

    def until(self, at: int) -> int:
        """Return how long the set lasts up to `at`, ms."""
        place = bisect_right(self._starts, at) - 1
        if place < 0:
            return 0
        return int(self._before[place] + min(at, self._ends[place]) - self._starts[place])

    def between(self, start: int, end: int) -> int:
        """Return how long the set lasts from `start` to `end`, ms."""
        return self.until(end) - self.until(start)

    def reaches(self, start: int, duration: int) -> int | None:
        """Return the first instant by which the set lasted `duration` (> 0) since `start`; None if it never does."""
        wanted = self.until(start) + duration
        place = bisect_left(self._before, wanted) - 1
        if place >= len(self._starts):
            return None
        return int(self._starts[place] + wanted - self._before[place])
