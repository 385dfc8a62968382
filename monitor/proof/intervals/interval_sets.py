"""Sets of instants as closed intervals with whole-millisecond ends, and exact arithmetic on them.

Rules this module keeps:

1. A set is (start, end) pairs with start <= end, in rising order, no two of them touching. An interval stands for
   every instant of real time between its ends, both included; its duration is end - start.
2. Intervals that share an end are one. Intervals a millisecond apart are two: their ends are exact crossings rounded
   inward, so what lies between them was not inside.
3. A single instant (start == end) is a member like any other: it lasts 0 ms, but it is an instant that was known.
4. What is left when something is taken away is closed again by adding its ends, which changes no duration. Slivers of
   no length that this would make are dropped; a single instant that was there from the start is kept.
5. Every function takes any sequence of such pairs and works on columns; a set that it returns is a `Spans`.

The trick behind most of it: sort all starts and all ends of several sets, each column by itself. Where the i-th start
(counted from 0) comes after the (i-1)-th end, everything begun before is over, so an interval of the union begins.
Where it comes at or before the (i-k+1)-th end, k sets overlap from that start to that end, because a set never overlaps
itself.
"""

from collections.abc import Iterable, Sequence

import numpy as np
from numpy.typing import NDArray

from monitor.proof.intervals.interval_columns import Column, Spans, in_order

Intervals = Sequence[tuple[int, int]]
"""A set of instants, UTC ms, as the module docstring says: a `Spans`, or a tuple of pairs where a person or a file says it."""

LONG_AGO_MS = -(2**60)
"""An instant before every other."""

FAR_AHEAD_MS = 2**60
"""An instant after every other."""

_FEW = 8
"""So many intervals are taken one by one against a long set."""


def _spans(starts: Sequence[int], ends: Sequence[int]) -> Spans:
    return Spans(np.array(starts, dtype=np.int64), np.array(ends, dtype=np.int64))


EMPTY = _spans((), ())
"""No instant at all."""


def as_spans(one: Intervals) -> Spans:
    """Return a set as columns."""
    if isinstance(one, Spans):
        return one
    if not one:
        return EMPTY
    pairs = np.array(one, dtype=np.int64)
    return Spans(pairs[:, 0], pairs[:, 1])


def normal(pairs: Iterable[tuple[int, int]]) -> Spans:
    """Return any pairs as a set: ordered, with those that overlap or touch joined.

    Raises:
        ValueError: A pair ends before it starts.
    """
    if isinstance(pairs, Spans):
        return pairs
    some = as_spans(tuple(pairs))
    if bool((some.ends < some.starts).any()):
        start, end = some[int(np.argmax(some.ends < some.starts))]
        raise ValueError(f"an interval cannot start at {start} and end at {end}")
    return normal_columns(some.starts, some.ends)


def normal_columns(starts: Column, ends: Column) -> Spans:
    """Return any pairs (start <= end), given as columns, as a set."""
    if starts.size == 0:
        return EMPTY
    begin, finish = np.sort(starts, kind="stable"), np.sort(ends, kind="stable")
    fresh = begin[1:] > finish[:-1]
    if bool(fresh.all()):
        return Spans(begin, finish)
    ahead = np.concatenate(([True], fresh))
    behind = np.concatenate((fresh, [True]))
    return Spans(begin[ahead], finish[behind])


def union(*sets: Intervals) -> Spans:
    """Return the instants that are in any of the sets."""
    some = [as_spans(one) for one in sets if len(one)]
    if len(some) < 2:
        return some[0] if some else EMPTY
    return normal_columns(np.concatenate([one.starts for one in some]), np.concatenate([one.ends for one in some]))


def intersection(*sets: Intervals) -> Spans:
    """Return the instants that are in all of the sets (one at least)."""
    if any(len(one) == 0 for one in sets):
        return EMPTY
    wide = [as_spans(one) for one in sets if len(one) > 1]
    if len(wide) == len(sets):
        return _overlap(wide)
    # A set of one interval needs no sorting: it cuts the others.
    alone = [one[0] for one in sets if len(one) == 1]
    first, last = max(start for start, _ in alone), min(end for _, end in alone)
    if first > last:
        return EMPTY
    return cut(_overlap(wide), first, last) if wide else _spans((first,), (last,))


def _overlap(sets: Sequence[Spans]) -> Spans:
    if len(sets) == 1:
        return sets[0]
    if len(sets) == 2:
        few, many = sorted(sets, key=len)
        if len(few) <= _FEW < len(many):
            parts = [cut(many, start, end) for start, end in few]
            return Spans(np.concatenate([part.starts for part in parts]), np.concatenate([part.ends for part in parts]))
    begin = in_order(*(one.starts for one in sets))
    finish = in_order(*(one.ends for one in sets))
    others = len(sets) - 1
    begin, finish = begin[others:], finish[: finish.size - others]
    shared = begin <= finish
    return Spans(begin[shared], finish[shared])


