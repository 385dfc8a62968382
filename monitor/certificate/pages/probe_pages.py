"""The pages about the probes: the plot, the heap and its probes, the days, the gaps, service and calibrations."""

from collections.abc import Iterator, Sequence

from monitor.certificate.judged import Case, CaseProbe, Judgement, member
from monitor.certificate.pages.figures import governing_name
from monitor.certificate.pages.outing_words import Outing, outings_together
from monitor.certificate.pages.passages import Section, cut_rows, section
from monitor.certificate.pages.sheet_wording import Wording, length, metres, several, share
from monitor.proof.governing import LinePiece
from monitor.proof.intervals import complement
from monitor.proof.report import by_week_after, day_table

COURSE_FILE = "course.svg"
HEAP_FILE = "heap.svg"
_MOST_DAYS = 400
_MOST_GAPS = 60
_MOST_ENTRIES = 120


def probe_sections(
    case: Case, judgement: Judgement, wording: Wording, pieces: Sequence[LinePiece]
) -> Iterator[Section]:
    """Yield the sections in order.

    Args:
        case: What the certificate is about.
        judgement: What came of it.
        wording: How values are put into words.
        pieces: The governing line.

    Yields:
        The sections.
    """
    yield section(
        "Temperature over time",
        f"Every probe{_bold(case)}. Shaded: within the rule's limits. Hatched: not proven. Numbered along the top: turnings.",
        picture=COURSE_FILE,
    )
    yield _days(judgement, wording, pieces)
    yield _gaps(judgement, wording)
    if judgement.assumed:
        yield _assumed(case, judgement, wording)
    yield _probes(case, judgement, wording)
    yield _service(case, wording)
    yield _calibrations(case, wording)


def _bold(case: Case) -> str:
    return f", and in bold the {governing_name(case)}, which the verdict goes by" if len(case.probes) > 1 else ""


def _days(judgement: Judgement, wording: Wording, pieces: Sequence[LinePiece]) -> Section:
    finding = judgement.finding
    table = day_table(
        pieces, finding.hold, judgement.proven, start=judgement.start, end=judgement.end, zone=wording.zone
    )
    since = finding.counts_from
    rows = [
        [
            one.day,
            wording.even(one.min_milli_c),
            wording.even(one.mean_milli_c),
            wording.even(one.max_milli_c),
            "not counted" if one.end <= since > judgement.start else length(one.hold_ms),
            share(one.coverage_milli),
        ]
        for one in by_week_after(table, finding.met_at, pieces)
    ]
    shown, more = cut_rows(rows, _MOST_DAYS, "days")
    return section(
        "Day by day",
        "By the line that the verdict goes by, calendar days in local time; what the rule counts as a day begins at the "
        "first instant of the hold. Coverage is the share of the day that is proven. Not counted: material came in after it. "
        "Once the rule is met, by the week.",
        head=["Day", "Lowest", "Mean", "Highest", "At temperature", "Coverage"],
        rows=shown,
        widths=["1.3fr", "1.5fr", "1.5fr", "1.5fr", "1.1fr", "0.8fr"],
        after=more,
    )


def _gaps(judgement: Judgement, wording: Wording) -> Section:
    gaps = [pair for pair in complement(judgement.proven, judgement.start, judgement.end) if pair[0] < pair[1]]
    if not gaps:
        return section("Gaps", "None: the temperature is proven from the beginning of the record to its end.")
    rows, more = cut_rows(
        [[wording.when(start), wording.when(end), length(end - start)] for start, end in gaps], _MOST_GAPS, "gaps"
    )
    return section(
        "Gaps",
        f"{several(len(gaps), 'stretch', 'stretches')} in which the temperature is not proven, "
        f"{length(sum(end - start for start, end in gaps))} in all.",
        head=["From", "To", "Length"],
        rows=rows,
        widths=["1fr", "1fr", "1fr"],
        after=more,
    )


def _assumed(case: Case, judgement: Judgement, wording: Wording) -> Section:
    rows, more = cut_rows(
        [[wording.when(start), wording.when(end), length(end - start)] for start, end in judgement.assumed],
        _MOST_GAPS,
        "stretches",
    )
    return section(
        "Proven by rounds by hand",
        f"In these stretches the temperature is assumed to run straight from one round to the next, at most "
        f"{length(case.hand_gap_ms)} later; only the rounds were measured. Each round counts at its coldest, and for an upper "
        "limit at its hottest, at the time of the last of its readings.",
        head=["From", "To", "Length"],
        rows=rows,
        widths=["1fr", "1fr", "1fr"],
        after=more,
    )


