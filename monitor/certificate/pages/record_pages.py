"""The pages about the rest of the record: conditions, stricter readings, remarks, work, and lethality as information."""

from collections.abc import Iterator, Sequence
from dataclasses import replace

from monitor.certificate.judged import Case, CaseWork, Judgement
from monitor.certificate.pages.input_pages import inputs_section
from monitor.certificate.pages.outing_words import probes_together
from monitor.certificate.pages.passages import Section, cut_rows, section
from monitor.certificate.pages.sheet_wording import Wording, length, sentence
from monitor.model.times import DAY_MS
from monitor.model.turnings import begins_group
from monitor.model.work_words import work_said
from monitor.proof.report import Figure, lethality

_MOST_WORK = 200


def record_sections(case: Case, judgement: Judgement, wording: Wording) -> Iterator[Section]:
    """Yield the sections in order; one that has nothing to say is left out.

    Args:
        case: What the certificate is about.
        judgement: What came of it.
        wording: How values are put into words.

    Yields:
        The sections.
    """
    other = [*_stricter(case, judgement, wording)]
    if other:
        yield section("Read in other ways", *other)
    if case.remarks:
        yield section("What the record does not support", *case.remarks)
    if case.turnings:
        yield _turnings(case, judgement, wording)
    yield from inputs_section(case, wording)
    yield _work(case, wording)
    yield _lethality(case, judgement, wording)


def conditions_section(case: Case, judgement: Judgement) -> Section:
    """Return the section on the rule's other conditions, and how each is known."""
    examined = judgement.finding.conditions
    if not examined:
        return section("What else the rule asks", "Nothing beside time, temperature and turnings.")
    rows = []
    for one in examined:
        status = f"declared by {one.by}" if one.by else one.status.value
        if one.ok is not None:
            status += ": kept" if one.ok else ": not kept"
        added = case.declared[one.key].words if one.by and one.key in case.declared else ""
        rows.append([one.text, status, " ".join(filter(None, (one.words, added))) or "–"])
    return section(
        "What else the rule asks",
        "Each is measured, declared by the person named, or not examined. A declaration does not change the verdict.",
        head=["Condition", "How it is known", "Particulars"],
        rows=rows,
        widths=["2fr", "1.2fr", "2fr"],
    )


def _stricter(case: Case, judgement: Judgement, wording: Wording) -> Iterator[str]:
    finding = judgement.finding
    if finding.unbroken is not None:
        strict = _said(finding.unbroken_reasons, wording)
        yield f"Strictly, with the days as one unbroken stretch: {finding.unbroken.value}. {strict}"
    if finding.scattered is not None:
        free = _said(finding.scattered_reasons, wording)
        yield f"With days that need not follow one another: {finding.scattered.value}. {free}"
    if judgement.plain is not None:
        plain = judgement.plain
        yield (
            f"Without smoothing: {plain.outcome.value}, {length(plain.total_ms)} at temperature in all. "
            f"{_said(plain.reasons, wording)}"
        )
    for probe, other in judgement.without:
        if other is None:
            yield f"Without probe {probe}: nothing is left to judge."
        else:
            why = _said(other.reasons, wording)
            yield f"Without probe {probe}: {other.outcome.value}. {why} With it: {finding.outcome.value}."
    if finding.probe:
        yield f"Every probe was judged by itself; the figures above are those of the worst, {finding.probe}."
    if case.start is not None or case.end is not None:
        yield f"Whoever asked for this record chose its ends: {wording.span(judgement.start, judgement.end)}."


def _said(reasons: Sequence[str], wording: Wording) -> str:
    return " ".join(sentence(wording.local(one)) for one in reasons)


