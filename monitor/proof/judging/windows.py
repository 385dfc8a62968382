"""Judges a window: several demands, all fulfilled within the same stretch of a stated length.

Rules this module keeps:

1. A window begins at a whole millisecond s and ends at s + span, both included. What is wanted within it is looked for
   in what is held between its ends only. Of every part the set of all s that satisfy it is worked out, exactly;
   where the sets share an s, the window is there, and it is met at the end of the first.
2. Without a mean a window may reach back before the record: nothing there can help it. With a mean all of it must be
   known, from end to end, and lie within the record.
3. A mean is the integral of the governing temperature over the window, divided by its length (`line_integrals`).
4. In a doubt, unproven time is taken to be just warm enough for a mean: it neither makes up for what was proven to
   be colder nor takes from what was warmer.
"""

from itertools import pairwise

from monitor.model.times import show_duration
from monitor.model.units import show_temperature
from monitor.proof.counting import Numbers, hours
from monitor.proof.governing import Course
from monitor.proof.intervals import Intervals, Measure, intersection, lasting, longest, normal, total
from monitor.proof.judging.judged_record import Judged, Record
from monitor.proof.rules import Mean, Run, Total, Window, Within
from monitor.proof.temperature import ALWAYS


def judge_window(part: Window, record: Record) -> Judged:
    """Return the result of a window; the words tell of each thing wanted how much of it there was.

    Raises:
        ValueError: A mean is wanted, and the record has no temperatures (`course`).
    """
    sets = [_starts(one.part, record.hold_at(one.limits), part.span_ms) for one in _lasting(part)]
    means = [one.part for one in part.within if isinstance(one.part, Mean)]
    candidates = ALWAYS
    for own in sets:
        candidates = intersection(candidates, own)
    start = candidates[0][0] if candidates else None
    together = len(sets) if candidates else _most_together(sets)
    highest = None
    for mean in means:
        course = _course(record)
        whole = _whole(record, part.span_ms)
        start = course.first_mean(intersection(candidates, whole), part.span_ms, mean, record.hoped())
        if start is None and record.truth is None:
            highest = course.highest_mean(whole, part.span_ms, mean)
        elif start is not None and candidates:
            together += 1
    counts: Numbers = {
        "window_h": hours(part.span_ms),
        "parts_met": together,
        "parts_needed": len(part.within),
    }
    met_at = None if start is None else start + part.span_ms
    words = "" if met_at is not None else _there(part, record, highest)
    return Judged(met_at=met_at, values=counts, span=start, words=words)


def _course(record: Record) -> Course:
    if record.course is None:
        raise ValueError("a mean over a window cannot be judged without the readings themselves (`course`)")
    return record.course


def _lasting(part: Window) -> list[Within]:
    return [one for one in part.within if not isinstance(one.part, Mean)]


def _starts(part: Run | Total | Mean, hold: Intervals, span_ms: int) -> Intervals:
    """Return where a window may begin so that the part is fulfilled within it."""
    assert not isinstance(part, Mean)
    if part.duration_ms > span_ms:
        return ()
    return _starts_of_run(part, hold, span_ms) if isinstance(part, Run) else _starts_of_total(part, hold, span_ms)


def _starts_of_run(part: Run, hold: Intervals, span_ms: int) -> Intervals:
    # [s, s + span] shares at least the duration with [start, end].
    return normal(
        (start + part.duration_ms - span_ms, end - part.duration_ms) for start, end in lasting(hold, part.duration_ms)
    )


def _starts_of_total(part: Total, hold: Intervals, span_ms: int) -> Intervals:
    # Between these places the hold within a window changes by one ms for each ms that the window moves, or not at all.
    lasted = Measure(hold)
    places = sorted({at - back for pair in hold for at in pair for back in (0, span_ms)})
    found = []
    for first, last in pairwise(places):
        short_first = part.duration_ms - lasted.between(first, first + span_ms)
        short_last = part.duration_ms - lasted.between(last, last + span_ms)
        if short_first <= 0 or short_last <= 0:
            found.append((first + max(short_first, 0), last - max(short_last, 0)))
    return normal(found)


def _whole(record: Record, span_ms: int) -> Intervals:
    """Return where a window may begin so that all of it is known (in a doubt: or hoped)."""
    return tuple((start, end - span_ms) for start, end in lasting(record.proven, span_ms))


def _most_together(sets: list[Intervals]) -> int:
    """Return of how many sets one instant is a member, at most."""
    edges = sorted([(at, -1) for own in sets for at, _ in own] + [(at, 1) for own in sets for _, at in own])
    most = now = 0
    for _, kind in edges:
        now -= kind
        most = max(most, now)
    return most


def _there(part: Window, record: Record, highest: int | None) -> str:
    """Return in words how much there was of each thing wanted."""
    said = []
    for one in part.within:
        if isinstance(one.part, Mean):
            mean = f"{highest / 1000:.3f} °C" if highest is not None else None
            said.append(f"highest mean {mean}" if mean else "no such time is known from end to end")
            continue
        hold = record.hold_at(one.limits)
        limits = one.limits or record.limits
        degrees = limits.low_text or show_temperature(limits.low_milli_c, "degC")
        run = longest(hold)
        if run is None:
            said.append(f"never proven {'above' if limits.strict else 'at'} {degrees}")
        elif isinstance(one.part, Run):
            said.append(f"longest proven run at {degrees} {show_duration(run[1] - run[0])}")
        else:
            said.append(f"proven at {degrees} {show_duration(total(hold))} in all")
    return ", ".join(said)