def _probes(case: Case, judgement: Judgement, wording: Wording) -> Section:
    rows = []
    for number, (own, one) in enumerate(zip(case.probes, judgement.series, strict=True), start=1):
        counted = one.times[member(one.times, one.service)]
        values = one.milli_c[member(one.times, one.service)]
        rows.append(
            [
                str(number),
                own.probe if own.name in {"", own.probe} else f"{own.name} ({own.probe})",
                metres(own.depth_milli_m),
                "read by hand" if own.by_hand else "probe",
                f"{counted.size:,} of {own.times.size:,}",
                f"{wording.even(int(values.min()))} to {wording.even(int(values.max()))}" if values.size else "–",
                wording.difference(own.uncertainty_milli_k),
            ]
        )
    return section(
        "The probes",
        "A reading counts if it was not flagged bad and its probe was in service. The picture on the first page shows each "
        "probe at its depth with the highest that it read; where no depth is stated, its place is only drawn.",
        head=["No.", "Probe", "Depth", "Kind", "Readings that count", "Lowest to highest", "Uncertainty"],
        rows=rows,
        widths=["0.4fr", "1.4fr", "1fr", "0.8fr", "1fr", "2.1fr", "1fr"],
    )


def _service(case: Case, wording: Wording) -> Section:
    rows = [
        [
            wording.when(one.out.time) if one.out else "–",
            _backs(one, wording),
            ", ".join(one.probes),
            *_told(one, wording),
        ]
        for one in outings_together(case.probes)
    ]
    shown, more = cut_rows(rows, _MOST_ENTRIES, "entries")
    retired = [
        f"{own.name or own.probe} was taken out for good by {own.retired_by}." for own in case.probes if own.retired_by
    ]
    return section(
        "When each probe was in",
        *(retired or []),
        *([] if rows else ["Nothing is recorded; each probe is taken to have been in all the time."]),
        head=["Out", "In", "Probes", "How it is known", "By", "Entered"],
        rows=shown,
        widths=["1.1fr", "1.2fr", "1.6fr", "1.1fr", "1fr", "1.1fr"],
        after=more,
    )


def _backs(one: Outing, wording: Wording) -> str:
    """Return when probes that went out together were in again; each named where they were not back together."""
    if not one.backs:
        return "not recorded"
    if len(one.backs) == 1 and len(next(iter(one.backs.values()))) == len(one.probes):
        return wording.when(next(iter(one.backs)).time)
    return "; ".join(f"{wording.when(entry.time)} {', '.join(names)}" for entry, names in one.backs.items())


def _told(one: Outing, wording: Wording) -> Iterator[str]:
    entries = [*([one.out] if one.out is not None else []), *one.backs]
    for words in (
        [entry.how for entry in entries],
        [entry.by for entry in entries],
        [wording.when(entry.entered) for entry in entries],
    ):
        yield "; ".join(dict.fromkeys(filter(None, words))) or "–"


def _calibrations(case: Case, wording: Wording) -> Section:
    rows = [row for own in case.probes for row in _calibration_rows(own, wording)]
    bare = [own.name or own.probe for own in case.probes if not own.calibrations]
    words = [f"No calibration is stated for {', '.join(bare)}."] if bare else []
    if case.guard_milli_k:
        words.append(f"The limits were drawn in by {wording.difference(case.guard_milli_k)} to allow for uncertainty.")
    return section(
        "Calibrations",
        *words,
        head=["Probe", "From", "Shown, and what it should be", "By", "Note"],
        rows=rows,
        widths=["1.2fr", "1.2fr", "2.2fr", "1fr", "1.6fr"],
    )


def _calibration_rows(own: CaseProbe, wording: Wording) -> Iterator[list[str]]:
    for one in own.calibrations:
        points = "; ".join(f"{wording.both(shown)} is {wording.both(right)}" for shown, right in one.points)
        since = wording.when(one.start) or "the beginning"
        yield [own.name or own.probe, since, points, one.by or "–", one.note or "–"]
