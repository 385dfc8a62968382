"""Holds a batch's record against a rule: met, not met, or not proven, with numbers and reasons a person understands.

Rules this module keeps:

1. What was known before material last came in (`built`, `added`) counts no more.
2. *Not proven* means: it would be met if all unproven time between the record's ends had been within the limits.
   Recoveries stay those of the record itself, so time that is given the benefit of the doubt never ends one.
3. Of several alternatives any one is enough; the finding tells of the one that was met first, else of the one that
   stands best, the earlier of equals.
4. On basis *each* every probe is judged by itself and the worst of them is the verdict.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from monitor.proof.durations import Judged, Record, joined, judge, recoveries
from monitor.proof.intervals import Intervals, complement, cut, difference, longest, normal, total, union
from monitor.proof.proven import HoldBasis, HoldSet
from monitor.proof.reasons import Missing, say_met, say_missing
from monitor.proof.rules import Alternative, Days, Rule, unbroken


class Outcome(StrEnum):
    """Verdict on time and temperature; stored and shown, so never renamed."""

    MET = "met"
    NOT_PROVEN = "not proven"
    NOT_MET = "not met"


_ORDER = (Outcome.MET, Outcome.NOT_PROVEN, Outcome.NOT_MET)


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """What came of a batch under a rule.

    Attributes:
        outcome: The verdict.
        met_at: The exact instant at which the rule was met, UTC ms, or None.
        alternative: Place of the alternative that this finding tells of.
        start, end: Ends of the record that was judged, UTC ms, as they were given.
        counts_from: Instant from which on it counts (material last came in), else `start`.
        hold, proven: The sets that were judged, from `counts_from` to `end`.
        total_ms, longest_run, unproven_ms: Sums over them; `unproven_ms` counts from `start` to `end`.
        turnings: Turnings that count, of the part that wants the most.
        values: Plain numbers, those of `RuleProgress.values`.
        reasons: Sentences, one a part.
        unbroken: The strict reading (days as one unbroken run) where the rule counts days, else None.
        unbroken_reasons: Its sentences.
        probe: On basis *each*, the probe that this finding tells of.
    """

    outcome: Outcome
    met_at: int | None
    alternative: int
    start: int
    end: int
    counts_from: int
    hold: Intervals
    proven: Intervals
    total_ms: int
    longest_run: tuple[int, int] | None
    unproven_ms: int
    turnings: int
    values: dict[str, int | float]
    reasons: tuple[str, ...]
    unbroken: Outcome | None = None
    unbroken_reasons: tuple[str, ...] = ()
    probe: str = ""


@dataclass(frozen=True, slots=True)
class _Ruling:
    """What came of one alternative."""

    outcome: Outcome
    met_at: int | None
    parts: tuple[Judged, ...]
    reasons: tuple[str, ...]


def evaluate(
    rule: Rule,
    sets: Sequence[HoldSet],
    *,
    start: int,
    end: int,
    turnings: Sequence[int] = (),
    restarts: Sequence[int] = (),
) -> Finding:
    """Return what came of a batch under a rule.

    Args:
        rule: The rule.
        sets: The hold set of each of the rule's alternatives, in their order.
        start: Where the record begins, UTC ms; nothing before it is looked at.
        end: Where it ends.
        turnings: When the batch was turned, UTC ms, in any order.
        restarts: When it was built and when material was added, UTC ms; before the last of them nothing counts.

    Raises:
        ValueError: There are not as many hold sets as alternatives, or the record ends before it starts.
    """
    if len(sets) != len(rule.alternatives):
        raise ValueError(f"rule {rule.id} has {len(rule.alternatives)} alternatives but {len(sets)} hold sets came")
    if end < start:
        raise ValueError(f"a record cannot start at {start} and end at {end}")
    if sets[0].basis is not HoldBasis.EACH:
        found = [
            _finding(rule, place, (one.hold, one.proven), (start, end), turnings, restarts)
            for place, one in enumerate(sets)
        ]
        return min(found, key=_rank)
    worst: list[Finding] = []
    for place, one in enumerate(sets):
        by_probe = [
            (own.probe, _finding(rule, place, (own.hold, own.proven), (start, end), turnings, restarts))
            for own in one.probes
        ] or [("", _finding(rule, place, ((), ()), (start, end), turnings, restarts))]
        probe, finding = max(by_probe, key=lambda pair: _rank(pair[1]))
        worst.append(_of_each(one, probe, finding))
    return min(worst, key=_rank)


def _rank(finding: Finding) -> tuple[int, int, int]:
    """Order findings from best to worst."""
    met_at = finding.met_at if finding.met_at is not None else 0
    return _ORDER.index(finding.outcome), met_at, -finding.total_ms


def _of_each(one: HoldSet, probe: str, worst: Finding) -> Finding:
    """Return the worst probe's finding with the intervals that all probes share."""
    return replace(
        worst,
        hold=cut(one.hold, worst.counts_from, worst.end),
        proven=cut(one.proven, worst.counts_from, worst.end),
        unproven_ms=worst.end - worst.start - total(cut(one.proven, worst.start, worst.end)),
        probe=probe,
    )


