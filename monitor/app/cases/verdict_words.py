"""Says the verdict on a case, for people and as JSON.

The JSON has the keys of the design in their order, whatever the verdict, then keys added later; seconds have at most three
decimals.
"""

import re
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

import numpy as np

from monitor.app.cases.impossible import thrown_away
from monitor.app.cases.lineage import Telling
from monitor.certificate import (
    MET_AS_ASKED,
    Case,
    Judgement,
    as_asked,
    coarse,
    conditions,
    days_below,
    is_interim,
    own_rule,
    risk_words,
    rounds_named,
    so_far,
)
from monitor.material import HeatStatus
from monitor.model.settings import Settings
from monitor.model.times import parse_time, show_duration, show_time
from monitor.model.units import plain_number, show_difference
from monitor.proof.counting import DayKind
from monitor.proof.intervals import complement, longest
from monitor.proof.rules import Duties
from monitor.proof.verdict import Finding, Outcome

_STAMP = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{3}Z", re.ASCII)

_HEAT = {
    HeatStatus.RAW: "raw: it was not at temperature yet",
    HeatStatus.RUNNING: "under way",
    HeatStatus.MET: "met",
    HeatStatus.VOID: "void: raw material came in, and it was not at temperature since",
}


def verdict_json(case: Case, judgement: Judgement, left_out: Sequence[Mapping[str, Any]] = ()) -> dict[str, Any]:
    """Return the verdict as JSON values.

    Args:
        case: The case.
        judgement: The judgement on it.
        left_out: The lines of files that could not be read: `file`, `line`, `why`.
    """
    finding = judgement.finding
    run = finding.longest_run
    return {
        "verdict": finding.outcome.value,
        "rule": case.rule.id,
        "pile": case.pile,
        "from": show_time(finding.start),
        "to": show_time(finding.end),
        "total_s": plain_number(finding.total_ms),
        "longest_run_s": plain_number(run[1] - run[0]) if run is not None else 0,
        "turnings": finding.turnings,
        "unproven_s": plain_number(finding.unproven_ms),
        "intervals": [[show_time(start), show_time(end)] for start, end in finding.hold],
        "reasons": list(finding.reasons),
        "heat_status": judgement.heat_status.value,
        "as_of": show_time(judgement.as_of),
        "turnings_logged": finding.turnings_logged,
        "came_after": list(case.came_after),
        "for_information": for_information(case) or judgement.only_as_asked,
        "confirmed_by": case.confirmed.by if case.confirmed is not None else None,
        "conditions": conditions(finding),
        "unbroken": finding.unbroken.value if finding.unbroken is not None else None,
        "scattered": finding.scattered.value if finding.scattered is not None else None,
        "days": [
            {
                "from": show_time(one.start),
                "to": show_time(one.end),
                "counts": one.kind is DayKind.COUNTED,
                "kind": one.kind.value,
                "why": one.why,
            }
            for one in finding.days
        ],
        "remarks": list(case.remarks),
        "thrown_away": thrown_away(case.probes),
        "left_out": [dict(one) for one in left_out],
        "assumed_s": plain_number(sum(end - start for start, end in judgement.assumed)),
        "usual": None if judgement.usual is None else judgement.usual.outcome.value,
        "own_rule": bool(own_rule(case.rule.id, case.rule_text)),
        "interim": is_interim(case, judgement),
    }


def for_information(case: Case) -> bool:
    """Return whether the rule's figures are unchecked and nobody has confirmed them."""
    return case.rule.for_information and case.confirmed is None


def verdict_lines(case: Case, judgement: Judgement) -> Iterator[str]:
    """Yield the verdict for people: the verdict first, then reasons, conditions, the strict reading, gaps, remarks."""
    finding, rule = judgement.finding, case.rule
    telling = Telling(Settings(), case.time_zone)
    yield from _head(case, judgement)
    if risk := risk_words(case):
        yield f"  {risk}"
    if case.left_out:
        yield f"  {_sentence(case.left_out)}"
    yield f"  As of {telling.when(judgement.as_of)}; {_HEAT[judgement.heat_status]}."
    for after in case.came_after:
        yield f"  After that: {after}"
    if is_interim(case, judgement):
        yield f"  Not met yet: {so_far(finding)}. The batch lies there still, and its rule goes on."
    for reason in finding.reasons:
        yield f"  {_sentence(_plainly(reason, telling))}"
    yield _numbers(case, finding, telling)
    yield from filter(None, (days_below(finding),))
    yield from _readings_of_it(case, judgement, telling)
    yield from _conditions(case, finding)
    yield from _gaps(judgement, telling)
    for remark in case.remarks:
        if remark not in case.left_out:
            yield f"Note: {remark}"
    yield from _hint(case, finding)
    if rule.caution:
        yield f"Caution: {rule.caution}"


def _numbers(case: Case, finding: Finding, telling: Telling) -> str:
    run = finding.longest_run
    numbers = (
        f"at temperature {show_duration(finding.total_ms)} in all"
        if finding.hold
        else "nothing that counts was at temperature"
    )
    if run is not None:
        numbers += f", {show_duration(run[1] - run[0])} at the longest"
    if case.rule.wants_turnings or finding.turnings_logged:
        numbers += f"; {_many(finding.turnings, 'turning')} counted of {finding.turnings_logged} logged"
    return f"From {telling.when(finding.start)} to {telling.when(finding.end)}: {numbers}."


