"""How each kind of requirement is judged on sets of instants: run, total and days, each with its turnings.

The rules are those of the design's rule evaluation; where its words leave something open, this module decides:

1. The span of a run is the interval itself; of a total, from the first hold instant on; of days, from the start of
   the first day that counts (of the unbroken series, where days must be consecutive). A turning counts as soon as
   there is a hold instant at or after it in the span; what was fulfilled once stays fulfilled.
2. Recovery lasts from a turning until a hold begins after it, at most 24 h, and never holds instants of the hold.
3. A day that fails is known to fail once there is an instant in it that was proven, outside recovery and not in the
   hold, and 12 h of it are known. The next day starts with the first hold instant after that instant, not after the
   dropped day. After a day that neither counts nor fails the next begins at once.
4. A day is complete when its 24 h are over; an instant at its very end belongs to the next.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from monitor.model.units import plain_number
from monitor.proof.intervals import (
    Intervals,
    Measure,
    cut,
    difference,
    longest,
    next_instant,
    next_start,
    normal,
    total,
    union,
)
from monitor.proof.rules import Days, Join, Part, Run, Total, Turnings


@dataclass(frozen=True, slots=True, kw_only=True)
class Record:
    """What is known of a batch since material last came in.

    Attributes:
        start, end: Between which instants, UTC ms.
        hold: When it was within the limits.
        proven: When its temperature was known.
        recovery: Times after turnings, as `recoveries` gives them.
        turnings: When it was turned, in order.
    """

    start: int
    end: int
    hold: Intervals
    proven: Intervals
    turnings: tuple[int, ...]

    def until(self, end: int) -> "Record":
        """Return what was known of the batch up to an earlier instant."""
        return Record(
            start=self.start,
            end=end,
            hold=cut(self.hold, self.start, end),
            proven=cut(self.proven, self.start, end),
            turnings=tuple(at for at in self.turnings if at <= end),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """What came of one part.

    Attributes:
        met_at: The exact instant at which it was fulfilled, or None.
        values: Plain numbers for people and programs, as of `met_at` where it is met, else of the record's end.
        turnings: Turnings counted by then.
        span: Start of the span in which they count, or None if there is none yet.
    """

    met_at: int | None
    values: dict[str, int | float]
    turnings: int
    span: int | None


def hours(duration_ms: int) -> int | float:
    """Return a duration in hours with at most 3 decimals, rounded down so that nothing looks fulfilled too early."""
    return plain_number(duration_ms // 3600)


def recoveries(hold: Intervals, turnings: Sequence[int], recovery_ms: int) -> Intervals:
    """Return the times of recovery: from each turning until a hold begins after it, at most `recovery_ms`."""
    windows = []
    for at in turnings:
        back = next_start(hold, at + 1)
        windows.append((at, at + recovery_ms if back is None else min(back, at + recovery_ms)))
    return normal(windows)


def counted_turnings(turnings: Sequence[int], wanted: Turnings | None, start: int, end: int) -> list[int]:
    """Return the turnings from `start` to `end` that count: each far enough after the one counted before it."""
    found: list[int] = []
    apart = wanted.apart_ms if wanted is not None else 0
    for at in turnings[bisect_left(turnings, start) : bisect_right(turnings, end)]:
        if not found or at - found[-1] >= apart:
            found.append(at)
    return found


def joined(join: Join, met: Sequence[int | None]) -> int | None:
    """Return when parts joined by all or any were met together, or None."""
    instants = [at for at in met if at is not None]
    if join is Join.ANY:
        return min(instants, default=None)
    return max(instants) if len(instants) == len(met) else None


def judge(part: Part, record: Record, recovery: Intervals | None = None) -> Judged:
    """Return what came of one part of a rule.

    Args:
        part: What is wanted.
        record: What is known.
        recovery: Times of recovery, where they are not to be taken from the record's own hold.
    """
    judged = _judge(part, record, recovery)
    if judged.met_at is None or judged.met_at == record.end:
        return judged
    return _judge(part, record.until(judged.met_at), recovery)


def _judge(part: Part, record: Record, recovery: Intervals | None) -> Judged:
    if isinstance(part, Run):
        return _judge_run(part, record)
    if isinstance(part, Total):
        return _judge_total(part, record)
    if recovery is None:
        recovery = recoveries(record.hold, record.turnings, part.recovery_ms)
    return _judge_days(part, record, recovery)


def with_turnings(part: Part, counts: dict[str, int | float], turnings: int) -> dict[str, int | float]:
    """Return a part's numbers, with those of its turnings where it wants any."""
    if part.turnings is not None:
        return {**counts, "turnings": turnings, "turnings_needed": part.turnings.count}
    return counts


def _enough(wanted: Turnings | None, turnings: Sequence[int], hold: Intervals, fulfilled: int) -> int | None:
    """Return when both the duration was fulfilled and enough turnings had a hold instant at or after them."""
    if wanted is None:
        return fulfilled
    if len(turnings) < wanted.count:
        return None
    confirmed = next_instant(hold, turnings[wanted.count - 1])
    return None if confirmed is None else max(fulfilled, confirmed)


