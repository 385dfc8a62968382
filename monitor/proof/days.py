"""How days are judged: blocks of 24 h from a hold instant on.

The rules are those of the design's rule evaluation; where its words leave something open, this module decides:

1. A day that fails is known to fail once there is an instant in it that was proven, outside recovery and not in the
   hold, and 12 h of it are known. The next day starts with the first hold instant after that instant, not after the
   dropped day. After a day that neither counts nor fails the next begins at once.
2. A day is complete when its 24 h are over; an instant at its very end belongs to the next.
3. Recovery lasts from a turning until a hold begins after it, at most 24 h, and never holds instants of the hold.
4. The span in which turnings count begins with the first day that counts (of the unbroken series, where days must be
   consecutive) and ends with the last hold instant.
"""

from bisect import bisect_left
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from importlib import import_module

from monitor.proof.durations import enough_turnings
from monitor.proof.intervals import Intervals, Measure, difference, next_start, union
from monitor.proof.kinds import Days
from monitor.proof.record import Judged, Numbers, Record, counted_turnings, with_turnings
from monitor.proof.spans import Spans


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


def judge_days(part: Days, record: Record) -> Judged:
    """Return what came of days."""
    recovery = record.recoveries(part.recovery_ms)
    met_at = None
    series = _Series([])
    for series in _series(part, record, recovery):
        if len(series.days) >= part.count:
            turned = _days_turnings(part, record, series)
            fulfilled = series.days[part.count - 1] + part.day_ms
            met_at = enough_turnings(part.turnings, turned, record.hold, fulfilled)
            if met_at is not None and series.alive(met_at):
                break
            met_at = None
    turned = _days_turnings(part, record, series)
    counts: Numbers = {"days": len(series.days), "days_needed": part.count}
    return Judged(
        met_at=met_at,
        values=with_turnings(part, counts, len(turned), len(record.logged)),
        turnings=len(turned),
        span=_days_span(series),
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
    bad = difference(difference(record.proven, record.hold), recovery)
    if bad and bad[-1] == (record.end, record.end):
        bad = bad[:-1]
    both = union(record.hold, bad)
    known = Measure(both)
    worth_trying = _skipping(part, record, bad, both)
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
            at = worth_trying(next_start(record.hold, max(broken[0], at) + 1))
        elif over > record.end:
            break
        else:
            series.days.append(at)
            at = over
    series.open_at = at
    yield series


def _skipping(part: Days, record: Record, bad: Intervals, known: Intervals) -> Callable[[int | None], int | None]:
    """Return what leads past days that plainly fail: nothing to do with a short record, which loads no numpy."""
    if not isinstance(record.hold, Spans):
        return lambda at: at
    found: Callable[[int | None], int | None] = import_module("monitor.proof.failing_days").first_worth_trying(
        part, record.hold, bad, known, record.end
    )
    return found


def _first_bad(bad: Intervals, start: int, end: int) -> tuple[int, int] | None:
    """Return the first bad interval in a day; the day's start belongs to it, its end does not."""
    place = bisect_left(bad, start, key=lambda pair: pair[1])
    for piece in bad[place : place + 2]:
        lasting = piece[1] > piece[0]
        if lasting and piece[1] == start:
            continue
        return piece if piece[0] < end else None
    return None
