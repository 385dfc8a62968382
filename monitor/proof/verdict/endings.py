"""Words for the end of a hold: which probe ended it, how, and for how long."""

from monitor.model.times import SECOND_MS, show_duration, show_time
from monitor.model.units import show_temperature
from monitor.proof.counting import DayKind
from monitor.proof.holdset import HoldBasis, HoldSet, ProbeSets
from monitor.proof.intervals import FAR_AHEAD_MS, Intervals, contains, next_instant, next_start
from monitor.proof.judging import Day, Record
from monitor.proof.rules import Limits


def say_ending(record: Record, sets: HoldSet, limits: Limits, end: int) -> str:
    """Return why the hold that ends at `end` ended: `probe b fell below 55 °C for 4 min`, or "" if it did not end.

    Args:
        record: The record that was judged.
        sets: Its hold set at these limits, with those of every probe.
        limits: The limits.
        end: End of the hold, UTC ms.

    Returns:
        The words, without a full stop.
    """
    if end >= record.end:
        return ""
    probes = sets.probes
    if sets.basis is HoldBasis.MEAN:
        if contains(record.proven, end + 1):
            back = next_start(record.hold_at(limits), end + 1)
            return f"the mean of the probes {_crossed(record, '', limits, end)}{_for(back, end)}"
        # What ended it is that a probe was not known; another may be cold, and the mean within the limits.
        probes = tuple(one for one in probes if not contains(one.proven, end + 1))
    causes = [cause for one in probes if (cause := _cause(record, one, limits, end))]
    if causes and all(_left(record, one.probe, end) for one in sets.probes):
        return f"the last probe was taken out{_for(next_instant(record.proven, end + 1), end)}"
    return " and ".join(causes[:2])


def say_day(sets: HoldSet, day: Day) -> str:
    """Return why a day does not count, or "" where it counts or is not decided.

    Args:
        sets: The hold set at the limits of the rule, with those of every probe.
        day: The day.
    """
    if day.kind is DayKind.UNPROVEN:
        return f"{show_duration(day.unproven_ms)} of it is not proven"
    if day.kind is DayKind.SHORT:
        return f"only {show_duration(day.hold_ms)} of it was within the limits, the rest was recovery after a turning"
    if day.kind is DayKind.RECOVERY:
        recovery_ms = day.end - day.start - day.hold_ms - day.unproven_ms
        own = f" ({show_duration(recovery_ms)} of this one)" if recovery_ms >= SECOND_MS else ""
        return f"with it more than a quarter of the days asked for would be recovery after turnings{own}"
    if day.kind is not DayKind.FAILED:
        return ""
    assert day.failed_from is not None
    assert day.failed_until is not None
    lasted = day.failed_until - day.failed_from
    shown = show_duration(lasted) if lasted >= SECOND_MS else "a single reading"
    last = f", the last of it at {show_time(day.failed_until)}" if lasted >= SECOND_MS else ""
    return f"not within the limits from {show_time(day.failed_from)} on{_who(sets, day)} ({shown}{last})"


def _who(sets: HoldSet, day: Day) -> str:
    """Return which probes were not within the limits when a day failed."""
    assert day.failed_from is not None
    if sets.basis is HoldBasis.MEAN or len(sets.probes) < 2:
        return ""
    at = day.failed_from + (day.failed_from != day.failed_until)
    cold = [one.probe for one in sets.probes if contains(one.proven, at) and not contains(one.hold, at)]
    return f" at {' and '.join(cold)}" if cold else ""


def _cause(record: Record, one: ProbeSets, limits: Limits, end: int) -> str:
    """Return how one probe ended the hold, or "" if it did not."""
    service = record.course.service(one.probe) if record.course is not None else ()
    if service and not _in(service, end + 1):
        # It was taken out and has no say any more; the caller tells it if it was the last probe.
        return ""
    if contains(one.hold, end + 1):
        return ""
    probe = f"probe {one.probe}"
    if _left(record, one.probe, end):
        return f"{probe} was taken out{_for(next_instant(one.proven, end + 1), end)}"
    if contains(one.hold, end) and contains(one.proven, end + 1):
        return f"{probe} {_crossed(record, one.probe, limits, end)}{_for(next_start(one.hold, end + 1), end)}"
    back = next_instant(one.proven, end + 1)
    if service and any(start == end for start, _ in service) and not contains(one.proven, end):
        first = "never read" if back is None else f"its first reading came {show_duration(back - end)} later"
        return f"{probe} was put in and {first}"
    if contains(one.proven, end + 1):
        # It was so when it was put in.
        return f"{probe} was not within the limits{_for(next_start(one.hold, end + 1), end)}"
    return f"the readings of {probe} stopped{_for(back, end)}"


def _left(record: Record, probe: str, end: int) -> bool:
    """Return whether a probe was in at `end`, is not read after it, and is taken out before that is a gap."""
    if record.course is None:
        return False
    out = next((last for first, last in record.course.service(probe) if first <= end < last), None)
    if out is None or out >= FAR_AHEAD_MS or out - end > record.course.max_gap_ms:
        return False
    back = record.course.next_time(probe, end)
    return back is None or back >= out


def _in(service: Intervals, at: int) -> bool:
    return any(start < at <= end for start, end in service)


def _crossed(record: Record, probe: str, limits: Limits, end: int) -> str:
    low = limits.low_text or show_temperature(limits.low_milli_c, "degC")
    below = "fell to or below" if limits.strict else "fell below"
    if limits.high_milli_c is None:
        return f"{below} {low}"
    high = limits.high_text or show_temperature(limits.high_milli_c, "degC")
    value = record.course.next_value(probe, end) if record.course is not None and probe else None
    if value is None:
        return f"left the limits {low} to {high}"
    return f"rose above {high}" if value > limits.high_milli_c - _guard(record) else f"{below} {low}"


def _guard(record: Record) -> int:
    return record.course.guard_milli_k if record.course is not None else 0


def _for(back: int | None, end: int) -> str:
    if back is None:
        return " and did not come back"
    return f" for {show_duration(back - end)}" if back - end >= SECOND_MS else " for less than a second"
