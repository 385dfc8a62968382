"""The whole answer: the tried sets, those worth a look, the one to take, and how sure that is.

Rules:
1. With `LEAST_TROUBLES` or more labelled troubles, and at least two of them in each part of the record, sets are chosen on one
   part by whole weeks and reported on the other. With fewer the answer only lists the messages that would have been sent: any
   set can fit four troubles by luck.
2. Today's settings always stand in the answer, on the same weeks.
3. At most `MOST_ROWS` rows; the suggested set and today's are among them.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from zoneinfo import ZoneInfo

from monitor.tuning.calls import Call
from monitor.tuning.choice import WORTH, apart, at_most, figures, one_of_each, suggested, unbeaten
from monitor.tuning.compare import Moves, moves_of
from monitor.tuning.hints import Kept
from monitor.tuning.labels import Ground
from monitor.tuning.scoring import Judged, Score, score
from monitor.tuning.vary import Set, Vary
from monitor.tuning.weeks import Parts, Week, by_week, joined, parts_of, spread, weeks_of

LEAST_TROUBLES = 5
MOST_ROWS = 10
_LEAST_EACH = 2


class Kind(StrEnum):
    """The kind of answer that the labels allow."""

    CHOSEN = "chosen"
    WHAT_IF = "what if"


class Why(StrEnum):
    """The reason why there are only counts."""

    NO_LABELS = "no labels"
    FEW = "few"
    ONE_PART = "one part"


@dataclass(frozen=True, slots=True, kw_only=True)
class Tried:
    """One set and its run; `values` of None are today's settings."""

    values: Set
    judged: Judged
    kept: Kept | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One row of the answer.

    Attributes:
        values: The set.
        score: On the weeks that are reported (the whole record if there are only counts).
        needless_spread: 10th and 90th percentile of needless messages a week over drawn weeks, or None.
        caught_spread: The same of the share of troubles that were caught.
        choosing: On the weeks it was chosen on, or None.
        judged: The run itself.
        kept: Hinted calls, and how many of them the set would have sent.
        today, suggested: Whether it is one of the two.
        alike: Number of other sets with the very same messages, if there are only counts.
        moves: Today's messages compared with those of the set, or None until `with_moves`.
    """

    values: Set
    score: Score
    judged: Judged
    needless_spread: tuple[float, float] | None = None
    caught_spread: tuple[float, float] | None = None
    choosing: Score | None = None
    kept: Kept | None = None
    today: bool = False
    suggested: bool = False
    alike: int = 0
    moves: Moves | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Findings:
    """The answer of tuning for one place.

    Attributes:
        kind, why: The kind of answer, and the reason if there are only counts.
        ground: The truth that the runs were compared with.
        weeks: All weeks; `parts` are those chosen and reported on, None if there are only counts.
        rows: Best first; today's among them.
        tried: Number of sets that were run, without today's.
        points: The score of every set that has no row, on the weeks that are reported, for a picture.
    """

    kind: Kind
    why: Why | None
    ground: Ground
    weeks: tuple[Week, ...]
    parts: Parts | None
    rows: tuple[Row, ...]
    tried: int
    points: tuple[Score, ...]

    @property
    def now(self) -> Row:
        """Today's row."""
        return next(row for row in self.rows if row.today)

    @property
    def best(self) -> Row | None:
        """The suggested row, if any; it may be today's."""
        return next((row for row in self.rows if row.suggested), None)


def allowed(ground: Ground, weeks: Sequence[Week]) -> tuple[Parts | None, Why | None]:
    """Return the parts of the record, or the reason why there are none (rule 1)."""
    if not ground.troubles:
        return None, Why.NO_LABELS
    if len(ground.troubles) < LEAST_TROUBLES:
        return None, Why.FEW
    starts = [max(one.start, ground.start) for one in ground.troubles]
    parts = parts_of(weeks, starts)
    counts = [sum(by_week(part, starts)) for part in (parts.choosing, parts.reporting)]
    return (parts, None) if min(counts) >= _LEAST_EACH else (None, Why.ONE_PART)


