"""The organisms that a batch's heat is known or estimated to kill: extra information, never part of a verdict.

Rules this module keeps:

1. All of it is of the coldest core probe, over proven time between two instants; unproven time adds nothing.
2. The fraction of 40 CFR 503.32(a)(3), alternative 1, is an estimate of our own: the regulation gives the time D(t) at
   a constant temperature t; we add up dt / D(T) for a temperature T that varies. Below 50 °C nothing is added, and D is
   never taken to be under 20 min (the row for 7 % solids or more). 1 would be the time asked for.
3. A published point is reached if one unbroken interval of the hold set at its temperature is long enough (exact).
4. The line between two readings is straight, so the integral of 10^(aT) over it has a closed form: no steps, no error
   of a rule of thumb. Figures are rounded to thousandths half-even at the end; they are floating point before that.

Sources: 40 CFR 503.32(a)(3) as restated in 15A NCAC 02T .1106 (seen second hand); weed
seeds: abstracts named beside the figures (seen).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import log

import numpy as np
from numpy.typing import NDArray

from monitor.model.times import DAY_MS, MINUTE_MS, show_duration
from monitor.model.units import show_temperature
from monitor.proof.governing import LinePiece, clip, extremes, governing
from monitor.proof.holdset import hold_sets
from monitor.proof.intervals import cut, longest, total
from monitor.proof.report.lethal_points import LETHAL_POINTS, LethalPoint
from monitor.proof.rules import Limits
from monitor.proof.temperature import Series

ALTERNATIVE_1_DAYS = 131_700_000
"""D(t) = this / 10^(0.14 t) days, t in degrees Celsius. Source: 40 CFR 503.32(a)(3), seen second hand."""

ALTERNATIVE_1_PER_DEGREE = 0.14
ALTERNATIVE_1_LEAST_MILLI_C = 50_000
ALTERNATIVE_1_FLOOR_MS = 20 * MINUTE_MS

OWN_ESTIMATE = "own estimate"
"""Status of a figure that no source gives."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """One piece of information beside a verdict.

    Attributes:
        key: Its name for programs.
        words: What it says, in one sentence without the number.
        value: The number times 10 ** `decimals`, or None.
        unit: Its unit, or "" for a plain ratio.
        decimals: How many of its digits are decimals.
        reached: Whether it was reached, where that can be said.
        span: The interval that it was read from, UTC ms, or None.
        source: Where it comes from.
        status: How that is known: seen, seen-2nd, own estimate.
        caution: What must be said with it.
    """

    key: str
    words: str
    value: int | None
    unit: str
    decimals: int = 3
    reached: bool | None = None
    span: tuple[int, int] | None = None
    source: str
    status: str
    caution: str


def lethality(series: Sequence[Series], *, max_gap_ms: int, start: int, end: int) -> tuple[Figure, ...]:
    """Return the killing that a batch's heat is known or estimated to do, at its coldest core probe.

    Args:
        series: Accepted readings of each core probe.
        max_gap_ms: Longest distance between two readings across which a line is drawn, ms.
        start: Instant from which on it counts, UTC ms.
        end: Instant up to which it counts.

    Returns:
        The figures in the order in which they are told.

    Raises:
        ValueError: As `hold_set`.
    """
    line = clip(governing(series, max_gap_ms=max_gap_ms), start, end)
    limits = [Limits(low_milli_c=point.milli_c, strict=point.strict) for point in LETHAL_POINTS]
    wanted = list(dict.fromkeys([*limits, _WEEDS]))
    sets = dict(zip(wanted, hold_sets(series, wanted, max_gap_ms=max_gap_ms), strict=True))
    holds = {one: cut(found.hold, start, end) for one, found in sets.items()}
    points = [_of_point(point, longest(holds[own])) for point, own in zip(LETHAL_POINTS, limits, strict=True)]
    return (
        _of_alternative_1(alternative_1(line)),
        *points,
        *_of_weeds(total(holds[_WEEDS]), extremes(line)),
    )


def alternative_1(line: Sequence[LinePiece]) -> float:
    """Return the integral of dt / D(T) over a line, by alternative 1 of 40 CFR 503.32(a)(3); an estimate (rule 2)."""
    growth = ALTERNATIVE_1_PER_DEGREE * log(10) / 1000
    # The time at 0 °C would be so long; above the floor's temperature the rate rises no more.
    at_zero_ms = ALTERNATIVE_1_DAYS * DAY_MS
    highest = log(at_zero_ms / ALTERNATIVE_1_FLOOR_MS) / growth
    return sum(
        _grown(piece, growth, ALTERNATIVE_1_LEAST_MILLI_C, highest, ALTERNATIVE_1_LEAST_MILLI_C)
        * (10 ** (ALTERNATIVE_1_PER_DEGREE * ALTERNATIVE_1_LEAST_MILLI_C / 1000) / at_zero_ms)
        for piece in line
    )


def _grown(piece: LinePiece, growth: float, lowest: float, highest: float, reference: float) -> float:
    """Return the integral of exp(growth * (T - reference)) over a piece, ms.

    Args:
        piece: The line; T in thousandths of a degree Celsius.
        growth: For each thousandth of a degree.
        lowest: Below it nothing counts.
        highest: Above it T counts as this.
        reference: Temperature at which a ms counts as one.
    """
    start, end = piece.milli_c[:-1].astype(np.float64), piece.milli_c[1:].astype(np.float64)
    length = np.diff(piece.times).astype(np.float64)
    low, high = np.minimum(start, end), np.maximum(start, end)
    rise = high - low
    # A line passes every temperature between its ends evenly, so a part of its rise is the same part of its time.
    bottom, top = np.clip(low, lowest, highest), np.clip(high, lowest, highest)
    share = np.divide(top - bottom, rise, out=np.zeros_like(rise), where=rise > 0)
    beyond = np.maximum(high - np.maximum(low, highest), 0)
    above = np.divide(beyond, rise, out=np.zeros_like(rise), where=rise > 0)
    level = rise == 0
    share[level] = (low[level] >= lowest) & (low[level] <= highest)
    above[level] = low[level] > highest
    # With rise > 0 the end at `lowest` is a single instant, so it makes no difference whether that counts.
    within = share * np.exp(growth * (bottom - reference)) * _mean_growth(growth * (top - bottom))
    return float(np.sum(length * (within + above * np.exp(growth * (np.minimum(high, highest) - reference)))))


def _mean_growth(exponent: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the mean of exp over 0 to an exponent >= 0, accurate near 0 as well."""
    return np.divide(np.expm1(exponent), exponent, out=np.ones_like(exponent), where=exponent > 0)


