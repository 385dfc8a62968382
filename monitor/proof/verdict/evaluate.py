"""Holds a batch's record against a rule: met, not met, or not proven, with numbers and reasons a person understands.

Rules this module keeps:

1. What was known before material last came in (`built`, `added`) counts no more.
2. *Not proven* means: it would be met if all unproven time between the record's ends had been within the limits
   (`Record.hopeful`). Recoveries stay those of the record itself, so time that is hoped for never ends one.
3. Of several alternatives any one is enough; the finding tells of the one that was met first, else of the one that
   stands best, the earlier of equals.
4. On basis *each* every probe is judged by itself and the worst of them is the verdict.
5. The rule's other conditions stand beside the verdict. Only monitoring duties that were examined and failed change
   it, from met to not proven.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from monitor.model.turnings import counted_firsts
from monitor.proof.governing import Course
from monitor.proof.holdset import HoldBasis, HoldSet, ProbeSets
from monitor.proof.intervals import Intervals, contains, cut, longest, total
from monitor.proof.judging import Day, Judged, Record, judge
from monitor.proof.rules import Alternative, Limits, Part, Rule, Run, RunBeforeTurnings, joined, scattered, unbroken
from monitor.proof.verdict.endings import say_day, say_ending
from monitor.proof.verdict.other_conditions import Examined, examine
from monitor.proof.verdict.question import Question
from monitor.proof.verdict.reasons import Missing, exactly, say_left_out, say_met, say_missing, say_needs
from monitor.proof.verdict.rule_finding import Finding, Outcome, PartFinding

_ORDER = (Outcome.MET, Outcome.NOT_PROVEN, Outcome.NOT_MET)
_FAILED_DUTY = "the rule's monitoring duties were examined and not kept"


@dataclass(frozen=True, slots=True, kw_only=True)
class _Case:
    """The facts that every alternative shares; the attributes are those of `Record`, and `since`, from when on it counts."""

    rule: Rule
    start: int
    end: int
    turnings: tuple[int, ...]
    logged: tuple[int, ...]
    falls: tuple[tuple[int, int], ...]
    gap_ms: int
    since: int
    course: Course | None


@dataclass(frozen=True, slots=True)
class _Ruling:
    """The result of one alternative."""

    outcome: Outcome
    met_at: int | None
    judged: tuple[Judged, ...]
    parts: tuple[PartFinding, ...]


def evaluate(
    question: Question,
    sets: Sequence[HoldSet],
    *,
    falls: Sequence[tuple[int, int]] = (),
    course: Course | None = None,
) -> Finding:
    """Return the verdict on a batch under a rule.

    Args:
        question: The rule, and by what it is judged; the record's ends are named.
        sets: The hold set for each of `rule.all_limits()`, in that order, all on one basis.
        falls: (logged, begun) of entries of turnings before which the probes had felt the air already
            (`model.turnings`), UTC ms.
        course: The temperatures themselves; needed where `rule.needs_readings`, and with them the reasons say more.

    Returns:
        The verdict, by the alternative that stands best.

    Raises:
        ValueError: There are not as many hold sets as limits, the record has no ends or ends before it starts, or the
            rule needs the temperatures themselves and they did not come.
    """
    rule, every = question.rule, question.rule.all_limits()
    if len(sets) != len(every):
        raise ValueError(f"rule {rule.id} has {len(every)} sets of limits but {len(sets)} hold sets came")
    case = _case(question, falls, course)
    if rule.needs_readings and course is None:
        raise ValueError(f"rule {rule.id} cannot be judged without the readings themselves (`course`)")
    by_limits = dict(zip(every, sets, strict=True))
    judge_way = _each if sets[0].basis is HoldBasis.EACH else _finding
    finding = min((judge_way(case, place, by_limits) for place in range(len(rule.alternatives))), key=_rank)
    return finding if question.evidence is None else _with_conditions(finding, examine(rule, question.evidence))


def _case(question: Question, falls: Sequence[tuple[int, int]], course: Course | None) -> _Case:
    start, end = question.start, question.end
    if start is None or end is None:
        raise ValueError("a record without ends cannot be judged")
    if end < start:
        raise ValueError(f"a record cannot start at {start} and end at {end}")
    until = end if question.as_of is None else max(end, question.as_of)
    since = max((at for at in question.restarts if start <= at <= until), default=start)
    entries = sorted(at for at in question.turnings if at <= until)
    return _Case(
        rule=question.rule,
        start=start,
        end=end,
        # Grouped before the cut: an entry after material came in is no turning of its own if it belongs to one before.
        turnings=counted_firsts(entries, question.rule.together_ms),
        logged=tuple(entries),
        falls=tuple(sorted((at, begun) for at, begun in falls if since <= at <= end)),
        gap_ms=question.max_gap_ms,
        since=since,
        course=course,
    )


def _rank(finding: Finding) -> tuple[int, int, int]:
    """Order findings from best to worst."""
    met_at = finding.met_at if finding.met_at is not None else 0
    return _ORDER.index(finding.outcome), met_at, -finding.total_ms


def _with_conditions(finding: Finding, examined: tuple[Examined, ...]) -> Finding:
    failed = [one for one in examined if one.ok is False]
    if finding.outcome is not Outcome.MET or not failed:
        return replace(finding, conditions=examined)
    said = "; ".join(f"{one.text}: {one.words}" for one in failed)
    return replace(
        finding,
        outcome=Outcome.NOT_PROVEN,
        conditions=examined,
        reasons=(*finding.reasons, f"{_FAILED_DUTY} ({said})"),
    )


def _each(case: _Case, place: int, by_limits: Mapping[Limits, HoldSet]) -> Finding:
    """Return the worst probe's finding under one alternative, with the intervals that all probes share."""
    whole = by_limits[case.rule.alternatives[place].limits]
    found = []
    for number, own in enumerate(whole.probes):
        course = case.course.of(own.probe) if case.course is not None else None
        alone = {limits: _alone(one.probes[number]) for limits, one in by_limits.items()}
        found.append(replace(_finding(replace(case, course=course), place, alone), probe=own.probe))
    if not found:
        nothing = HoldSet(basis=HoldBasis.COLDEST, proven=(), hold=(), probes=())
        found.append(_finding(case, place, dict.fromkeys(by_limits, nothing)))
    worst = max(found, key=_rank)
    return replace(
        worst,
        hold=cut(whole.hold, worst.counts_from, worst.end),
        proven=cut(whole.proven, worst.counts_from, worst.end),
        unproven_ms=worst.end - worst.start - total(cut(whole.proven, worst.start, worst.end)),
    )


