"""Compares a run with the truth: troubles caught and missed, warning time, needless messages, time in alarm.

Rules:
1. A trouble is *caught* if a message about it came (the first or a repeat) within its window: from `early_ms` before its
   start, but not before the end of the trouble before it that is about the same, to `late_ms` after its start or to its end,
   whichever comes first; both ends included. A message before that is too early for anybody to connect the two.
2. Its *warning time* is its start less the first such message; negative if people heard only after it had begun.
3. A call is *needless* if its first message came in judged time and caught nothing. Outside judged time no call is needless:
   it came during a trouble, or at a time that nobody judged (counted as *unjudged*).
4. Rates are counts by judged time. *Time in alarm* is any time with an alarm of the place on, judged or not.
5. A trouble belongs to the part of the record that holds its start, a call to the part that holds its first message.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median_low

from monitor.model.times import DAY_MS, HOUR_MS
from monitor.proof.intervals import Intervals, contains, intersection, total
from monitor.tuning.calls import Call, Heard
from monitor.tuning.labels import Ground, Trouble

WEEK_MS = 7 * DAY_MS


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """The window in which a message counts as a warning of a trouble: how early, how late (our choice; ms)."""

    early_ms: int = 24 * HOUR_MS
    late_ms: int = 6 * HOUR_MS


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """One run compared with the truth; plain values, so that worker processes can send it back.

    Attributes:
        warnings: For each trouble of the ground: its warning time in ms, or None if it was missed.
        late: For each missed trouble: delay (ms) of a message that came during it, too late; else None.
        needless: First message of each needless call, rising.
        unjudged: First message of each call that nobody can judge, rising.
        useful: First message of each call that caught something, rising.
        told: First message of each call of the place, rising.
        on: The time in alarm.
        by_alarm: Number of calls of each alarm.
    """

    warnings: tuple[int | None, ...]
    late: tuple[int | None, ...]
    needless: tuple[int, ...]
    unjudged: tuple[int, ...]
    useful: tuple[int, ...]
    told: tuple[int, ...]
    on: Intervals
    by_alarm: dict[str, int]


@dataclass(frozen=True, slots=True, kw_only=True)
class Score:
    """The figures of one run over a record or a part of it; times in ms.

    Attributes:
        troubles, caught: Numbers of troubles, and of those caught.
        median_ms, worst_ms: Warning times of those caught, or None if none was.
        needless: Number of needless calls.
        judged_ms: Time in which a call could be needless.
        unjudged: Number of calls that nobody can judge.
        messages: Number of all calls.
        alarm_ms, span_ms: Time in alarm, and length of the part.
    """

    troubles: int
    caught: int
    median_ms: int | None
    worst_ms: int | None
    needless: int
    judged_ms: int
    unjudged: int
    messages: int
    alarm_ms: int
    span_ms: int

    @property
    def missed(self) -> int:
        """Number of troubles that were not caught."""
        return self.troubles - self.caught

    def needless_in(self, span_ms: int) -> float:
        """Return the needless calls per span of such length (a week: `WEEK_MS`); 0 if no time was judged."""
        return self.needless * span_ms / self.judged_ms if self.judged_ms else 0.0


def windows(troubles: Sequence[Trouble], window: Window) -> list[tuple[int, int]]:
    """Return the first and last instant at which a call catches each trouble (rule 1)."""
    found: list[tuple[int, int]] = []
    for number, trouble in enumerate(troubles):
        before = [
            one.end
            for one in troubles[:number]
            if one.end < trouble.start and (one.about == trouble.about or not one.about or not trouble.about)
        ]
        first = max([trouble.start - window.early_ms, *before])
        found.append((first, min(trouble.start + window.late_ms, trouble.end)))
    return found


def judge(said: Heard, ground: Ground, window: Window) -> Judged:
    """Compare a run with the truth.

    Args:
        said: The calls of the run.
        ground: The truth of the place.
        window: How early and how late a message counts.

    Returns:
        Warning times, and the calls sorted by what they were worth.
    """
    useful: set[int] = set()
    warnings: list[int | None] = []
    late: list[int | None] = []
    for trouble, (first, last) in zip(ground.troubles, windows(ground.troubles, window), strict=True):
        told: list[int] = []
        for number, call in enumerate(said.calls):
            if not trouble.concerns(call.alarm) or call.first > last:
                continue
            within = [at for at in call.told if first <= at <= last]
            if within:
                useful.add(number)
                told.append(within[0])
        warnings.append(trouble.start - min(told) if told else None)
        late.append(None if told else _too_late(said.calls, trouble, last))
    rest = [call for number, call in enumerate(said.calls) if number not in useful]
    inside = [call.first for call in rest if contains(ground.judged, call.first)]
    # A call during a trouble bothers nobody; other calls outside judged time remain unjudged.
    open_ = [call.first for call in rest if not contains(ground.judged, call.first) and not _in_trouble(call, ground)]
    return Judged(
        warnings=tuple(warnings),
        late=tuple(late),
        needless=tuple(inside),
        unjudged=tuple(open_),
        useful=tuple(said.calls[number].first for number in sorted(useful)),
        told=tuple(call.first for call in said.calls),
        on=said.on,
        by_alarm=_counts(said.calls),
    )


def _too_late(calls: Sequence[Call], trouble: Trouble, last: int) -> int | None:
    """Return the delay after a trouble's start of its first message, if that came after its window and before its end."""
    told = [at for call in calls if trouble.concerns(call.alarm) for at in call.told if last < at <= trouble.end]
    return min(told) - trouble.start if told else None


def _in_trouble(call: Call, ground: Ground) -> bool:
    return any(trouble.start <= call.first <= trouble.end for trouble in ground.troubles)


def _counts(calls: Sequence[Call]) -> dict[str, int]:
    counts: dict[str, int] = {}
    for call in calls:
        counts[call.alarm] = counts.get(call.alarm, 0) + 1
    return dict(sorted(counts.items()))


def score(judged: Judged, ground: Ground, part: Intervals | None = None) -> Score:
    """Work out the figures of a run.

    Args:
        judged: The run.
        ground: The truth of the place.
        part: The part of the record to score (rule 5); None: all of it.

    Returns:
        Counts and times over the part.
    """
    where = part if part is not None else ((ground.start, ground.end),)

    def inside(at: int) -> bool:
        return part is None or contains(where, at)

    mine = [
        warning
        for trouble, warning in zip(ground.troubles, judged.warnings, strict=True)
        if inside(max(trouble.start, ground.start))
    ]
    caught = [warning for warning in mine if warning is not None]
    counts = [sum(map(inside, times)) for times in (judged.needless, judged.unjudged, judged.told)]
    return Score(
        troubles=len(mine),
        caught=len(caught),
        median_ms=median_low(caught) if caught else None,
        worst_ms=min(caught, default=None),
        needless=counts[0],
        judged_ms=total(intersection(ground.judged, where)),
        unjudged=counts[1],
        messages=counts[2],
        alarm_ms=total(intersection(judged.on, where)),
        span_ms=total(where),
    )
