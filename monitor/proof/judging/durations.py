"""Judges a run, a total and a run before each turning on sets of instants.

The rules are those of the design's rule evaluation; where its words leave something open, this module decides:

1. The span of a run is the interval itself; of a total, from the first hold instant on. A turning counts as soon as
   there is a hold instant at or after it in the span; what was fulfilled once stays fulfilled.
2. A run before each turning lies between that turning and the entry logged before it (or the start of the record),
   whether or not that one counted: turning mixes hot material with cool. Turnings without such a run do not
   count and take nothing away; nor do further entries of one and the same turning count (`model.turnings`).
"""

from bisect import bisect_left
from collections.abc import Sequence

from monitor.proof.counting import Numbers, counted_turnings, hours, with_turnings
from monitor.proof.intervals import Intervals, Measure, cut, lasting, longest, next_instant, total
from monitor.proof.judging.judged_record import Judged, Record
from monitor.proof.rules import Run, RunBeforeTurnings, Total, Turnings


def enough_turnings(wanted: Turnings | None, turnings: Sequence[int], hold: Intervals, fulfilled: int) -> int | None:
    """Return when both the duration was fulfilled and enough turnings had a hold instant at or after them.

    Args:
        wanted: The turnings that are wanted, or None.
        turnings: Those that count, UTC ms, in order.
        hold: When the batch was within the limits.
        fulfilled: When the duration was fulfilled, UTC ms.

    Returns:
        The later of both instants, UTC ms, or None where turnings are missing.
    """
    if wanted is None:
        return fulfilled
    if len(turnings) < wanted.count:
        return None
    confirmed = next_instant(hold, turnings[wanted.count - 1])
    return None if confirmed is None else max(fulfilled, confirmed)


def judge_run(part: Run, record: Record) -> Judged:
    """Return the result of a run."""
    met_at = None
    for start, end in lasting(record.hold, part.duration_ms):
        turned = counted_turnings(record.turnings, part.turnings, start, end)
        met_at = enough_turnings(part.turnings, turned, record.hold, start + part.duration_ms)
        if met_at is not None:
            break
    last = record.hold[-1] if record.hold else None
    longest_run = longest(record.hold)
    now, turned, span = 0, [], None
    if last is not None and last[1] == record.end:
        now, span = last[1] - last[0], last[0]
        turned = counted_turnings(record.turnings, part.turnings, last[0], last[1])
    counts: Numbers = {
        "run_h": hours(now),
        "longest_run_h": hours(longest_run[1] - longest_run[0] if longest_run else 0),
        "needed_h": hours(part.duration_ms),
    }
    return Judged(
        met_at=met_at,
        values=with_turnings(part, counts, len(turned), len(record.logged)),
        turnings=len(turned),
        span=span,
    )


def judge_total(part: Total, record: Record) -> Judged:
    """Return the result of a total."""
    met_at, turned, span = None, [], None
    if record.hold:
        span = record.hold[0][0]
        turned = counted_turnings(record.turnings, part.turnings, span, record.hold[-1][1])
        fulfilled = Measure(record.hold).reaches(span, part.duration_ms)
        if fulfilled is not None:
            met_at = enough_turnings(part.turnings, turned, record.hold, fulfilled)
    counts: Numbers = {"total_h": hours(total(record.hold)), "needed_h": hours(part.duration_ms)}
    return Judged(
        met_at=met_at,
        values=with_turnings(part, counts, len(turned), len(record.logged)),
        turnings=len(turned),
        span=span,
    )


def judge_before_turnings(part: RunBeforeTurnings, record: Record) -> Judged:
    """Return the result of a run before each turning."""
    runs = lasting(record.hold, part.duration_ms)
    met_at, count = None, 0
    for at in record.turnings:
        place = bisect_left(record.logged, at)
        since = record.logged[place - 1] if place else record.start
        if lasting(cut(runs, since, at), part.duration_ms):
            count += 1
            met_at = at if count == part.count else met_at
    counts: Numbers = {
        "needed_h": hours(part.duration_ms),
        "turnings": count,
        "turnings_needed": part.count,
        "turnings_logged": len(record.logged),
    }
    span = record.logged[-1] if record.logged else record.start
    return Judged(met_at=met_at, values=counts, turnings=count, span=span)