def _finding(
    rule: Rule,
    place: int,
    sets: tuple[Intervals, Intervals],
    ends: tuple[int, int],
    turnings: Sequence[int],
    restarts: Sequence[int],
) -> Finding:
    """Return what came of one alternative, for one pair of (hold, proven)."""
    start, end = ends
    way = rule.alternatives[place]
    since = max((at for at in restarts if start <= at <= end), default=start)
    record = Record(
        start=since,
        end=end,
        hold=cut(sets[0], since, end),
        proven=cut(sets[1], since, end),
        turnings=tuple(sorted(at for at in turnings if since <= at <= end)),
    )
    ruling = _ruling(way, record)
    strict = unbroken(way)
    beside = _ruling(strict, record) if strict is not None else None
    values: dict[str, int | float] = {}
    for judged in ruling.parts:
        values.update(judged.values)
    return Finding(
        outcome=ruling.outcome,
        met_at=ruling.met_at,
        alternative=place,
        start=start,
        end=end,
        counts_from=since,
        hold=record.hold,
        proven=record.proven,
        total_ms=total(record.hold),
        longest_run=longest(record.hold),
        unproven_ms=end - start - total(cut(sets[1], start, end)),
        turnings=max(judged.turnings for judged in ruling.parts),
        values=values,
        reasons=ruling.reasons,
        unbroken=beside.outcome if beside is not None else None,
        unbroken_reasons=beside.reasons if beside is not None else (),
    )


def _ruling(way: Alternative, record: Record) -> _Ruling:
    parts = tuple(judge(part, record) for part in way.parts)
    met_at = joined(way.join, [judged.met_at for judged in parts])
    doubt = parts
    if met_at is not None:
        outcome = Outcome.MET
    else:
        doubt = _benefit(way, record)
        fulfilled = joined(way.join, [judged.met_at for judged in doubt]) is not None
        outcome = Outcome.NOT_PROVEN if fulfilled else Outcome.NOT_MET
    reasons = []
    for part, judged, hoped in zip(way.parts, parts, doubt, strict=True):
        if judged.met_at is not None:
            reasons.append(say_met(way.limits, part, judged))
        else:
            missing = Missing(judged=judged, record=record, doubtful=hoped.met_at is not None)
            reasons.append(say_missing(way.limits, part, missing))
    return _Ruling(outcome, met_at, parts, tuple(reasons))


def _benefit(way: Alternative, record: Record) -> tuple[Judged, ...]:
    """Judge the parts again with all unproven time taken as within the limits."""
    unproven = complement(record.proven, record.start, record.end)
    # A single reading beyond the limits, with gaps on both sides, stays what it was: no hold may run through it.
    single = [pair for pair in difference(record.proven, record.hold) if pair[0] == pair[1]]
    beyond = normal((at - 1, at + 1) for at, _ in single)
    hoped = Record(
        start=record.start,
        end=record.end,
        hold=union(record.hold, difference(unproven, beyond)),
        proven=((record.start, record.end),),
        turnings=record.turnings,
    )
    return tuple(
        judge(
            part,
            hoped,
            recoveries(record.hold, record.turnings, part.recovery_ms) if isinstance(part, Days) else None,
        )
        for part in way.parts
    )
