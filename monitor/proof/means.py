"""When the mean of several probes is within limits, exactly.

Between two knots (readings of any probe, and ends of service) every probe's temperature is a straight line, so the
mean is one too. Its value at a knot is a fraction. Rounding each probe's value down brackets the sum from both
sides; only a knot whose bracket holds a limit, and a line that crosses one, are worked out as exact fractions.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import ceil, floor
from typing import Any

import numpy as np
from numpy.typing import NDArray

from monitor.proof.intervals import Intervals, normal
from monitor.proof.rules import Limits

Line = tuple[NDArray[np.int64], NDArray[np.int64], Intervals]
"""One probe: times (ms), values (thousandths of a degree Celsius), service."""

_SAFE = 2**62


@dataclass(slots=True)
class _Sums:
    """Brackets of the sum of the probes in service, at each end of each piece, and how many they are."""

    low_at_start: NDArray[Any]
    low_at_end: NDArray[Any]
    spread_at_start: NDArray[Any]
    spread_at_end: NDArray[Any]
    probes: NDArray[np.int64]


def mean_holds(lines: Sequence[Line], proven: Intervals, limits: Limits) -> Intervals:
    """Return the instants of the proven set at which the mean of the probes in service is within the limits."""
    if not proven or limits.hopeless:
        return ()
    starts, ends = _pieces(lines, proven)
    sums = _sums(lines, starts, ends)
    zone_at_start = _zones(lines, starts, ends, sums, limits, at_end=False)
    zone_at_end = _zones(lines, starts, ends, sums, limits, at_end=True)
    whole = (zone_at_start == 0) & (zone_at_end == 0)
    # Neighbouring whole pieces are joined here, so that a long hold is one pair and not one for every reading.
    joined = np.concatenate(([False], whole[1:] & whole[:-1] & (starts[1:] == ends[:-1])))
    first = np.flatnonzero(whole & ~joined)
    last = np.flatnonzero(whole & ~np.concatenate((joined[1:], [False])))
    holds = list(zip(starts[first].tolist(), ends[last].tolist(), strict=True))
    for place in np.flatnonzero(~whole & (zone_at_start != zone_at_end)).tolist():
        start, end = int(starts[place]), int(ends[place])
        pair = _part(start, end, _exact(lines, start, end), limits)
        if pair is not None:
            holds.append(pair)
    return normal(holds)


def _pieces(lines: Sequence[Line], proven: Intervals) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Cut the proven set at every knot; a single proven instant is a piece of no length."""
    bounds = np.array([end for pair in proven for end in pair], dtype=np.int64)
    edges = np.array([end for _, _, service in lines for pair in service for end in pair], dtype=np.int64)
    knots = np.unique(np.concatenate([bounds, edges, *(times for times, _, _ in lines)]))
    begin, finish = bounds[0::2], bounds[1::2]
    starts, ends = knots[:-1], knots[1:]
    within = np.searchsorted(begin, starts, "right") - 1
    kept = (within >= 0) & (ends <= finish[np.maximum(within, 0)])
    single = begin[begin == finish]
    starts, ends = np.concatenate((starts[kept], single)), np.concatenate((ends[kept], single))
    order = np.argsort(starts, kind="stable")
    return starts[order], ends[order]


def _in_service(service: Intervals, starts: NDArray[np.int64], ends: NDArray[np.int64]) -> NDArray[np.bool_]:
    begin = np.array([pair[0] for pair in service], dtype=np.int64)
    finish = np.array([pair[1] for pair in service], dtype=np.int64)
    within = np.searchsorted(begin, starts, "right") - 1
    result: NDArray[np.bool_] = (within >= 0) & (ends <= finish[np.maximum(within, 0)])
    return result