def findings_of(
    ground: Ground,
    varies: Sequence[Vary],
    now: Tried,
    tried: Sequence[Tried],
    zone: ZoneInfo,
    *,
    worth: int = WORTH,
    seed: int = 1,
) -> Findings:
    """Compare the runs of all sets and choose among them.

    Args:
        ground: The truth of the place.
        varies: The thresholds that were varied.
        now: The run with today's settings.
        tried: The runs of all sets.
        zone: The yard's time zone, for its weeks.
        worth: Needless messages that weigh as much as one missed trouble.
        seed: Makes the draws of the spread.

    Returns:
        The rows to show, best first, and the scores of the rest.
    """
    weeks = weeks_of(ground.start, ground.end, zone)
    parts, why = allowed(ground, weeks)
    runs = [now, *(one for one in tried if one.values != now.values)]
    if parts is None:
        return _counts(ground, varies, runs, weeks, why)
    choosing, reporting = joined(parts.choosing), joined(parts.reporting)
    chosen_on = [score(one.judged, ground, choosing) for one in runs]
    sets = [one.values for one in runs]
    free = unbeaten(chosen_on)
    best = suggested(free, chosen_on, sets, varies, now.values, worth)
    shown = one_of_each(free, chosen_on, sets, varies)
    for special in (best, 0):  # of equal sets, the suggested one or today's stands for all
        shown = [special if figures(chosen_on[number]) == figures(chosen_on[special]) else number for number in shown]
    shown = at_most(shown, MOST_ROWS - (0 not in shown), lambda number: number in (0, best))
    reported = [score(one.judged, ground, reporting) for one in runs]
    told = list(dict.fromkeys((best, *shown, 0)))
    rows = [
        Row(
            values=runs[number].values,
            score=reported[number],
            judged=runs[number].judged,
            needless_spread=needless_spread(runs[number].judged, ground, parts.reporting, seed),
            caught_spread=caught_spread(runs[number].judged, ground, parts.reporting, seed),
            choosing=chosen_on[number],
            kept=runs[number].kept,
            today=number == 0,
            suggested=number == best,
        )
        for number in told
    ]
    return Findings(
        kind=Kind.CHOSEN, why=None, ground=ground, weeks=weeks, parts=parts, rows=tuple(rows), tried=len(runs) - 1,
        points=tuple(one for number, one in enumerate(reported) if number not in told),
    )  # fmt: skip


def _counts(
    ground: Ground, varies: Sequence[Vary], runs: Sequence[Tried], weeks: tuple[Week, ...], why: Why | None
) -> Findings:
    """Return the answer with counts only, fewest messages first; of sets with the same messages the one nearest to today's."""
    scores = [score(one.judged, ground) for one in runs]
    alike: dict[tuple[object, ...], list[int]] = {}
    for number, one in enumerate(runs):
        alike.setdefault((one.judged.told, *one.judged.by_alarm.items(), scores[number].alarm_ms), []).append(number)
    groups = {
        min(
            members, key=lambda number: (number > 0, apart(runs[number].values, runs[0].values, varies), number)
        ): members
        for members in alike.values()
    }
    order = sorted(groups, key=lambda number: (scores[number].messages, runs[number].values))
    if len(varies) == 1:
        order = sorted(groups, key=lambda number: runs[number].values)
    shown = at_most([number for number in order if number], MOST_ROWS - 1, lambda _: False)
    rows = [
        Row(
            values=runs[number].values,
            score=scores[number],
            judged=runs[number].judged,
            kept=runs[number].kept,
            today=number == 0,
            alike=len(groups[number]) - 1,
        )
        for number in (0, *shown)
    ]
    return Findings(
        kind=Kind.WHAT_IF, why=why, ground=ground, weeks=weeks, parts=None, rows=tuple(rows), tried=len(runs) - 1,
        points=tuple(one for number, one in enumerate(scores) if number not in (0, *shown)),
    )  # fmt: skip


def with_moves(found: Findings, calls_of: Callable[[Set], Sequence[Call]]) -> Findings:
    """Return the findings with each row's messages compared with today's.

    Only the rows are run again: all calls of all sets would fill a small computer's memory.
    """
    now = calls_of(found.now.values)
    rows = [replace(row, moves=moves_of(now, calls_of(row.values))) for row in found.rows]
    return replace(found, rows=tuple(rows))


def needless_spread(judged: Judged, ground: Ground, weeks: Sequence[Week], seed: int) -> tuple[float, float] | None:
    """Estimate the luck in the rate of needless messages.

    Args:
        judged: The run.
        ground: The truth of the place.
        weeks: The weeks to draw from.
        seed: Makes the draws.

    Returns:
        10th and 90th percentile of needless messages a week over the draws; None if no draw holds judged time.
    """
    counts = by_week(weeks, judged.needless)
    lasting = [score(judged, ground, (week,)).judged_ms for week in weeks]

    def rate(draw: Sequence[int]) -> float | None:
        judged_ms = sum(lasting[week] for week in draw)
        return sum(counts[week] for week in draw) * 7 * 86_400_000 / judged_ms if judged_ms else None

    return spread(len(weeks), rate, seed)


def caught_spread(judged: Judged, ground: Ground, weeks: Sequence[Week], seed: int) -> tuple[float, float] | None:
    """Estimate the luck in the share of troubles caught.

    Args:
        judged: The run.
        ground: The truth of the place.
        weeks: The weeks to draw from.
        seed: Makes the draws.

    Returns:
        10th and 90th percentile of the share (0 to 1) over the draws; None if no draw holds a trouble.
    """
    there = by_week(weeks, [max(one.start, ground.start) for one in ground.troubles])
    caught = by_week(
        weeks,
        [
            max(one.start, ground.start)
            for one, warning in zip(ground.troubles, judged.warnings, strict=True)
            if warning is not None
        ],
    )

    def share(draw: Sequence[int]) -> float | None:
        troubles = sum(there[week] for week in draw)
        return sum(caught[week] for week in draw) / troubles if troubles else None

    return spread(len(weeks), share, seed)
