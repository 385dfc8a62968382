"""The checks of a series, and their limits in the form that the step needs: fixed for a (series, unit).

Rules:

1. Only temperature probes get temperature checks. Other quantities get the range that is physically possible; a
   moisture value that cannot be compared with a limit gets none and stays *not evaluated*.
2. Readings by hand, readings of a bare recording and of a probe that the settings do not know are never checked for
   spikes or flat lines, and never better than *not evaluated*.
3. Error codes are raw values: -127 °C (the disconnected constant of a common driver) and 85 °C (the power-on register
   of the DS18B20), exact in whatever unit the node sends. Source: `docs/sources.md` [S20].
"""

from typing import TYPE_CHECKING, Any, NamedTuple, overload

from monitor.conditioning.calibration import ALWAYS, NEVER, calibrate, comparable
from monitor.model.flags import ACCEPTED, Flag, FlagReason, Verdict
from monitor.model.readings import Reading, is_hand
from monitor.model.settings import Probe
from monitor.model.thresholds import ProbeThresholds
from monitor.model.units import MICRO, Quantity, to_milli
from monitor.model.words import Role

if TYPE_CHECKING:
    from monitor.model.number_or_column import Bools, Ints

_CODE = {
    # unit -> (raw value of -127 °C, raw value of 85 °C, numerator and denominator of one degree in the unit)
    "Cel": (-127 * MICRO, 85 * MICRO, 1, 1),
    "[degF]": (-196_600_000, 185 * MICRO, 9, 5),
    "K": (146_150_000, 358_150_000, 1, 1),
}

_PHYSICAL: dict[Quantity, tuple[int, int]] = {
    # Thousandths; the ranges of shares hold by definition, the others are common practice, no published source.
    Quantity.MOISTURE: (0, 100_000),
    Quantity.OXYGEN: (0, 100_000),
    Quantity.BATTERY: (0, 60_000),
    Quantity.SIGNAL: (-200_000, 50_000),
}


class Checks(NamedTuple):
    """Limits of one series.

    Attributes:
        probe: The series' id.
        low, high: Gross range, thousandths, ends pass.
        disconnected, power_up: Raw error codes (millionths of the unit), or None.
        watched: A configured temperature probe: spike, flat line and the hours apply.
        core: *Follows ambient* applies.
        flag, reason: Verdict on a reading if no check objects.
        step, span, apart: Spike step (thousandths), look-ahead (ms), distance of a power-up value (thousandths).
        flat_suspect, flat_fail: Flat-line durations, ms.
        fine: Whether the configured resolution is fine enough for a flat line, or None (then it is observed).
        fine_micro: Coarsest step of the raw value, millionths, that is fine enough.
    """

    probe: str
    low: int
    high: int
    disconnected: int | None
    power_up: int | None
    watched: bool
    core: bool
    flag: Flag
    reason: FlagReason
    step: int
    span: int
    apart: int
    flat_suspect: int
    flat_fail: int
    fine: bool | None
    fine_micro: int

    @overload
    def refuses(self, milli: int, micro: int) -> bool: ...
    @overload
    def refuses(self, milli: "Ints", micro: "Ints") -> "Bools": ...
    def refuses(self, milli: Any, micro: Any) -> Any:
        """Return whether a value (or which of a column) fails by itself: out of range, or the code of a disconnected sensor."""
        refused = (milli < self.low) | (milli > self.high)
        if self.disconnected is not None:
            refused |= micro == self.disconnected
        return refused

    @overload
    def jumps(self, change: int, after_ms: int) -> bool: ...
    @overload
    def jumps(self, change: "Ints", after_ms: "Ints") -> "Bools": ...
    def jumps(self, change: Any, after_ms: Any) -> Any:
        """Return whether a reading steps so far from the accepted one before it, and so soon, that the next must confirm it."""
        return ((change > self.step) | (change < -self.step)) & (after_ms <= self.span)


