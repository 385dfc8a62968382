"""Turnings as people log them, and as they count; used wherever turnings are counted or spaced.

If two people log one turning, or somebody logs it five times, the heap was turned once. So entries less than 6 h after
the first of their group are one turning, at the time of that first; exactly 6 h later a new one begins (our choice). This
concerns counting alone: every entry takes the probes out, and recovery follows each.
"""

from bisect import bisect_left
from collections import deque
from collections.abc import Iterable, Sequence

from monitor.model.times import HOUR_MS, MINUTE_MS

TOGETHER_MS = 6 * HOUR_MS
"""Length of a group of entries that count as one turning, ms, from its first entry."""


def begins_group(first: int | None, at: int, together_ms: int = TOGETHER_MS) -> bool:
    """Return whether an entry begins a turning of its own.

    Args:
        first: The first entry of the group before it, UTC ms, or None.
        at: The entry, UTC ms, not earlier.
        together_ms: Length of a group.

    Returns:
        True if the entry lies outside that group.
    """
    return first is None or at - first >= together_ms


def counted_firsts(entries: Iterable[int], together_ms: int = TOGETHER_MS) -> tuple[int, ...]:
    """Return the instants of the turnings that count: of entries in any order (UTC ms), the first of each group."""
    found: list[int] = []
    for at in sorted(entries):
        if begins_group(found[-1] if found else None, at, together_ms):
            found.append(at)
    return tuple(found)


FELT_WITHIN_MS = 2 * HOUR_MS
"""Longest time from the beginning of a turning to its entry, ms."""

FALL_MILLI_K = 5_000
FALL_SPAN_MS = 30 * MINUTE_MS


def fall_begins(times: Sequence[int], milli: Sequence[int], logged: int) -> int | None:
    """Find the beginning of the fall that belongs to a turning; people log a turning when they are done.

    A fall is at least 5 °C within 30 min. It belongs to the turning if the last reading before it is at most 2 h
    before the entry; then the turning's recovery begins at that reading (our choice). Of several the earliest counts. The fall
    begins with the reading from which on each is lower than the reading before.

    Args:
        times: Times of one probe's readings within one time in service, UTC ms, rising; those from 2 h before the entry on (to
            half an hour after it, if the probe stayed in) are enough.
        milli: Its values, thousandths of a degree Celsius.
        logged: When the turning was logged, UTC ms.

    Returns:
        The time of the last reading before the fall, UTC ms; None if no fall belongs to the turning.
    """
    found: list[int] = []
    # Indices of the last half hour's highest readings in falling order, so that the first is the highest of all.
    tops: deque[int] = deque()
    for here, value in enumerate(milli):
        first = bisect_left(times, max(times[here] - FALL_SPAN_MS, logged - FELT_WITHIN_MS))
        while tops and tops[0] < first:
            tops.popleft()
        if tops and milli[tops[0]] - value >= FALL_MILLI_K:
            high = next(place for place in range(here - 1, first - 1, -1) if milli[place] - value >= FALL_MILLI_K)
            while high > first and milli[high - 1] > milli[high]:
                high -= 1
            if times[high] < logged:
                found.append(times[high])
        while tops and milli[tops[-1]] <= value:
            tops.pop()
        tops.append(here)
    return min(found, default=None)
