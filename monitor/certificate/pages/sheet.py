"""The contents of the pages, as plain texts in order: the template only sets them.

The verdict comes first, then its subject, its reasons, and everything that an inspector would ask next. Long tables are
cut, with a line that says how many more rows the attached record holds.
"""

from collections.abc import Iterator, Sequence
from datetime import UTC, datetime, timedelta
from typing import Any

from monitor.certificate.judged import MET_AS_ASKED, Case, Judgement, as_asked
from monitor.certificate.pages import passages
from monitor.certificate.pages.input_pages import risk_words
from monitor.certificate.pages.interim import interim_sentence, is_interim
from monitor.certificate.pages.printable import printable_tree
from monitor.certificate.pages.probe_pages import HEAP_FILE, probe_sections
from monitor.certificate.pages.record_pages import conditions_section, record_sections
from monitor.certificate.pages.sheet_wording import Wording, cubed, days_below, length, sentence, several
from monitor.certificate.record import Tree
from monitor.drawing import PRINTED
from monitor.material import HeatStatus
from monitor.model.thresholds import RULE_GAP_MS
from monitor.proof.governing import LinePiece
from monitor.proof.holdset import HoldBasis
from monitor.proof.rules import STATUS_WORDS
from monitor.proof.verdict import Finding, Outcome

_TONES = {Outcome.MET: "met", Outcome.NOT_MET: "not met", Outcome.NOT_PROVEN: "not proven"}


def make_sheet(
    case: Case, judgement: Judgement, tree: Tree, issued_at: int, pieces: Sequence[LinePiece]
) -> dict[str, Any]:
    """Return all texts of the pages, each fit to be printed.

    Args:
        case: What the certificate is about.
        judgement: What came of it.
        tree: All that the certificate states (`statement`).
        issued_at: When it is issued, UTC ms.
        pieces: The governing line.

    Returns:
        The texts by name, as the template takes them.
    """
    wording = Wording.of(case)
    finding = judgement.finding
    issued = datetime(1970, 1, 1, tzinfo=UTC) + timedelta(milliseconds=issued_at)
    interim = is_interim(case, judgement)
    title = "Interim record" if interim else "Self-declared record"
    sheet = {
        "id": tree["id"],
        "date": [issued.year, issued.month, issued.day, issued.hour, issued.minute, issued.second],
        "title": title,
        "subtitle": "of time above temperature" + (", self-declared while the batch goes on" if interim else ""),
        "document": f"{title} of time above temperature: {case.pile_name or case.pile}",
        "colours": dict(PRINTED),
        "tone": _TONES[Outcome.NOT_PROVEN if judgement.only_as_asked or interim else finding.outcome],
        "verdict": "not met yet" if interim else MET_AS_ASKED if judgement.only_as_asked else finding.outcome.value,
        "sentence": interim_sentence(case, judgement, wording)
        if interim
        else verdict_sentence(case, judgement, wording),
        "band": passages.band(case, wording),
        "confirmed": case.confirmed is not None,
        "beside": [*filter(None, (risk_words(case), case.left_out)), *case.came_after, *_beside(case, judgement)],
        "paper": "us-letter" if wording.unit == "degF" else "a4",
        "facts-left": [list(pair) for pair in _about(case, wording)],
        "facts-right": [list(pair) for pair in _figures(case, judgement, wording)],
        "rule": [list(pair) for pair in _rule(case)],
        "reasons": [sentence(wording.local(one)) for one in finding.reasons],
        "issued": f"Issued {wording.when(issued_at)} ({wording.zone_name})",
        "zone": f"Times are local ({wording.zone_name}); the attached record has them in UTC, to the millisecond.",
        "heap": HEAP_FILE,
        "heap-words": "Each probe at its depth, with the highest that it read in all the time of the record.",
        "conditions": conditions_section(case, judgement),
        "sections": [
            *probe_sections(case, judgement, wording, pieces),
            *record_sections(case, judgement, wording),
            passages.cautions(),
            passages.checking(tree),
        ],
    }
    shown = printable_tree(sheet)
    assert isinstance(shown, dict)
    return shown


def verdict_sentence(case: Case, judgement: Judgement, wording: Wording) -> str:
    """Return the one sentence under the verdict.

    Args:
        case: What the certificate is about.
        judgement: What came of it.
        wording: How values are put into words.

    Returns:
        What was asked for, and what came of it.
    """
    finding = judgement.finding
    limits = case.rule.alternatives[finding.alternative].limits
    asked = f"{'above' if limits.strict else 'at'} {wording.both(limits.low_milli_c)}"
    asked += "" if limits.strict else " or above"
    if limits.high_milli_c is not None:
        asked += f" and at most {wording.both(limits.high_milli_c)}"
    if finding.outcome is Outcome.MET:
        by = "As it was asked to be judged," if judgement.only_as_asked else "By its probes"
        return (
            f"{by} this batch was {asked} as the rule asks; all that it asks of time and temperature was fulfilled "
            f"by {wording.when(finding.met_at)}."
        )
    if finding.outcome is Outcome.NOT_MET and judgement.heat_status is HeatStatus.VOID:
        return (
            f"Raw material came in on {wording.when(finding.counts_from)}. What was proven before counts no more, and the "
            "batch was not at temperature since."
        )
    if finding.outcome is Outcome.NOT_MET:
        return f"By its probes this batch was not {asked} for as long, or not in the way, that the rule asks."
    return (
        f"The rule would be met if the time for which no reading counts ({length(finding.unproven_ms)} in all) had been "
        f"{asked}; the record does not prove that."
    )


