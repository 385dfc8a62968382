"""Turnings as people log them, and as they count; used wherever turnings are counted or spaced.

Two people who log one turning, or one who logs it five times, have turned the heap once. So entries less than 6 h after
the first of their group are one turning, at the time of that first; exactly 6 h later a new one begins (ours). This
concerns counting alone: every entry takes the probes out, and recovery follows each.
"""

from bisect import bisect_left
from collections import deque
from collections.abc import Iterable, Sequence

from monitor.model.times import HOUR_MS, MINUTE_MS

TOGETHER_MS = 6 * HOUR_MS
"""Entries less than so long after the first of their group are one turning with it, ms."""


def begins_group(first: int | None, at: int, together_ms: int = TOGETHER_MS) -> bool:
    """Tell whether an entry begins a turning of its own.

    Args:
        first: The first entry of the group before it, UTC ms, or None.
        at: The entry, UTC ms, not earlier.
        together_ms: How long a group lasts.
    """
    return first is None or at - first >= together_ms


def counted_firsts(entries: Iterable[int], together_ms: int = TOGETHER_MS) -> tuple[int, ...]:
    """Return when the turnings were that count: of entries in any order (UTC ms), the first of each group."""
    found: list[int] = []
    for at in sorted(entries):
        if begins_group(found[-1] if found else None, at, together_ms):
            found.append(at)
    return tuple(found)


FELT_WITHIN_MS = 2 * HOUR_MS
"""How long before its entry a turning may have begun, ms."""

FALL_MILLI_K = 5_000
FALL_SPAN_MS = 30 * MINUTE_MS


def fall_begins(times: Sequence[int], milli: Sequence[int], logged: int) -> int | None:
    """Return when the fall began that belongs to a turning, or None: people log a turning when they are done.

    A fall is one of at least 5 °C within 30 min. It belongs to the turning where the last reading before it is at most 2 h
    before the entry; then the turning's recovery begins at that reading (ours). Of several the earliest counts. The fall
    begins with the reading from which on each is lower than the one before.

    Args:
        times: When one probe was read within one time in service, UTC ms, rising; those from 2 h before the entry on (to
            half an hour after it, where it stayed in) are enough.
        milli: Its values, thousandths of a degree Celsius.
        logged: When the turning was logged, UTC ms.
    """
    found: list[int] = []
    # Places of the highest readings of the last half hour, each lower than the one before it.
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