def checks_for(name: str, unit: str, probe: Probe | None, thresholds: ProbeThresholds, time: int = NEVER) -> Checks:
    """Choose the checks of a series.

    Args:
        name: The series' id.
        unit: Unit of its raw values.
        probe: Its settings, or None for a hand series, a bare recording or an unknown probe.
        thresholds: Limits in force.
        time: Instant, UTC ms; decides only whether a raw moisture probe has its calibration.

    Returns:
        The limits of the series, raw ones in millionths of `unit`.
    """
    by_hand = is_hand(name)
    is_temperature = unit in _CODE if probe is None else probe.quantity is Quantity.TEMPERATURE
    disconnected, power_up, numerator, denominator = _CODE.get(unit, (None, None, 1, 1))
    low, high = _range(probe, unit, thresholds, is_temperature, time)
    watched = is_temperature and probe is not None and not by_hand
    fine_micro = thresholds.flat_resolution_milli_k * 1000 * numerator // denominator
    resolution = None if probe is None else probe.resolution_micro
    judged = probe is not None and not by_hand and comparable(probe, time)
    return Checks(
        probe=name,
        low=low,
        high=high,
        disconnected=disconnected if is_temperature and not by_hand else None,
        power_up=power_up if is_temperature and not by_hand else None,
        watched=watched,
        core=watched and probe is not None and probe.role is Role.CORE,
        flag=Flag.PASS if judged else Flag.NOT_EVALUATED,
        reason=FlagReason.HAND if by_hand else FlagReason.NONE,
        step=thresholds.spike_step_milli_k,
        span=thresholds.spike_span_ms,
        apart=thresholds.power_up_apart_milli_k,
        flat_suspect=thresholds.flat_suspect_ms,
        flat_fail=thresholds.flat_fail_ms,
        fine=None if resolution is None else resolution <= fine_micro,
        fine_micro=fine_micro,
    )


def flag_by_hand(reading: Reading, thresholds: ProbeThresholds) -> Verdict:
    """Return the verdict on a reading taken by hand: it fails only if no thermometer can show its value."""
    time, name, micro, unit = reading
    checks = checks_for(name, unit, None, thresholds)
    milli = to_milli(micro, unit)
    if not checks.low <= milli <= checks.high:
        return Verdict(time, name, milli, Flag.FAIL, FlagReason.GROSS_RANGE)
    return Verdict(time, name, milli, checks.flag, checks.reason)


def possible(reading: Reading, milli: int, probe: Probe, thresholds: ProbeThresholds) -> bool:
    """Return whether a probe's value is possible in itself, whatever its neighbours say.

    Args:
        reading: The reading as sent.
        milli: Its calibrated value, thousandths.
        probe: The probe's settings.
        thresholds: Limits in force.

    Returns:
        False if it is out of the gross range, or an error code.
    """
    checks = checks_for(reading.probe, reading.unit, probe, thresholds, reading.time)
    return not checks.refuses(milli, reading.micro) and reading.micro != checks.power_up


def temperature_of(reading: Reading, probe: Probe | None, limits: ProbeThresholds) -> int | None:
    """Return the temperature that a value means, whatever its neighbours say.

    Args:
        reading: The value as sent.
        probe: The settings of its probe; None for a spot that is read by hand.
        limits: What can be measured.

    Returns:
        Thousandths of °C; None if it cannot be measured.
    """
    if probe is None:
        verdict = flag_by_hand(reading, limits)
        return verdict.milli if verdict.flag in ACCEPTED else None
    milli = calibrate(reading.micro, reading.unit, probe, reading.time)
    return milli if milli is not None and possible(reading, milli, probe, limits) else None


def _range(
    probe: Probe | None, unit: str, thresholds: ProbeThresholds, is_temperature: bool, time: int
) -> tuple[int, int]:
    if is_temperature:
        return thresholds.gross_low_milli_c, thresholds.gross_high_milli_c
    if probe is None:
        return _PHYSICAL[Quantity.MOISTURE] if unit == "%" else (NEVER, ALWAYS)
    if not comparable(probe, time):
        return NEVER, ALWAYS
    return _PHYSICAL[probe.quantity]