def _readings_of_it(case: Case, judgement: Judgement, telling: Telling) -> Iterator[str]:
    """Yield how the verdict was reached, and other readings of it."""
    finding = judgement.finding
    if finding.counts_from > finding.start:
        yield f"Counted from {telling.when(finding.counts_from)} on: it was built, or material came in, then."
    if judgement.plain is not None:
        yield (
            f"With a running mean over {show_duration(case.smoothing_ms)}; without it the verdict is "
            f"{judgement.plain.outcome.value}."
        )
    if case.guard_milli_k:
        yield f"The limits were drawn in by {show_difference(case.guard_milli_k, case.temperature_unit)}."
    for logged, begun in finding.falls:
        yield (
            f"The probes felt the air from {telling.when(begun)} on, before the turning was logged at {telling.when(logged)}: "
            "its recovery begins there."
        )
    if finding.scattered is not None:
        yield (
            "The rule's text does not say that the days need not follow one another, so here they must; if they need not: "
            f"{finding.scattered.value}."
        )
        if finding.scattered is not finding.outcome:
            yield from (f"  {_sentence(_plainly(reason, telling))}" for reason in finding.scattered_reasons)
    if finding.unbroken is not None:
        yield f"Read strictly, as one unbroken stretch: {finding.unbroken.value}."
        if finding.unbroken is not Outcome.MET:
            yield from (f"  {_sentence(_plainly(reason, telling))}" for reason in finding.unbroken_reasons)
    for probe, other in judgement.without:
        told = other.outcome.value if other is not None else "there is no other probe"
        yield f"Probe {probe} was taken out before the end; without its readings: {told}."


def _head(case: Case, judgement: Judgement) -> Iterator[str]:
    yield from _verdict(case, judgement)
    if judgement.usual is not None:
        yield f"  {as_asked(case, judgement.usual.outcome.value)}"
    if own := own_rule(case.rule.id, case.rule_text):
        yield f"  {own}"


def _verdict(case: Case, judgement: Judgement) -> Iterator[str]:
    verdict = MET_AS_ASKED if judgement.only_as_asked else judgement.finding.outcome.value
    where = case.pile_name or case.pile
    what = f"{where}, batch {case.batch}" if case.batch else where
    rule = f"rule {case.rule.id} ({case.rule.section})"
    if for_information(case):
        yield f"For information: time and temperature of {rule} are {verdict} for {what}."
        yield (
            "  The figures of this rule were not checked against its current text. Somebody at the site can confirm them "
            '(--confirmed-by "NAME", or in the configuration).'
        )
        return
    yield f"{verdict.capitalize()}: time and temperature of {rule}, for {what}."
    if case.rule.for_information and case.confirmed is not None:
        yield f"  {case.confirmed.by} has confirmed the figures of this rule against its current text."


def _conditions(case: Case, finding: Finding) -> Iterator[str]:
    """Yield the rule's conditions beside time and temperature, each as measured, declared, or not examined."""
    examined = finding.conditions
    duties = {condition.key for condition in case.rule.conditions if isinstance(condition, Duties)}
    if examined:
        yield "The rule also asks for:"
        for one in examined:
            status = f"declared by {one.by}" if one.by else one.status.value
            words = f" ({one.words})" if one.words and one.key in duties else ""
            yield f"  {one.text.rstrip('.')}: {status}{words}."
    elif case.rule.conditions:
        yield "The rule also asks for:"
        for condition in case.rule.conditions:
            said = case.declared.get(condition.key)
            yield f"  {condition.text.rstrip('.')}: {'declared by ' + said.by if said is not None else 'not examined'}."


def _gaps(judgement: Judgement, telling: Telling) -> Iterator[str]:
    finding = judgement.finding
    gaps = [pair for pair in complement(judgement.proven, judgement.start, judgement.end) if pair[1] > pair[0]]
    if not gaps:
        if judgement.assumed or judgement.usual is not None:
            yield "No gaps, with what is assumed between readings: it was not measured from beginning to end."
        else:
            yield "No gaps: the temperature is proven from beginning to end."
        return
    worst = longest(tuple(gaps))
    assert worst is not None
    yield (
        f"Not proven: {show_duration(finding.unproven_ms)} in all; the longest gap lasts "
        f"{show_duration(worst[1] - worst[0])}, from {telling.when(worst[0])} to {telling.when(worst[1])}."
    )


def _hint(case: Case, finding: Finding) -> Iterator[str]:
    """Yield how to join readings that lie too far apart, if that is why nothing is proven."""
    if finding.outcome is not Outcome.NOT_PROVEN:
        return
    for by_hand, gap_ms, option in ((False, case.max_gap_ms, "--max-gap"), (True, case.hand_gap_ms, "--hand-gap")):
        steps = [np.diff(one.times) for one in case.probes if one.times.size > 1 and one.by_hand is by_hand]
        usual = int(np.median(np.concatenate(steps))) if steps else 0
        if usual > gap_ms:
            yield (
                f"Hint: the readings{' by hand' * by_hand} lie about {show_duration(usual)} apart, and what lies between two "
                f"that are more than {show_duration(gap_ms)} apart is not proven. A longer {option} would join them; the "
                "certificate would then say that the temperature between them is assumed."
            )


def _many(count: int, word: str) -> str:
    return f"{count} {word}" if count == 1 else f"{count} {word}s"


def _sentence(text: str) -> str:
    text = text[:1].upper() + text[1:]
    return text if text.endswith((".", "?")) else f"{text}."


def _plainly(reason: str, telling: Telling) -> str:
    """Return a reason with the yard's own times, to the minute, and durations without odd seconds."""
    return _STAMP.sub(lambda found: telling.when(parse_time(found.group())), coarse(rounds_named(reason)))
