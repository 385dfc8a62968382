"""Calibrates many raw values at once, and finds the readings that are not plain (see `columns`)."""

import numpy as np

from monitor.conditioning.calibration import Line
from monitor.conditioning.columns import Bools, Ints, Series, raw_changes, raw_steps
from monitor.model.times import HOUR_MS
from monitor.model.units import divide_half_even

_SAFE = 1 << 61


def calibrated(line: Line, micro: Ints) -> Ints:
    """Return thousandths of raw values, each rounded half-even once."""
    numerator, addend, denominator = line
    largest = int(np.abs(micro).max()) if len(micro) else 0
    if largest * abs(numerator) + abs(addend) >= _SAFE or denominator >= _SAFE:
        return np.array([line.milli(one) for one in micro.tolist()], dtype=np.int64)
    return divide_half_even(micro if (numerator, addend) == (1, 0) else micro * numerator + addend, denominator)


def suspects(series: Series, follows: Ints) -> Ints:
    """Return the indices of readings that are not plain.

    Args:
        series: The series, calibrated; none of its readings waits when the run begins.
        follows: Hours (since 1970) in which it seems to follow ambient.
    """
    checks, record, time, milli = series.checks, series.record, series.time, series.milli
    if not len(time):
        return np.zeros(0, np.int64)
    refused = checks.refuses(milli, series.micro)
    odd = refused.copy()
    beside = np.empty(len(time), dtype=np.int64)
    np.subtract(time[1:], time[:-1], out=beside[1:])
    beside[0] = int(time[0]) - record.time
    if checks.power_up is not None:
        odd |= series.micro == checks.power_up
    if checks.watched:
        change = np.empty(len(time), dtype=np.int64)
        np.subtract(milli[1:], milli[:-1], out=change[1:])
        change[0] = int(milli[0]) - record.accepted_milli
        odd |= checks.jumps(change, beside)
        _add_still(series, odd, refused)
        if len(follows):
            odd |= np.isin(time // HOUR_MS, follows)
    return np.flatnonzero(odd)


def _add_still(series: Series, odd: Bools, refused: Bools) -> None:
    """Add the readings whose raw value has not changed for so long that the other probes must be asked."""
    checks, record = series.checks, series.record
    if checks.fine is False:
        return
    where: Ints | None = None
    seen = series
    if refused.any():
        where = np.flatnonzero(~refused)
        if not len(where):
            return
        time, micro = series.time[where], series.micro[where]
        seen = Series(series.name, series.rows, time, micro, series.milli, checks, record)
    count = len(seen.time)
    changed = raw_changes(seen, record, 0, count, raw_steps(seen, record, 0, count))
    goes_on = not len(changed) or changed[0] != 0
    starts = np.concatenate((np.zeros(1, np.int64), changed)) if goes_on else changed
    ends = np.concatenate((starts[1:], np.array([count])))
    since = seen.time[starts].copy()
    if goes_on:
        since[0] = record.raw_time - record.still_ms
    for which in np.flatnonzero(seen.time[ends - 1] - since >= checks.flat_suspect).tolist():
        part = np.arange(starts[which], ends[which])
        part = part[seen.time[part] - since[which] >= checks.flat_suspect]
        odd[part if where is None else where[part]] = True