def _sums(lines: Sequence[Line], starts: NDArray[np.int64], ends: NDArray[np.int64]) -> _Sums:
    zero = np.zeros(starts.shape, dtype=np.int64)
    sums = _Sums(zero, zero.copy(), zero.copy(), zero.copy(), zero.copy())
    for times, values, service in lines:
        if not times.size or not service:
            continue
        active = _in_service(service, starts, ends)
        before = np.clip(np.searchsorted(times, starts, "right") - 1, 0, times.size - 1)
        after = np.minimum(before + 1, times.size - 1)
        t0, v0, length = times[before], values[before], times[after] - times[before]
        rise = values[after] - v0
        length = np.where(length == 0, 1, length)
        product_max = (int(np.max(np.abs(rise))) + 1) * (int(np.max(length)) + 1)
        if product_max >= _SAFE:
            rise = rise.astype(object)
        # Pieces in which this probe is out would reach beyond its line; their products are never used.
        at_start = rise * np.where(active, starts - t0, 0)
        at_end = rise * np.where(active, ends - t0, 0)
        sums.low_at_start += np.where(active, v0 + at_start // length, 0).astype(np.int64)
        sums.low_at_end += np.where(active, v0 + at_end // length, 0).astype(np.int64)
        sums.spread_at_start += active & (at_start % length != 0)
        sums.spread_at_end += active & (at_end % length != 0)
        sums.probes += active
    return sums


def _zones(
    lines: Sequence[Line],
    starts: NDArray[np.int64],
    ends: NDArray[np.int64],
    sums: _Sums,
    limits: Limits,
    *,
    at_end: bool,
) -> NDArray[np.int8]:
    """Return -1 below, 0 within, 1 above, for the mean at the start or the end of each piece."""
    low, spread = (sums.low_at_end, sums.spread_at_end) if at_end else (sums.low_at_start, sums.spread_at_start)
    zone = _zone(low, sums.probes, limits)
    unsure = np.flatnonzero(zone != _zone(low + spread, sums.probes, limits))
    # A true sum within its bracket but off a limit by less than one, or exactly on it, is settled by fractions.
    for place in unsure.tolist():
        first, last, probes = _exact(lines, int(starts[place]), int(ends[place]))
        total = last if at_end else first
        zone[place] = _zone_of(total, probes, limits)
    return zone


def _zone(total: NDArray[Any], probes: NDArray[np.int64], limits: Limits) -> NDArray[np.int8]:
    low = probes * limits.low_milli_c
    zone = np.zeros(total.shape, dtype=np.int8)
    zone[(total <= low) if limits.strict else (total < low)] = -1
    if limits.high_milli_c is not None:
        zone[total > probes * limits.high_milli_c] = 1
    zone[probes == 0] = -1
    return zone


def _zone_of(total: Fraction, probes: int, limits: Limits) -> int:
    low = probes * limits.low_milli_c
    if limits.high_milli_c is not None and total > probes * limits.high_milli_c:
        return 1
    return -1 if total < low or (limits.strict and total == low) else 0


def _exact(lines: Sequence[Line], start: int, end: int) -> tuple[Fraction, Fraction, int]:
    """Return the exact sums at both ends of a piece, and how many probes are in service throughout it."""
    sums = [Fraction(0), Fraction(0)]
    probes = 0
    for times, values, service in lines:
        if not any(begin <= start and end <= finish for begin, finish in service):
            continue
        probes += 1
        before = int(np.searchsorted(times, start, "right")) - 1
        after = min(before + 1, times.size - 1)
        t0, v0, length = int(times[before]), int(values[before]), int(times[after] - times[before])
        rise = int(values[after]) - v0
        for place, at in enumerate((start, end)):
            sums[place] += v0 + (Fraction(rise * (at - t0), length) if length else 0)
    return sums[0], sums[1], probes


def _part(start: int, end: int, sums: tuple[Fraction, Fraction, int], limits: Limits) -> tuple[int, int] | None:
    """Return the whole milliseconds of a piece within the limits; the mean changes zone in it, so it is not level."""
    first, last, probes = sums
    slope = (last - first) / (end - start)
    earliest, latest = Fraction(start), Fraction(end)
    low = start + (probes * limits.low_milli_c - first) / slope
    opens = low if slope > 0 else None
    closes = low if slope < 0 else None
    if opens is not None and opens >= earliest:
        earliest = Fraction(floor(opens) + 1 if limits.strict else ceil(opens))
    if closes is not None and closes <= latest:
        latest = Fraction(ceil(closes) - 1 if limits.strict else floor(closes))
    if limits.high_milli_c is not None:
        high = start + (probes * limits.high_milli_c - first) / slope
        if slope > 0:
            latest = min(latest, Fraction(floor(high)))
        else:
            earliest = max(earliest, Fraction(ceil(high)))
    return (int(earliest), int(latest)) if earliest <= latest else None
