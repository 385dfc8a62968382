"""The readings by hand of a case: the rounds as lines, and the time for which these are assumed.

Rules:
1. The readings of all hand series within an hour are one round (`piles.rounds`). On basis coldest the rule judges two lines,
   the coldest and the hottest of each round; on the other bases each spot is a line by itself.
2. A line between two rounds at most the case's `hand_gap_ms` apart is assumed and counts as proven; it serves while no core
   probe is in. Readings by hand taken while a probe was in are listed and decide nothing.
"""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from monitor.certificate.judged.case import Case, CaseProbe
from monitor.piles import COLDEST, HOTTEST, RoundPoint, rounds
from monitor.proof.holdset import HoldBasis
from monitor.proof.intervals import Intervals, normal
from monitor.proof.temperature import Series, stretches


def proving_lines(case: Case, probes: Sequence[CaseProbe], series: Sequence[Series]) -> tuple[Series, ...]:
    """Return the lines that a case is held against: its probes' own, and the rounds read by hand.

    Args:
        case: How it is judged.
        probes: Those that are looked at.
        series: The accepted readings of each.

    Returns:
        The lines, probes first.
    """
    found = [one for own, one in zip(probes, series, strict=True) if not own.by_hand]
    by_hand = [one for own, one in zip(probes, series, strict=True) if own.by_hand]
    if not by_hand:
        return tuple(found)
    if case.basis is not HoldBasis.COLDEST:
        return (*found, *(replace(one, max_gap_ms=case.hand_gap_ms) for one in by_hand))
    return (*found, *round_lines(by_hand, case.hand_gap_ms))


def round_lines(by_hand: Sequence[Series], gap_ms: int) -> tuple[Series, ...]:
    """Return the coldest and the hottest of the rounds as two lines; as one where they are the same."""
    points = rounds_by_hand(by_hand)
    service = normal(span for one in by_hand for span in one.service)
    unread = tuple(sorted({at for one in by_hand for at in one.unread}))
    times = np.array([point.time for point in points], dtype=np.int64)
    low = np.array([point.low for point in points], dtype=np.int64)
    high = np.array([point.high for point in points], dtype=np.int64)
    name = by_hand[0].probe if len(by_hand) == 1 else COLDEST
    lowest = Series(probe=name, times=times, milli_c=low, service=service, max_gap_ms=gap_ms, unread=unread)
    if np.array_equal(low, high):
        return (lowest,)
    return lowest, replace(lowest, probe=HOTTEST, milli_c=high)


def rounds_by_hand(by_hand: Sequence[Series]) -> list[RoundPoint]:
    """Return the rounds of the readings at some spots."""
    return rounds(
        (time, one.probe, milli)
        for one in by_hand
        for time, milli in zip(one.times.tolist(), one.milli_c.tolist(), strict=True)
    )


def assumed_time(lines: Sequence[Series], max_gap_ms: int) -> Intervals:
    """Return the times, UTC ms, in which a line between rounds is assumed."""
    spans = [
        (start, end)
        for one in lines
        if one.max_gap_ms is not None
        for start, end in stretches(one, max_gap_ms).proven
        if start < end
    ]
    return normal(spans)
