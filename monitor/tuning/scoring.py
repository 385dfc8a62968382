"""Holds what a run said against what really was: caught, missed, warning time, needless messages, time in alarm.

Rules:
1. A trouble is *caught* if a call about it was told (for the first time or again) within its window: from `early_ms` before its
   start, but not before the end of the trouble before it that is about the same, to `late_ms` after its start or to its end,
   whichever comes first; both ends included. Told earlier than that is too early to connect the two.
2. Its *warning time* is its start less the first such telling; negative where people were told after it had begun.
3. A call is *needless* if it was first told in judged time and caught nothing. One told outside judged time is needless to
   nobody: it was told during a trouble, or where nobody said how things were (counted as *unjudged*).
4. Rates are counts by judged time. *Time in alarm* is any time with an alarm of the place on, judged or not.
5. A trouble belongs to where it starts, a call to where it was first told: that is how a part of a record is scored.
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
    """How early a message still counts as a warning of a trouble, and how late it still helps (ours; both in ms)."""

    early_ms: int = 24 * HOUR_MS
    late_ms: int = 6 * HOUR_MS


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """One run held against the truth; plain values, so that worker processes can send it back.

    Attributes:
        warnings: For each trouble of the ground: its warning time in ms, or None where it was missed.
        late: For each that was missed: how long after its start (ms) people were told during it, too late; else None.
        needless: When each needless call was first told, rising.
        unjudged: When each call was first told that nobody can judge, rising.
        useful: When each call was first told that caught something, rising.
        told: When each call of the place was first told, rising, whatever became of it.
        on: The time in alarm.
        by_alarm: How many calls each alarm made.
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
        troubles, caught: How many there were, and how many of them were caught.
        median_ms, worst_ms: Warning times of those caught, or None where none was.
        needless: How many needless calls.
        judged_ms: How much time a needless call could fall in.
        unjudged: How many calls nobody can judge.
        messages: How many calls in all.
        alarm_ms, span_ms: Time in alarm, and what the part lasts.
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
        """How many troubles were not caught."""
        return self.troubles - self.caught

    def needless_in(self, span_ms: int) -> float:
        """Return how many needless calls there are in such a span (a week: `WEEK_MS`); 0 where nothing was judged."""
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
    """Return a run held against the truth."""
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
    # During a trouble a message more or less is nobody's worry; elsewhere nobody knows.
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
    """Return how long after its start people were first told of a trouble, after its window and before its end."""
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
    """Return the figures of a run over the whole record, or over a part of it (rule 5)."""
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