def _alone(own: ProbeSets) -> HoldSet:
    return HoldSet(basis=HoldBasis.COLDEST, proven=own.proven, hold=own.hold, probes=(own,))


def _finding(case: _Case, place: int, by_limits: Mapping[Limits, HoldSet]) -> Finding:
    """Return the verdict on one alternative."""
    way = case.rule.alternatives[place]
    sets = by_limits[way.limits]
    end = max(case.end, case.since)
    record = Record(
        start=case.since,
        end=end,
        limits=way.limits,
        hold=cut(sets.hold, case.since, case.end),
        proven=cut(sets.proven, case.since, case.end),
        turnings=tuple(at for at in case.turnings if case.since <= at <= end),
        logged=tuple(at for at in case.logged if case.since <= at <= end),
        holds={limits: cut(by_limits[limits].hold, case.since, case.end) for limits in way.all_limits()},
        course=case.course,
        falls=case.falls,
        gap_ms=case.gap_ms,
    )
    words = _Words(record, sets, _lost(case, sets.hold))
    ruling = _ruling(way, record, words)
    strict = unbroken(way)
    beside = _ruling(strict, record, words) if strict is not None else None
    free = scattered(way)
    apart = _ruling(free, record, words) if free is not None else None
    days = next((words.days(one.days) for one in ruling.judged if one.days), ())
    values: dict[str, int | float] = {}
    for judged in ruling.judged:
        values.update(judged.values)
    return Finding(
        outcome=ruling.outcome,
        met_at=ruling.met_at,
        alternative=place,
        start=case.start,
        end=case.end,
        counts_from=case.since,
        hold=record.hold,
        proven=record.proven,
        total_ms=total(record.hold),
        longest_run=longest(record.hold),
        unproven_ms=case.end - case.start - total(cut(sets.proven, case.start, case.end)),
        turnings=max(judged.turnings for judged in ruling.judged),
        turnings_logged=len(case.logged),
        values=values,
        reasons=(*(one.reason for one in ruling.parts), *filter(None, (say_left_out(days),))),
        unbroken=beside.outcome if beside is not None else None,
        unbroken_reasons=tuple(one.reason for one in beside.parts) if beside is not None else (),
        scattered=apart.outcome if apart is not None else None,
        scattered_reasons=tuple(one.reason for one in apart.parts) if apart is not None else (),
        days=days,
        falls=case.falls,
        parts=ruling.parts,
    )


def _lost(case: _Case, hold: Intervals) -> str:
    """Return in words the hold that ended as material came in, and so counts no more; or ""."""
    if case.since == case.start or not contains(hold, case.since - 1):
        return ""
    before = cut(hold, case.start, case.since)[-1]
    return f"the hold of {exactly(before[1] - before[0])} before that ended when material was added"


@dataclass(frozen=True, slots=True)
class _Words:
    """Puts the outcome of a part into words."""

    record: Record
    sets: HoldSet
    lost: str

    def days(self, days: tuple[Day, ...]) -> tuple[Day, ...]:
        """Return days with why each of them does not count."""
        return tuple(replace(day, why=say_day(self.sets, day)) for day in days)

    def of(self, part: Part, judged: Judged, hoped: Judged) -> PartFinding:
        """Return the finding of one part; `hoped` is what came of it in the doubt."""
        record = self.record
        if judged.met_at is not None:
            outcome, reason = Outcome.MET, say_met(record.limits, part, judged)
        else:
            doubtful = hoped.met_at is not None
            outcome = Outcome.NOT_PROVEN if doubtful else Outcome.NOT_MET
            run = longest(record.hold) if isinstance(part, Run | RunBeforeTurnings) else None
            ending = say_ending(record, self.sets, record.limits, run[1]) if run is not None else ""
            lost = self.lost if run is None or run[0] == record.start else ""
            missing = Missing(judged=judged, record=record, doubtful=doubtful, ending=ending, lost=lost)
            reason = say_missing(record.limits, part, missing)
        return PartFinding(
            kind=type(part).__name__,
            needs=say_needs(record.limits, part),
            outcome=outcome,
            met_at=judged.met_at,
            reason=reason,
            values=judged.values,
        )


def _ruling(way: Alternative, record: Record, words: _Words) -> _Ruling:
    judged = tuple(judge(part, record) for part in way.parts)
    met_at = joined(way.join, [one.met_at for one in judged])
    doubt = judged
    outcome = Outcome.MET
    if met_at is None:
        hopeful = record.hopeful()
        doubt = tuple(judge(part, hopeful) for part in way.parts)
        fulfilled = joined(way.join, [one.met_at for one in doubt]) is not None
        outcome = Outcome.NOT_PROVEN if fulfilled else Outcome.NOT_MET
    found = zip(way.parts, judged, doubt, strict=True)
    return _Ruling(outcome, met_at, judged, tuple(words.of(part, one, hoped) for part, one, hoped in found))