def _judge_run(part: Run, record: Record) -> Judged:
    met_at = None
    for start, end in record.hold:
        if end - start >= part.duration_ms:
            turned = counted_turnings(record.turnings, part.turnings, start, end)
            met_at = _enough(part.turnings, turned, record.hold, start + part.duration_ms)
            if met_at is not None:
                break
    last = record.hold[-1] if record.hold else None
    longest_run = longest(record.hold)
    now, turned, span = 0, [], None
    if last is not None and last[1] == record.end:
        now, span = last[1] - last[0], last[0]
        turned = counted_turnings(record.turnings, part.turnings, last[0], last[1])
    counts = {
        "run_h": hours(now),
        "longest_run_h": hours(longest_run[1] - longest_run[0] if longest_run else 0),
        "needed_h": hours(part.duration_ms),
    }
    return Judged(met_at=met_at, values=with_turnings(part, counts, len(turned)), turnings=len(turned), span=span)


def _judge_total(part: Total, record: Record) -> Judged:
    met_at, turned, span = None, [], None
    if record.hold:
        span = record.hold[0][0]
        turned = counted_turnings(record.turnings, part.turnings, span, record.hold[-1][1])
        fulfilled = Measure(record.hold).reaches(span, part.duration_ms)
        if fulfilled is not None:
            met_at = _enough(part.turnings, turned, record.hold, fulfilled)
    counts = {"total_h": hours(total(record.hold)), "needed_h": hours(part.duration_ms)}
    return Judged(met_at=met_at, values=with_turnings(part, counts, len(turned)), turnings=len(turned), span=span)


@dataclass(slots=True)
class _Series:
    """Days that count, without a failed one between them where the rule wants them consecutive.

    Attributes:
        days: Start of each day that counts.
        open_at: Start of the day that is still open at the end of the record, or None.
        failing: Where a day failed: its first bad instant, and when 12 h of it were known; the series ended once
            both had passed.
    """

    days: list[int]
    open_at: int | None = None
    failing: tuple[int, int] | None = None

    def alive(self, at: int) -> bool:
        """Tell whether the series had not yet ended at an instant."""
        return self.failing is None or at <= self.failing[0] or at < self.failing[1]


def _judge_days(part: Days, record: Record, recovery: Intervals) -> Judged:
    met_at = None
    series = _Series([])
    for series in _series(part, record, recovery):
        if len(series.days) >= part.count:
            turned = _days_turnings(part, record, series)
            fulfilled = series.days[part.count - 1] + part.day_ms
            met_at = _enough(part.turnings, turned, record.hold, fulfilled)
            if met_at is not None and series.alive(met_at):
                break
            met_at = None
    turned = _days_turnings(part, record, series)
    counts: dict[str, int | float] = {"days": len(series.days), "days_needed": part.count}
    return Judged(
        met_at=met_at, values=with_turnings(part, counts, len(turned)), turnings=len(turned), span=_days_span(series)
    )


def _days_span(series: _Series) -> int | None:
    return series.days[0] if series.days else series.open_at


def _days_turnings(part: Days, record: Record, series: _Series) -> list[int]:
    span = _days_span(series)
    if span is None or not record.hold:
        return []
    return counted_turnings(record.turnings, part.turnings, span, record.hold[-1][1])


def _series(part: Days, record: Record, recovery: Intervals) -> Iterator[_Series]:
    """Walk through the record a day at a time; each series that ended, and at last the one that is going on."""
    # An instant proven at the record's very end has no time yet in which to matter.
    bad = [
        pair
        for pair in difference(difference(record.proven, record.hold), recovery)
        if pair != (record.end, record.end)
    ]
    known = Measure(union(record.hold, tuple(bad)))
    series = _Series([])
    at = record.hold[0][0] if record.hold else None
    while at is not None:
        over = at + part.day_ms
        broken = _first_bad(bad, at, min(over, record.end))
        if known.between(at, min(over, record.end)) < part.least_ms:
            if over > record.end:
                break
            at = over
        elif broken is not None:
            if part.consecutive:
                reached = known.reaches(at, part.least_ms)
                assert reached is not None
                series.failing = (max(broken[0], at), reached)
                yield series
                series = _Series([])
            at = next_start(record.hold, max(broken[0], at) + 1)
        elif over > record.end:
            break
        else:
            series.days.append(at)
            at = over
    series.open_at = at
    yield series


def _first_bad(bad: list[tuple[int, int]], start: int, end: int) -> tuple[int, int] | None:
    """Return the first bad interval in a day; the day's start belongs to it, its end does not."""
    place = bisect_left(bad, start, key=lambda pair: pair[1])
    for piece in bad[place : place + 2]:
        lasting = piece[1] > piece[0]
        if lasting and piece[1] == start:
            continue
        return piece if piece[0] < end else None
    return None
