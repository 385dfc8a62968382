"""The air of the yard, hour by hour: its mean is compared for *ready for worms* and for *stalled*.

Rules:

1. Ambient readings are gathered into whole hours (UTC). An hour's mean is that of its readings; the mean of a span is
   that of its hours, so that a probe that sends more often does not weigh more.
2. At an instant only hours count that ended at least 1 h before it (`READY_LAG_MS`). Readings that come a little late,
   or in another order among probes, therefore never change a decision.
3. A span's coverage is the share of its hours that have a reading.
"""

from bisect import bisect_left
from collections.abc import Iterable
from dataclasses import dataclass, field

from monitor.model.times import DAY_MS, HOUR_MS
from monitor.model.units import divide_half_even

READY_LAG_MS = HOUR_MS
"""Time from the end of an hour until it may be consulted (our choice)."""

_KEEP_MS = 10 * DAY_MS


@dataclass(slots=True)
class AirState:
    """Ambient by the hour; `consulted` is the end (UTC ms) of the newest hour that entered a decision."""

    hours: list[int] = field(default_factory=list)
    sums: list[int] = field(default_factory=list)
    counts: list[int] = field(default_factory=list)
    consulted: int = 0


def note_air(air: AirState, time: int, milli: int) -> None:
    """Take in an accepted ambient reading; readings may come in any order.

    Args:
        air: Ambient by the hour; changed in place.
        time: The reading's own time, UTC ms.
        milli: Thousandths of a degree Celsius.
    """
    hour = time // HOUR_MS
    index = len(air.hours) - 1
    if index < 0 or air.hours[index] != hour:
        index = bisect_left(air.hours, hour)
        if index == len(air.hours) or air.hours[index] != hour:
            air.hours.insert(index, hour)
            air.sums.insert(index, 0)
            air.counts.insert(index, 0)
    air.sums[index] += milli
    air.counts[index] += 1


def note_hours(air: AirState, parts: Iterable[tuple[int, int, int]]) -> None:
    """Take in many readings at once as (hour since 1970, sum, count), each as `note_air` takes them."""
    for hour, total, count in parts:
        note_air(air, hour * HOUR_MS, total)
        index = bisect_left(air.hours, hour)
        air.counts[index] += count - 1


def span_hours(span_ms: int) -> int:
    """Return the length of a span of whole hours, at least one."""
    return max(span_ms // HOUR_MS, 1)


def least_covered(length: int, coverage_milli_pct: int) -> int:
    """Return how many hours of a span must have a reading for its mean to count (rule 3), at least one."""
    return max(-(-coverage_milli_pct * length // 100_000), 1)


def mean_air(air: AirState, at: int, span_ms: int, coverage_milli_pct: int) -> int | None:
    """Return the mean of ambient over the span of whole hours that ended at least 1 h before `at`.

    Args:
        air: Ambient by the hour.
        at: The instant that asks, UTC ms; `consulted` records that it used these hours.
        span_ms: Length of the span, cut to whole hours, at least one.
        coverage_milli_pct: Least share of the hours that must have a reading, thousandths of a percent.

    Returns:
        Thousandths of a degree Celsius (half-even), or None if ambient covers less.
    """
    end = (at - READY_LAG_MS) // HOUR_MS
    length = span_hours(span_ms)
    air.consulted = max(air.consulted, end * HOUR_MS)
    first, last = bisect_left(air.hours, end - length), bisect_left(air.hours, end)
    covered = last - first
    if covered < least_covered(length, coverage_milli_pct):
        return None
    total = 0
    for summed, count in zip(air.sums[first:last], air.counts[first:last], strict=True):
        # This is `divide_half_even` written out for speed: it runs for every hour of a week, each hour.
        quotient, rest = divmod(summed, count)
        rest += rest
        total += quotient + (rest > count or (rest == count and quotient & 1))
    return divide_half_even(total, covered)


def forget_air(air: AirState, now: int, span_ms: int) -> None:
    """Drop hours that no decision can use any more.

    Args:
        air: Ambient by the hour; changed in place.
        now: The instant examined, UTC ms.
        span_ms: Longest span that a mean is taken over, ms.
    """
    first = bisect_left(air.hours, (now - span_ms - _KEEP_MS) // HOUR_MS)
    if first:
        del air.hours[:first], air.sums[:first], air.counts[:first]
