"""Converts a value as sent to thousandths of its quantity's unit: unit, calibration and moisture basis, rounded once.

Rules:

1. The whole conversion is one straight line, `(micro * numerator + addend) / denominator`, in integers; it is rounded
   half-even exactly once, at the end.
2. A calibration is in force from its `start` (None: from the beginning) until the next one's.
3. The value of a `volume` moisture probe is converted to wet mass by the bulk density of the wet material, after calibration:
   M_wet = theta * 1000 kg/m3 / bulk density (computed relation). The value of a `raw` probe becomes wet mass by
   its two-point calibration. Without these the number is kept and plotted, and `comparable` is False: it must never
   be compared with a limit.

The callers choose the limits.
"""

from collections.abc import Iterator
from math import gcd
from typing import NamedTuple

from monitor.model.settings import Calibration, Probe
from monitor.model.units import UNITS_OF, Quantity, canonical_fraction, divide_half_even
from monitor.model.words import Basis

ALWAYS = 1 << 62
"""An instant after every reading, UTC ms."""

NEVER = -ALWAYS
"""An instant before every reading, UTC ms."""

_WATER_KG_M3 = 1000


class Line(NamedTuple):
    """milli = (micro * numerator + addend) / denominator; the denominator is positive and the fraction reduced."""

    numerator: int
    addend: int
    denominator: int

    def milli(self, micro: int) -> int:
        """Return thousandths of the canonical unit, rounded half-even once."""
        return divide_half_even(micro * self.numerator + self.addend, self.denominator)


class Stretch(NamedTuple):
    """A line and the instants `start <= time < end` (UTC ms) in which it is in force; None: the unit does not fit."""

    line: Line | None
    start: int
    end: int


def calibrate(micro: int, unit: str, probe: Probe, time: int) -> int | None:
    """Return a value as sent in thousandths of the canonical unit of the probe's quantity.

    Args:
        micro: The value as sent, millionths of `unit`.
        unit: Its unit code.
        probe: The probe, with its calibrations and moisture basis.
        time: The reading's own time, UTC ms: decides which calibration is in force.

    Returns:
        Thousandths, or None if the unit is not one of the quantity's.
    """
    if unit == "Cel" and not probe.calibrations and probe.quantity is Quantity.TEMPERATURE:
        return divide_half_even(micro, 1000)
    line = stretch_at(probe, unit, time).line
    return None if line is None else line.milli(micro)


def comparable(probe: Probe, time: int) -> bool:
    """Return whether the probe's values at `time` (UTC ms) may be compared with a limit."""
    if probe.quantity is not Quantity.MOISTURE or probe.basis is Basis.WET_MASS:
        return True
    if probe.basis is Basis.VOLUME:
        return (probe.bulk_density_kg_m3 or 0) > 0
    calibration = _in_force(probe, time)[0]
    return calibration is not None and _is_two_point(calibration)


def stretch_at(probe: Probe, unit: str, time: int) -> Stretch:
    """Find the line for a probe's values, and the time in which it stays in force.

    Args:
        probe: The probe, with its calibrations and moisture basis.
        unit: Unit code of the values.
        time: An instant, UTC ms.

    Returns:
        The line and its instants; the line is None if the unit is not one of the quantity's.
    """
    calibration, start, end = _in_force(probe, time)
    return Stretch(_line(probe, unit, calibration), start, end)


def plain_line(unit: str) -> Line | None:
    """Return the line of a bare unit conversion, or None if the unit is unknown."""
    try:
        addend, denominator = canonical_fraction(0, unit)
    except KeyError:
        return None
    return _reduced(canonical_fraction(1, unit)[0] - addend, addend, denominator)


def _in_force(probe: Probe, time: int) -> tuple[Calibration | None, int, int]:
    best: Calibration | None = None
    start, end = NEVER, ALWAYS
    for begin, calibration in _by_start(probe):
        if begin > time:
            end = min(end, begin)
        elif begin >= start:  # of two with one start take the later entry: people write it to correct the first
            best, start = calibration, begin
    return best, start, end


def _by_start(probe: Probe) -> Iterator[tuple[int, Calibration]]:
    for calibration in probe.calibrations:
        if calibration.points:
            yield (NEVER if calibration.start is None else calibration.start), calibration


def _is_two_point(calibration: Calibration) -> bool:
    return calibration.points[0][0] != calibration.points[-1][0]


def _line(probe: Probe, unit: str, calibration: Calibration | None) -> Line | None:
    line: Line | None
    is_moisture = probe.quantity is Quantity.MOISTURE
    if is_moisture and probe.basis is Basis.RAW:
        line = Line(1, 0, 1000)  # thousandths of the raw number, whatever its unit says
    elif unit not in UNITS_OF[probe.quantity]:
        return None
    else:
        line = plain_line(unit)
        assert line is not None
        if unit == "1":  # only moisture is sent so; UCUM: 1 means the whole, 100 %
            line = _reduced(line.numerator * 100, line.addend * 100, line.denominator)
    if calibration is not None:
        line = _calibrated(line, calibration)
    if is_moisture and probe.basis is Basis.VOLUME and comparable(probe, NEVER):
        density = probe.bulk_density_kg_m3 or _WATER_KG_M3
        line = _reduced(line.numerator * _WATER_KG_M3, line.addend * _WATER_KG_M3, line.denominator * density)
    return line


def _calibrated(line: Line, calibration: Calibration) -> Line:
    """Lay the calibration over a line: y = b1 + (x - a1) * (b2 - b1) / (a2 - a1), or x + (b1 - a1) for one point."""
    numerator, addend, denominator = line
    (shown, right), (shown_2, right_2) = calibration.points[0], calibration.points[-1]
    if not _is_two_point(calibration):
        return _reduced(numerator, addend + (right - shown) * denominator, denominator)
    run, rise = shown_2 - shown, right_2 - right
    return _reduced(
        numerator * rise,
        (addend - shown * denominator) * rise + right * denominator * run,
        denominator * run,
    )


def _reduced(numerator: int, addend: int, denominator: int) -> Line:
    divisor = gcd(numerator, addend, denominator)
    if denominator < 0:
        divisor = -divisor
    return Line(numerator // divisor, addend // divisor, denominator // divisor)
