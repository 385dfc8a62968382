"""The pictures of a certificate: every probe over time with the hold shaded, and the heap with its probes."""

from collections.abc import Sequence

import numpy as np

from monitor.certificate.judged import Case, CaseProbe, Judgement, member
from monitor.certificate.pages.printable import printable
from monitor.certificate.pages.sheet_wording import Wording
from monitor.drawing import (
    Ink,
    Limit,
    Line,
    LineKind,
    OverTime,
    PileProbe,
    PileSection,
    PileShape,
    Turning,
    Unit,
    over_time,
    pile_section,
)
from monitor.proof.governing import LinePiece
from monitor.proof.holdset import HoldBasis
from monitor.proof.intervals import complement
from monitor.proof.temperature import Series

_MOST_LETTERS = 10


def draw_course(case: Case, judgement: Judgement, pieces: Sequence[LinePiece], wording: Wording) -> str:
    """Return the plot of every probe and of the line that decides the verdict.

    Args:
        case: What it is about.
        judgement: What came of it.
        pieces: The governing line.
        wording: How values are put into words.

    Returns:
        SVG.
    """
    finding = judgement.finding
    limits = case.rule.alternatives[finding.alternative].limits
    marked = [limits.low_milli_c] + ([] if limits.high_milli_c is None else [limits.high_milli_c])
    lines = [_line(own, one, case.max_gap_ms) for own, one in zip(case.probes, judgement.series, strict=True)]
    if len(lines) > 1 and pieces:
        lines.append(_governing(pieces, case))
    picture = OverTime(
        start=judgement.start,
        end=max(judgement.end, judgement.start + 1),
        zone=wording.zone,
        unit=Unit(wording.unit),
        second_unit=True,
        lines=tuple(lines),
        holds=finding.hold,
        unproven=complement(judgement.proven, judgement.start, judgement.end),
        turnings=tuple(Turning(at=at) for at in case.turnings if judgement.start <= at <= judgement.end),
        limits=tuple(Limit(milli=milli, label=wording.both(milli)) for milli in marked),
        width=720,
        height=320,
    )
    return over_time(picture, Ink.PRINT)


def draw_heap(case: Case, judgement: Judgement, wording: Wording) -> str:
    """Return the heap in section, each probe at its depth with the highest that it read.

    Args:
        case: What it is about.
        judgement: What came of it.
        wording: How values are put into words.

    Returns:
        SVG.
    """
    names = [printable(own.name or own.probe) for own in case.probes]
    if max(map(len, names), default=0) > _MOST_LETTERS:
        names = [f"no. {number}" for number in range(1, len(names) + 1)]
    probes = tuple(
        PileProbe(
            name=name,
            milli_c=int(one.milli_c.max()) if one.milli_c.size else None,
            depth_milli_m=own.depth_milli_m,
            words="" if one.milli_c.size else "nothing that counts",
        )
        for name, own, one in zip(names, case.probes, judgement.series, strict=True)
    )
    limits = case.rule.alternatives[judgement.finding.alternative].limits
    picture = PileSection(
        shape=PileShape.of(case.method),
        probes=probes,
        unit=Unit(wording.unit),
        hold_milli_c=limits.low_milli_c,
        title="The heap in section, each probe at its depth with its highest reading",
        width=380,
        height=230,
    )
    return pile_section(picture, Ink.PRINT)


def _line(own: CaseProbe, one: Series, max_gap_ms: int) -> Line:
    served = member(one.times, one.service)
    return Line(
        name=printable(own.name or own.probe),
        times=one.times[served],
        milli=one.milli_c[served],
        kind=LineKind.BY_HAND if own.by_hand else LineKind.PROBE,
        max_gap_ms=one.max_gap_ms if one.max_gap_ms is not None else max_gap_ms,
    )


def governing_name(case: Case) -> str:
    """Return the name, on the plot, of the line that decides the verdict."""
    return "mean" if case.basis is HoldBasis.MEAN else "coldest"


def _governing(pieces: Sequence[LinePiece], case: Case) -> Line:
    times = np.concatenate([one.times for one in pieces])
    milli = np.concatenate([one.milli_c for one in pieces])
    # A piece may begin at the very instant at which the one before it ended: one of the two points is enough here.
    first = np.concatenate(([True], times[1:] > times[:-1]))
    return Line(
        name=governing_name(case),
        times=times[first],
        milli=milli[first],
        kind=LineKind.GOVERNING,
        max_gap_ms=case.max_gap_ms,
    )