def _of_alternative_1(fraction: float) -> Figure:
    return Figure(
        key="alternative-1",
        words="heat at the coldest probe from 50 °C (122 °F) up, as a multiple of the time that 40 CFR 503.32(a)(3) "
        "asks for at a constant temperature",
        value=round(fraction * 1000),
        unit="",
        source="40 CFR 503.32(a)(3), equation for 7 % solids or more, as restated in 15A NCAC 02T .1106",
        status=OWN_ESTIMATE,
        caution="an estimate of our own: the regulation asks for one constant temperature and does not add up "
        "fractions; reaching 1 does not fulfil it",
    )


def _of_point(point: LethalPoint, run: tuple[int, int] | None) -> Figure:
    lasted = run[1] - run[0] if run else 0
    how = "above" if point.strict else "at or above"
    both = f"{show_temperature(point.milli_c, 'degC')} ({show_temperature(point.milli_c, 'degF')})"
    return Figure(
        key=f"point:{point.key}",
        words=f"longest unbroken time {how} {both}; {point.organism}: {show_duration(point.duration_ms)} is published",
        value=lasted * 1000 // 3_600_000,
        unit="h",
        # Compared in ms, not in the rounded hours.
        reached=lasted >= point.duration_ms,
        span=run,
        source=point.source,
        status=point.status.value,
        caution=point.caution or "published for other materials; information only",
    )


_WEEDS = Limits(low_milli_c=55_000)


def _of_weeds(lasted_ms: int, bounds: tuple[int, int] | None) -> tuple[Figure, Figure]:
    caution = (
        "advisory only: species differ, and temperature explains 17 to 29 % of what survives (Larney & Blackshaw 2003)"
    )
    return (
        Figure(
            key="weed-seeds-55",
            words="days in all at 55 °C (131 °F) or above at the coldest probe; with a core at 55 to 65 °C most weed "
            "seeds of a trial were dead after 14 days, all after 28",
            value=lasted_ms * 1000 // DAY_MS,
            unit="d",
            span=None,
            source="trial of 12 species in windrows, abstract",
            status="seen",
            caution=caution,
        ),
        Figure(
            key="weed-seeds-60",
            words="whether the coldest probe reached 60 °C (140 °F); in a trial with manure that killed the seeds after "
            "one turning",
            value=bounds[1] if bounds else None,
            unit="Cel",
            reached=bounds is not None and bounds[1] >= 60_000,
            source="trial of weed seeds in manure windrows, abstract",
            status="seen",
            caution=caution,
        ),
    )
