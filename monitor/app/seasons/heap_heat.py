"""A heap's temperatures since its building, and what its rule makes of them: the case of its certificate, judged as there."""

from collections.abc import Iterable
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from monitor.app.cases import Asked, known_rule
from monitor.app.cases.from_store import WholeRecord, rule_of_batch, store_case
from monitor.app.entries.hand_log import hand_spots, series_reads
from monitor.app.yard.yard_view import YardView
from monitor.certificate import Case, accepted, judge_case, member, proving_lines, so_far
from monitor.configuration import Configuration
from monitor.model.errors import MisuseError
from monitor.model.flags import FlagReason
from monitor.model.thresholds import PileThresholds
from monitor.model.units import to_milli
from monitor.piles import Batch, rounds
from monitor.proof.holdset import hold_sets
from monitor.proof.rules import NO_RULE, Limits, rule_names
from monitor.proof.temperature import Series
from monitor.reports import STEP_MS, HeatCourse, Step

Ints = NDArray[np.int64]


def heat_course(
    view: YardView, configuration: Configuration, batch: str, now: int, whole: WholeRecord | None = None
) -> HeatCourse:
    """Return the temperatures of a heap, and how they stand by its rule at its end, or now.

    Args:
        view: The record.
        configuration: The configuration, for the site's own rules.
        batch: The heap's id.
        now: The present, UTC ms.
        whole: The work of all heaps, if several are asked for.
    """
    known = view.engine.state.batches.batches[batch]
    by_hand = _by_hand(view, known, now)
    own, kept_rules = rule_of_batch(view, batch)
    nothing = HeatCourse(hold_milli_c=own_hold(view, known), rounds=by_hand, counts_from=known.built)
    try:
        rule = known_rule(own if own != NO_RULE else rule_names()[0], configuration, kept_rules)
        case = store_case(view, batch, rule, Asked(now=now), whole)
    except MisuseError:
        return _with_hottest(nothing)
    if own == NO_RULE:
        return _with_hottest(_unruled(nothing, case))
    try:
        judged = judge_case(case)
    except MisuseError:
        # Nothing counts, or the rule does not allow its method: what was read is shown all the same.
        steps = _steps([accepted(one) for one in case.probes if not one.by_hand], known.built)
        return _with_hottest(replace(nothing, steps=steps, hold_milli_c=rule.rule.hold_milli_c))
    finding = judged.finding
    series = [one for probe, one in zip(case.probes, judged.series, strict=True) if not probe.by_hand]
    return _with_hottest(
        HeatCourse(
            hold_milli_c=rule.rule.alternatives[finding.alternative].limits.low_milli_c,
            steps=_steps(series, known.built),
            rounds=by_hand,
            holds=[(start, end) for start, end in finding.hold],
            held_ms=finding.total_ms,
            longest_ms=0 if finding.longest_run is None else finding.longest_run[1] - finding.longest_run[0],
            counts_from=finding.counts_from if finding.counts_from > finding.start else known.built,
            heat=judged.heat_status,
            met_at=finding.met_at if judged.met and not judged.only_as_asked else None,
            progress=so_far(finding),
        )
    )


def own_hold(view: YardView, batch: Batch) -> int:
    """Return the temperature of the hold of a heap's place, without a rule, thousandths of °C."""
    pile = view.engine.state.settings.piles.get(batch.spans[-1].pile)
    return (PileThresholds() if pile is None else pile.thresholds).hold_milli_c


def _unruled(nothing: HeatCourse, case: Case) -> HeatCourse:
    """Return the course of a heap without a rule: it holds where all that was read is at its place's own hold."""
    series = tuple(accepted(one) for one in case.probes)
    lines = [one for one in proving_lines(case, case.probes, series) if one.times.size]
    steps = _steps([one for probe, one in zip(case.probes, series, strict=True) if not probe.by_hand], case.built or 0)
    if not lines:
        return replace(nothing, steps=steps)
    found = hold_sets(lines, (Limits(low_milli_c=nothing.hold_milli_c),), max_gap_ms=case.max_gap_ms)[0].hold
    spans = [(start, end) for start, end in found]
    lengths = [end - start for start, end in spans]
    return replace(nothing, steps=steps, holds=spans, held_ms=sum(lengths), longest_ms=max(lengths, default=0))


def _with_hottest(course: HeatCourse) -> HeatCourse:
    seen = [*course.steps, *course.rounds]
    top = max(seen, key=lambda one: (one.high, -one.at), default=None)
    return replace(course, hottest=None if top is None else (top.at, top.high))


def _steps(series: Iterable[Series], built: int) -> list[Step]:
    """Return the coldest and the hottest of some probes in each stretch of hours, while they were in."""
    times, values = [np.zeros(0, np.int64)], [np.zeros(0, np.int64)]
    for one in series:
        inside = member(one.times, one.service)
        times.append(one.times[inside])
        values.append(one.milli_c[inside])
    at, milli = np.concatenate(times), np.concatenate(values)
    if not at.size:
        return []
    which: Ints = (at - built) // STEP_MS
    order = np.argsort(which, kind="stable")
    which, milli = which[order], milli[order]
    first = np.flatnonzero(np.r_[True, which[1:] != which[:-1]])
    lows, highs = np.minimum.reduceat(milli, first), np.maximum.reduceat(milli, first)
    return [
        Step(built + number * STEP_MS + STEP_MS // 2, low, high)
        for number, low, high in zip(which[first].tolist(), lows.tolist(), highs.tolist(), strict=True)
    ]


def _by_hand(view: YardView, batch: Batch, now: int) -> list[Step]:
    """Return the rounds by hand of a heap, wherever it lay, without readings that were taken back."""
    read: list[tuple[int, str, int]] = []
    for span in batch.spans:
        end = now + 1 if span.end is None else span.end
        for series, spot in hand_spots(view.store, span.pile).items():
            flags = view.store.flags(series, span.start, end)
            gone = {kept.time for kept in flags if kept.reason is FlagReason.WITHDRAWN}
            read += [
                (one.time, series, to_milli(one.micro, one.unit))
                for one in series_reads(view.store, series, spot, span.start - 1)
                if one.time < end and one.time not in gone
            ]
    return [Step(one.time, one.low, one.high) for one in rounds(read)]
