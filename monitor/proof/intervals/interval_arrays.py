"""The arithmetic of `intervals` on arrays: what `intervals` does with long sets, and what works out hold sets.

It keeps the same rules. The trick behind most of it: sort all starts and all ends of several sets, each column by
itself. Where the i-th start (counted from 0) comes after the (i-1)-th end, everything begun before is over, so an
interval of the union begins. Where it comes at or before the (i-k+1)-th end, k sets overlap from that start to that
end, because a set never overlaps itself.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from monitor.proof.intervals.interval_columns import LONG, Spans

Column = NDArray[np.int64]

FEW = 8
"""So many intervals are taken one by one against a long set."""

NOTHING = Spans(np.empty(0, dtype=np.int64), np.empty(0, dtype=np.int64))
"""The empty set."""


def as_spans(one: Sequence[tuple[int, int]]) -> Spans:
    """Return a set as arrays."""
    if isinstance(one, Spans):
        return one
    if not one:
        return NOTHING
    pairs = np.array(one, dtype=np.int64).T
    return Spans(pairs[0], pairs[1])


def settled(one: Spans) -> Sequence[tuple[int, int]]:
    """Return a set as it is handed on: a tuple of pairs, or itself if it is long."""
    return one if len(one) > LONG else tuple(one)


def merged(*columns: Column) -> Column:
    """Return several columns, each in order, as one in order."""
    # The stable sort sees that they are in order and merges them, three times as fast as the other.
    return np.sort(np.concatenate(columns), kind="stable")


def distinct(instants: Column) -> Column:
    """Return instants in order, each once; numpy's own way goes through a hash table, which is slower."""
    column: Column = np.sort(instants, kind="stable")
    if column.size < 2:
        return column
    return column[np.concatenate(([True], column[1:] != column[:-1]))]


def normal(starts: Column, ends: Column) -> Spans:
    """Return any pairs (start <= end) as a set."""
    if starts.size == 0:
        return NOTHING
    begin, finish = np.sort(starts, kind="stable"), np.sort(ends, kind="stable")
    fresh = begin[1:] > finish[:-1]
    if bool(fresh.all()):
        return Spans(begin, finish)
    ahead = np.concatenate(([True], fresh))
    behind = np.concatenate((fresh, [True]))
    return Spans(begin[ahead], finish[behind])


def union(*sets: Spans) -> Spans:
    """Return the instants that are in any of the sets."""
    some = [one for one in sets if len(one)]
    if len(some) < 2:
        return some[0] if some else NOTHING
    return normal(np.concatenate([one.starts for one in some]), np.concatenate([one.ends for one in some]))


def intersection(*sets: Spans) -> Spans:
    """Return the instants that are in all of the sets (one at least)."""
    if any(len(one) == 0 for one in sets):
        return NOTHING
    wide = [one for one in sets if len(one) > 1]
    # What is one interval in a set needs no sorting: it cuts the others.
    first = max(int(one.starts[0]) for one in sets if len(one) == 1) if len(wide) < len(sets) else None
    last = min(int(one.ends[0]) for one in sets if len(one) == 1) if len(wide) < len(sets) else None
    common = _overlap(wide) if wide else None
    if first is None or last is None:
        assert common is not None
        return common
    if first > last:
        return NOTHING
    if common is None:
        return Spans(np.array([first], dtype=np.int64), np.array([last], dtype=np.int64))
    return cut(common, first, last)


def _overlap(sets: Sequence[Spans]) -> Spans:
    if len(sets) == 1:
        return sets[0]
    if len(sets) == 2:
        few, many = sorted(sets, key=len)
        if len(few) <= FEW:
            parts = [cut(many, start, end) for start, end in few]
            return Spans(np.concatenate([part.starts for part in parts]), np.concatenate([part.ends for part in parts]))
    begin = merged(*(one.starts for one in sets))
    finish = merged(*(one.ends for one in sets))
    others = len(sets) - 1
    begin, finish = begin[others:], finish[: finish.size - others]
    shared = begin <= finish
    return Spans(begin[shared], finish[shared])


def cut(one: Spans, start: int, end: int) -> Spans:
    """Return the instants of the set from `start` to `end`, both included."""
    if start > end:
        return NOTHING
    first = int(np.searchsorted(one.ends, start, "left"))
    last = int(np.searchsorted(one.starts, end, "right"))
    if first >= last:
        return NOTHING
    starts, ends = one.starts[first:last], one.ends[first:last]
    if starts[0] < start:
        starts = starts.copy()
        starts[0] = start
    if ends[-1] > end:
        ends = ends.copy()
        ends[-1] = end
    return Spans(starts, ends)


def difference(one: Spans, other: Spans) -> Spans:
    """Return the instants of `one` that are not in `other`, closed (rule 4 of `intervals`)."""
    if not len(one) or not len(other):
        return one
    lasts = one.ends > one.starts
    kept = _without_lasting(one if bool(lasts.all()) else Spans(one.starts[lasts], one.ends[lasts]), other)
    alone = one.starts[~lasts]
    alone = alone[~holds(other, alone)]
    if not alone.size:
        return kept
    return Spans(merged(kept.starts, alone), merged(kept.ends, alone))


def _without_lasting(one: Spans, other: Spans) -> Spans:
    """Return what is left of intervals that last; taking a single instant away leaves them as they are."""
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


def holds(one: Spans, instants: Column) -> NDArray[np.bool_]:
    """Tell of each instant whether it is in the set."""
    if not len(one):
        return np.zeros(instants.shape, dtype=np.bool_)
    place = np.searchsorted(one.starts, instants, "right") - 1
    found: NDArray[np.bool_] = (place >= 0) & (one.ends[np.maximum(place, 0)] >= instants)
    return found


def total(one: Spans) -> int:
    """Return how long the set lasts in all, ms."""
    # No more than from its first instant to its last, so the sum cannot overflow.
    return int(np.sum(one.ends - one.starts))


def longest(one: Spans) -> tuple[int, int] | None:
    """Return the longest interval (the earliest of equals), or None for an empty set."""
    return one[int(np.argmax(one.ends - one.starts))] if len(one) else None


def lasting(one: Spans, least_ms: int) -> Spans:
    """Return the members that last at least so long."""
    long = one.ends - one.starts >= least_ms
    return Spans(one.starts[long], one.ends[long])


def instants(one: Spans) -> tuple[int, ...]:
    """Return the members of no length."""
    return tuple(one.starts[one.starts == one.ends].tolist())


def lasted(one: Spans) -> Column:
    """Return how long the set lasted before each member, and at last in all, ms."""
    before: Column = np.zeros(len(one) + 1, dtype=np.int64)
    np.cumsum(one.ends - one.starts, out=before[1:])
    return before
