"""The sentences that go with a verdict: the rule's needs, how much of them there was, and what a doubt hangs on."""

from collections.abc import Sequence
from dataclasses import dataclass

from monitor.model.times import SECOND_MS, show_duration, show_time
from monitor.model.units import show_temperature
from monitor.proof.counting import DayKind, counted_turnings
from monitor.proof.intervals import complement, longest, total
from monitor.proof.judging import Day, Judged, Record
from monitor.proof.rules import (
    Constant,
    Days,
    Limits,
    Mean,
    Part,
    Run,
    RunBeforeTurnings,
    Turnings,
    Window,
    turnings_of,
)

_MOST_DAYS = 10
"""Days that do not count and are named one by one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Missing:
    """Facts about a part that was not met, for its sentence.

    Attributes:
        judged: What came of it.
        record: What is known of the batch.
        doubtful: Whether it would be met if the unproven time satisfied it.
        ending: What ended the longest hold (`endings`), or "".
        lost: What was held when material came in, which counts no more, or "".
    """

    judged: Judged
    record: Record
    doubtful: bool
    ending: str = ""
    lost: str = ""


def say_limits(limits: Limits) -> str:
    """Return the limits in words: `at 131 °F (55 °C) or above and at most 170 °F (76.7 °C)`."""
    low = _degrees(limits.low_text, limits.low_milli_c)
    text = f"above {low}" if limits.strict else f"at {low} or above"
    if limits.high_milli_c is not None:
        text += f" and at most {_degrees(limits.high_text, limits.high_milli_c)}"
    return text


def _degrees(written: str, milli_c: int) -> str:
    celsius = show_temperature(milli_c, "degC")
    return celsius if written in {"", celsius} else f"{written} ({celsius})"


def exactly(duration_ms: int) -> str:
    """Return a duration to the last second or millisecond: just under a limit it must not look like the limit."""
    seconds, odd_ms = divmod(duration_ms, SECOND_MS)
    days = seconds // 86_400 if seconds > 72 * 3600 else 0
    hours, rest = divmod(seconds - days * 86_400, 3600)
    minutes, left = divmod(rest, 60)
    parts = [f"{count} {word}" for count, word in ((days, "days"), (hours, "h"), (minutes, "min")) if count]
    if left or odd_ms:
        parts.append(f"{left}.{odd_ms:03d} s" if odd_ms else f"{left} s")
    return " ".join(parts) or "0 s"


def say_needs(limits: Limits, part: Part) -> str:
    """Return the demand of a part in words: `needs 72 h unbroken at 55 °C or above`."""
    if isinstance(part, Window):
        wanted = [
            _mean(one.part) if isinstance(one.part, Mean) else _lasting(one.limits or limits, one.part)
            for one in part.within
        ]
        return f"needs, within the same {show_duration(part.span_ms)}, {' and '.join(wanted)}"
    if isinstance(part, RunBeforeTurnings):
        turned = f"{part.count} turnings, each" if part.count > 1 else "a turning"
        return f"needs {turned} after {show_duration(part.duration_ms)} unbroken {say_limits(limits)}"
    if isinstance(part, Constant):
        least = f"{show_duration(part.floor_ms)} or more, the longer the cooler" if part.floor_ms else "long enough"
        return f"needs one temperature {say_limits(limits)} kept unbroken for {least}"
    return f"needs {_lasting(limits, part)}"


def _lasting(limits: Limits, part: Part) -> str:
    if isinstance(part, Days):
        days = f"{part.count} days" if part.count > 1 else "1 day"
        text = f"{days} that follow one another" if part.consecutive else days
    else:
        assert not isinstance(part, Window | Constant)
        text = f"{show_duration(part.duration_ms)} {'unbroken' if isinstance(part, Run) else 'in all'}"
    return f"{text} {say_limits(limits)}"


def _mean(mean: Mean) -> str:
    degrees = _degrees(mean.text, mean.low_milli_c)
    return f"a mean {'above' if mean.strict else 'of at least'} {degrees}"


def _needs_turnings(wanted: Turnings) -> str:
    text = f"{wanted.count} turnings" if wanted.count > 1 else "1 turning"
    if wanted.apart_ms:
        text += f" at least {show_duration(wanted.apart_ms)} apart"
    return text


def say_met(limits: Limits, part: Part, judged: Judged) -> str:
    """Return the sentence for a part that was met.

    Args:
        limits: Within which limits.
        part: What was wanted.
        judged: What came of it.

    Returns:
        What is needed, and when it was met.
    """
    assert judged.met_at is not None
    wanted = turnings_of(part)
    turnings = f" with {_needs_turnings(wanted)}" if wanted is not None else ""
    words = f"; {judged.words}" if judged.words else ""
    return f"{say_needs(limits, part)}{turnings}{words}; met at {show_time(judged.met_at)}"


def say_missing(limits: Limits, part: Part, missing: Missing) -> str:
    """Return the sentence for a part that was not met.

    Args:
        limits: Within which limits.
        part: What was wanted.
        missing: What is known of it.

    Returns:
        What is needed, what was there, and what is in doubt.
    """
    text = f"{say_needs(limits, part)}; {_there(part, missing)}"
    if missing.ending:
        text += f", ended when {missing.ending}"
    wanted = turnings_of(part)
    if wanted is not None:
        counted = _counted(part, missing)
        text += f"; needs {_needs_turnings(wanted)} within that time, {counted} counted{_left_out(missing, counted)}"
    if missing.lost:
        text += f"; {missing.lost}"
    if missing.doubtful:
        unproven = complement(missing.record.proven, missing.record.start, missing.record.end)
        text += f"; would be met if the unproven time ({exactly(total(unproven))} in all) satisfied it"
    return text


def _counted(part: Part, missing: Missing) -> int:
    """Return how many turnings count within the time that the sentence names."""
    run = longest(missing.record.hold)
    if isinstance(part, Run) and run is not None:
        return len(counted_turnings(missing.record.turnings, part.turnings, *run))
    return missing.judged.turnings


def _days(part: Days, judged: Judged) -> str:
    """Return how many days count."""
    days = int(judged.values["days"])
    best = now = 0
    for day in judged.days if part.consecutive else ():
        now = now + 1 if day.kind is DayKind.COUNTED else now if day.kind is DayKind.OPEN else 0
        best = max(best, now)
    if best > days:
        return f"at most {best} {'follows' if best == 1 else 'follow'} one another, {days} at the end"
    return f"{days} {'day counts' if days == 1 else 'days count'}"


def say_left_out(days: Sequence[Day]) -> str:
    """Return which days do not count, and why, or ""."""
    lost = [day for day in days if day.why]
    if not lost:
        return ""
    shown = "; ".join(f"that from {show_time(day.start)}: {day.why}" for day in lost[:_MOST_DAYS])
    more = f"; and {len(lost) - _MOST_DAYS} more" if len(lost) > _MOST_DAYS else ""
    return f"{len(lost)} {'day does' if len(lost) == 1 else 'days do'} not count: {shown}{more}"


def _left_out(missing: Missing, counted: int) -> str:
    """Return why entries of turnings do not count, or ""."""
    record = missing.record
    doubled, apart = len(record.logged) - len(record.turnings), len(record.turnings) - counted
    why = [_one_with_another(doubled)] if doubled else []
    if apart > 0:
        why.append(f"{apart} {'lies' if apart == 1 else 'lie'} outside it or too close together")
    return f" (of {len(record.logged)} logged, {' and '.join(why)})" if why else ""


def _one_with_another(count: int) -> str:
    return f"{count} within 6 h of another {'is' if count == 1 else 'are'} one with it"


def _there(part: Part, missing: Missing) -> str:
    """Return in words how much of the duration there was."""
    if isinstance(part, Window | Constant):
        return missing.judged.words
    hold = missing.record.hold
    run = longest(hold)
    if run is None:
        return "never proven within these limits"
    if isinstance(part, RunBeforeTurnings):
        logged = len(missing.record.logged)
        count = f"{missing.judged.turnings} of {logged} logged {'turning' if logged == 1 else 'turnings'} count"
        doubled = logged - len(missing.record.turnings)
        count += f" ({_one_with_another(doubled)})" if doubled else ""
        return f"{count}; longest proven run {exactly(run[1] - run[0])}"
    if isinstance(part, Run):
        return f"longest proven run {exactly(run[1] - run[0])}, from {show_time(run[0])} to {show_time(run[1])}"
    if isinstance(part, Days):
        return f"{_days(part, missing.judged)}, first hold at {show_time(hold[0][0])}"
    return f"proven {exactly(total(hold))} in all, from {show_time(hold[0][0])} to {show_time(hold[-1][1])}"