def _read_when(case: Case) -> str:
    return (
        "The temperature was read" if all(one.by_hand for one in case.probes) else "While no probe was in, it was read"
    )


def _days_read(finding: Finding) -> str:
    """Return how days were read, and what the other reading would give."""
    if finding.scattered is None:
        return "Days are counted as 24 h each, which by the rule's text need not follow one another."
    return (
        "Days are counted as 24 h each, which must follow one another, since the rule's text does not say that they need "
        f"not; if they need not, it is: {finding.scattered.value}."
    )


def _beside(case: Case, judgement: Judgement) -> Iterator[str]:
    finding = judgement.finding
    if judgement.usual is not None:
        yield as_asked(case, judgement.usual.outcome.value)
    if own := passages.own_rule(case.rule.id, case.rule_text):
        yield own
    if case.rule.caution:
        yield case.rule.caution
    if judgement.plain is not None:
        yield (
            f"This verdict goes by a running mean over {length(case.smoothing_ms)}. "
            f"Without any smoothing it is: {judgement.plain.outcome.value}."
        )
    if finding.unbroken is not None:
        yield (f"{_days_read(finding)} Read strictly, as one unbroken stretch, it is: {finding.unbroken.value}.")
    if told := days_below(finding):
        yield told
    if any(one.by_hand for one in case.probes):
        yield (
            f"{_read_when(case)} by hand. Between two rounds at most {length(case.hand_gap_ms)} apart it is assumed to run "
            f"straight from one to the other, {length(sum(end - start for start, end in judgement.assumed))} in all; nobody "
            "measured it."
        )
    if not all(one.by_hand for one in case.probes) and case.max_gap_ms > RULE_GAP_MS:
        yield (
            f"Between two readings up to {length(case.max_gap_ms)} apart the temperature is assumed to run straight "
            "from one to the other; it was not measured."
        )
    for probe, other in judgement.without:
        told = "nothing is left to judge" if other is None else other.outcome.value
        yield f"Probe {probe} was taken out before the end. Without any of its readings the verdict is: {told}."


def _about(case: Case, wording: Wording) -> Iterator[tuple[str, str]]:
    """Yield the description of the batch, as (label, text)."""
    yield "Site", case.site or "not stated"
    yield "Batch", case.batch or "no number"
    yield "Pile", case.pile_name if case.pile_name == case.pile else f"{case.pile_name or '–'} ({case.pile})"
    if len(case.lay_on) > 1:
        yield (
            "Lay on",
            "; ".join(
                f"{pile} {wording.when(since)} to {'now' if to is None else wording.when(to)}"
                for pile, since, to in case.lay_on
            ),
        )
    yield "Method", case.method.value if case.method is not None else "not stated"
    yield "Feedstocks", case.feedstocks or "not stated"
    yield "Quantity", cubed(case.quantity) or "not stated"
    yield "Size", case.size or "not stated"
    yield "Built", wording.when(case.built) or "not stated"


def _figures(case: Case, judgement: Judgement, wording: Wording) -> Iterator[tuple[str, str]]:
    """Yield the outcome in numbers, as (label, text)."""
    finding = judgement.finding
    yield "Verdict as of", wording.when(judgement.as_of)
    yield "Heat status", judgement.heat_status.value
    yield "Record", wording.span(judgement.start, judgement.end)
    if finding.counts_from > finding.start:
        yield "Counts from", f"{wording.when(finding.counts_from)} (built, or material came in)"
    yield "At temperature", f"{length(finding.total_ms)} in all"
    run = finding.longest_run
    if run is not None:
        yield "Longest stretch", f"{length(run[1] - run[0])}, {wording.span(*run)}"
    yield "Not proven", length(finding.unproven_ms)
    yield "Turnings", f"{several(finding.turnings, 'counted', 'counted')} of {finding.turnings_logged} logged"
    yield "Probes", str(len(case.probes)) + (f", judged by {_basis(case)}" if len(case.probes) > 1 else "")


def _basis(case: Case) -> str:
    if case.basis is HoldBasis.MEAN:
        return "their mean"
    if case.basis is HoldBasis.EACH:
        return "each by itself, the worst counting"
    capped = any(one.high_milli_c is not None for one in case.rule.all_limits())
    return "the coldest, and its upper limit by the hottest" if capped else "the coldest"


def _rule(case: Case) -> Iterator[tuple[str, str]]:
    rule = case.rule
    yield "Rule", f"{rule.title} ({rule.id})"
    yield "Made for", rule.jurisdiction
    yield "Written in", rule.section
    yield "It asks", rule.wording
    yield "For", rule.feedstock
    yield "Figures", f"{rule.source} ({STATUS_WORDS[rule.status]})"