def _turnings(case: Case, judgement: Judgement, wording: Wording) -> Section:
    finding = judgement.finding
    felt, first, rows = dict(finding.falls), None, []
    for at in sorted(case.turnings):
        if begins_group(first, at):
            first = at
            counts = "before material came in" if at < finding.counts_from else "as a turning of its own"
        else:
            assert first is not None
            counts = f"no: one with that of {wording.when(first)}"
        rows.append([wording.when(at), counts, wording.when(felt[at]) if at in felt else "–"])
    shown, more = cut_rows(rows, _MOST_WORK, "entries")
    return section(
        "Turnings",
        "Entries less than 6 h after the first of their group are one turning, at the time of that first. Where a probe fell "
        "by 5 °C or more within 30 min, at most 2 h before the entry, it belongs to the turning: recovery begins there.",
        head=["Logged", "Counts", "Probes felt the air from"],
        rows=shown,
        widths=["1fr", "1.6fr", "1.2fr"],
        after=more,
    )


def _work(case: Case, wording: Wording) -> Section:
    rows, more = cut_rows([_work_row(one, wording) for one in probes_together(case.work)], _MOST_WORK, "entries")
    nothing = [] if rows else ["Nothing was logged."]
    return section(
        "Work, as it was logged",
        *nothing,
        head=["Done", "Work", "Where", "By", "Note", "Entered"],
        rows=rows,
        widths=["1.1fr", "1.2fr", "0.9fr", "0.9fr", "2fr", "1.3fr"],
        after=more,
    )


def _work_row(one: CaseWork, wording: Wording) -> list[str]:
    work = one.work
    what = work_said(replace(work, to=""), with_note=False)
    entered = wording.when(one.entered)
    if one.imported:
        entered += ", from a file"
    late = one.entered - work.time
    if late > DAY_MS:
        days = late // DAY_MS
        entered += f"; {days} {'day' if days == 1 else 'days'} after it was done"
    if one.corrected is not None:
        entered += f"; corrected {wording.when(one.corrected)}"
    where = f"{work.place} to {work.to}" if work.to else work.place
    return [wording.when(work.time), what, where, work.by or "–", work.note or "–", entered]


def _lethality(case: Case, judgement: Judgement, wording: Wording) -> Section:
    since = judgement.finding.counts_from
    if since > judgement.end:
        return section("Lethality", "Nothing was read since material last came in, so there are no figures.")
    figures = lethality(judgement.lines, max_gap_ms=case.max_gap_ms, start=since, end=judgement.end)
    if not figures:
        return section("Lethality", "No figures could be worked out.")
    notes: dict[str, int] = {}  # many figures share a source and a caution, which then stand once beneath the table
    rows = []
    for one in figures:
        note = (
            f"{one.source} ({one.status}). {sentence(one.caution)}" if one.caution else f"{one.source} ({one.status})."
        )
        number = notes.setdefault(note, len(notes) + 1)
        rows.append([one.words[:1].upper() + one.words[1:], _value(one, wording), str(number)])
    return section(
        "Lethality, for information",
        "What the time and temperature at the coldest probe would mean by figures that are in use elsewhere. None of this "
        "is part of the verdict. The numbers stand for source and caution, beneath.",
        head=["Figure", "Came to", "Note"],
        rows=rows,
        widths=["4.4fr", "3fr", "0.5fr"],
        notes=list(notes),
    )


def _value(one: Figure, wording: Wording) -> str:
    parts = []
    if one.reached is not None:
        parts.append("reached" if one.reached else "not reached")
    if one.value is not None and one.unit == "Cel":
        parts.append(wording.both(one.value * 1000 // 10**one.decimals))
    elif one.value is not None:
        whole, part = divmod(abs(one.value), 10**one.decimals)
        sign = "-" if one.value < 0 else ""
        shown = f"{sign}{whole:,}" + (f".{part:0{one.decimals}d}".rstrip("0").rstrip(".") if one.decimals else "")
        parts.append(f"{shown} {one.unit}".strip())
    if one.span is not None and one.reached:
        parts.append(f"from {wording.when(one.span[0])}")
    return ", ".join(parts) or "not known"