def cut(one: Intervals, start: int, end: int) -> Spans:
    """Return the instants of the set from `start` to `end`, both included.

    Args:
        one: The set.
        start: UTC ms.
        end: UTC ms; before `start`, nothing is left.

    Returns:
        What of the set lies between both instants.
    """
    one = as_spans(one)
    if start > end:
        return EMPTY
    first, last = int(one.ends.searchsorted(start, "left")), int(one.starts.searchsorted(end, "right"))
    if first >= last:
        return EMPTY
    starts, ends = one.starts[first:last], one.ends[first:last]
    if starts[0] < start:
        starts = starts.copy()
        starts[0] = start
    if ends[-1] > end:
        ends = ends.copy()
        ends[-1] = end
    return Spans(starts, ends)


def difference(one: Intervals, other: Intervals) -> Spans:
    """Return the instants of `one` that are not in `other`, closed (rule 4 of this module)."""
    one, other = as_spans(one), as_spans(other)
    if not len(one) or not len(other):
        return one
    lasts = one.ends > one.starts
    kept = _without_lasting(one if bool(lasts.all()) else Spans(one.starts[lasts], one.ends[lasts]), other)
    alone = one.starts[~lasts]
    alone = alone[~members(other, alone)]
    if not alone.size:
        return kept
    return Spans(in_order(kept.starts, alone), in_order(kept.ends, alone))


def _without_lasting(one: Spans, other: Spans) -> Spans:
    """Return the rest of intervals that last; taking a single instant away leaves them as they are."""
    lasts = other.ends > other.starts
    starts, ends = other.starts, other.ends
    if not bool(lasts.all()):
        starts, ends = starts[lasts], ends[lasts]
    if not starts.size or not len(one):
        return one
    begin = min(int(one.starts[0]), int(starts[0])) - 1
    finish = max(int(one.ends[-1]), int(ends[-1])) + 1
    between = Spans(np.concatenate(([begin], ends)), np.concatenate((starts, [finish])))
    left = _overlap((one, between))
    lasting = left.ends > left.starts
    return left if bool(lasting.all()) else Spans(left.starts[lasting], left.ends[lasting])


def complement(one: Intervals, start: int, end: int) -> Spans:
    """Return the instants between two that are not in a set, closed (rule 4).

    Args:
        one: The set.
        start: UTC ms.
        end: UTC ms.

    Returns:
        What the set leaves of the time from `start` to `end`.
    """
    return difference(((start, end),), one)


def members(one: Intervals, instants: Column) -> NDArray[np.bool_]:
    """Tell of each instant of a column whether it is in the set."""
    one = as_spans(one)
    if not len(one):
        return np.zeros(instants.shape, dtype=np.bool_)
    place = one.starts.searchsorted(instants, "right") - 1
    found: NDArray[np.bool_] = (place >= 0) & (one.ends[np.maximum(place, 0)] >= instants)
    return found


def total(one: Intervals) -> int:
    """Return how long the set lasts in all, ms."""
    one = as_spans(one)
    # No more than from its first instant to its last, so the sum cannot overflow.
    return int((one.ends - one.starts).sum())


def longest(one: Intervals) -> tuple[int, int] | None:
    """Return the longest interval (the earliest of equals), or None for an empty set."""
    one = as_spans(one)
    return one[int((one.ends - one.starts).argmax())] if len(one) else None


def lasting(one: Intervals, least_ms: int) -> Spans:
    """Return the members that last at least so long."""
    one = as_spans(one)
    long = one.ends - one.starts >= least_ms
    return one if bool(long.all()) else Spans(one.starts[long], one.ends[long])


def instants(one: Intervals) -> tuple[int, ...]:
    """Return the members of no length."""
    one = as_spans(one)
    return tuple(one.starts[one.starts == one.ends].tolist())


def contains(one: Intervals, at: int) -> bool:
    """Return whether an instant is in the set."""
    one = as_spans(one)
    place = int(one.starts.searchsorted(at, "right")) - 1
    return place >= 0 and one[place][1] >= at


def next_start(one: Intervals, at: int) -> int | None:
    """Return the first start of an interval at or after `at`, or None."""
    one = as_spans(one)
    place = int(one.starts.searchsorted(at, "left"))
    return one[place][0] if place < len(one) else None


def next_instant(one: Intervals, at: int) -> int | None:
    """Return the first instant of the set at or after `at`, or None."""
    return at if contains(one, at) else next_start(one, at)


class Measure:
    """The length of a set up to any instant, and the instant at which it has a given length; each in logarithmic time."""

    def __init__(self, one: Intervals) -> None:
        """Sum the set up once."""
        self._set = as_spans(one)
        self._before: Column = np.zeros(len(self._set) + 1, dtype=np.int64)
        np.cumsum(self._set.ends - self._set.starts, out=self._before[1:])

    def until(self, at: int) -> int:
        """Return how long the set lasts up to `at`, ms."""
        place = int(self._set.starts.searchsorted(at, "right")) - 1
        if place < 0:
            return 0
        start, end = self._set[place]
        return int(self._before[place]) + min(at, end) - start

    def between(self, start: int, end: int) -> int:
        """Return how long the set lasts from `start` to `end`, ms."""
        return self.until(end) - self.until(start)

    def reaches(self, start: int, duration: int) -> int | None:
        """Return the first instant by which the set lasted `duration` (> 0) since `start`; None if it never does."""
        wanted = self.until(start) + duration
        place = int(self._before.searchsorted(wanted, "left")) - 1
        if place >= len(self._set):
            return None
        return self._set[place][0] + wanted - int(self._before[place])
