"""The exact times in which the mean of several probes is within limits.

Between two knots the mean is a straight line; its value there is a sum of fractions. It is reckoned in floating point
first, with a bound on the error. Where that leaves a doubt (a sum on a limit, a crossing on a whole millisecond), and
only there, it is compared in whole numbers, so the result is exact.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import ceil, floor
from typing import Any

import numpy as np
from numpy.typing import NDArray

from monitor.proof.intervals import EMPTY, Column, Spans, in_order, normal_columns
from monitor.proof.rules import Limits
from monitor.proof.temperature import Bundle, Stretches, between_drawn, bundles, places_at, walk

_SAFE = 2**62


@dataclass(frozen=True, slots=True)
class _Means:
    """The sum of the probes of a bundle at each knot, in floating point; each sum is off by no more than `error`."""

    bundle: Bundle
    times: Column
    sums: NDArray[np.float64]
    error: float


def mean_holds(known: Sequence[Stretches], proven: Spans, limits: Limits) -> Spans:
    """Return when the mean of the probes in service is within the limits.

    Args:
        known: The readings of each probe, as stretches.
        proven: When the mean is known; a part of the result is never beyond it.
        limits: Lower and upper limit.

    Returns:
        The instants, exact to the millisecond, rounded inward.
    """
    if limits.hopeless:
        return EMPTY
    found = [_holds(_means(bundle), limits) for bundle in bundles(known, proven)]
    if not found:
        return EMPTY
    return normal_columns(np.concatenate([one.starts for one in found]), np.concatenate([one.ends for one in found]))


def _means(bundle: Bundle) -> _Means:
    slopes = [_slopes(one.times, one.milli_c) for one in bundle.series]
    times, sums = [], []
    for knots in walk(bundle):
        here = np.zeros(knots.times.shape, dtype=np.float64)
        for one, slope, place in zip(bundle.series, slopes, knots.places, strict=True):
            here += (knots.times - one.times[place]) * slope[place]
            here += one.milli_c[place]
        times.append(knots.times)
        sums.append(here)
    highest = max(int(np.max(np.abs(one.milli_c))) for one in bundle.series)
    count = len(bundle.series)
    # Each term takes a handful of roundings of values up to three times the highest, each sum one more a probe.
    error = count * (count + 16) * highest * 2.0**-51
    return _Means(bundle, np.concatenate(times), np.concatenate(sums), error)


def _slopes(times: Column, values: Column) -> NDArray[np.float64]:
    slopes: NDArray[np.float64] = np.zeros(times.shape, dtype=np.float64)
    np.divide(values[1:] - values[:-1], times[1:] - times[:-1], out=slopes[:-1])
    return slopes


def _holds(means: _Means, limits: Limits) -> Spans:
    known = means.bundle.known
    first = np.searchsorted(means.times, known.starts, "left")
    last = np.searchsorted(means.times, known.ends, "left")
    zone = _zones(means, limits)
    place = np.flatnonzero(zone[1:] != zone[:-1])
    drawn = between_drawn(place, first, last)
    place = place if drawn is None else place[drawn]
    was, now = zone[place], zone[place + 1]
    starts = [known.starts[zone[first] == 0], _crossings(means, place[was < 0], limits.low_milli_c, 1, limits.strict)]
    ends = [known.ends[zone[last] == 0], -_crossings(means, place[now < 0], limits.low_milli_c, 1, limits.strict, -1)]
    if limits.high_milli_c is not None:
        starts.append(_crossings(means, place[was > 0], limits.high_milli_c, -1, False))
        ends.append(-_crossings(means, place[now > 0], limits.high_milli_c, -1, False, -1))
    begin, finish = in_order(*starts), in_order(*ends)
    # A line from beyond one limit to beyond the other may pass through between two whole milliseconds.
    kept = begin <= finish
    return Spans(begin[kept], finish[kept])


def _zones(means: _Means, limits: Limits) -> NDArray[np.int8]:
    """Return -1 below, 0 within, 1 above, for the mean at each knot (anything where it is not proven)."""
    count = len(means.bundle.series)
    bounds = [(count * limits.low_milli_c, -1, limits.strict)]
    if limits.high_milli_c is not None:
        bounds.append((count * limits.high_milli_c, 1, False))
    zone = np.zeros(means.times.shape, dtype=np.int8)
    for limit, side, strict in bounds:
        off = side * (means.sums - limit)
        sign = (off > 0).view(np.int8)
        doubt = np.flatnonzero(np.abs(off) <= means.error + abs(limit) * 2.0**-51)
        if doubt.size:
            exact = side * _compare(means.bundle, means.times[doubt], limit)
            sign[doubt] = (exact >= 0) if strict else (exact > 0)
        zone += side * sign
    return zone


def _crossings(
    means: _Means, place: NDArray[np.intp], limit_milli_c: int, sign: int, strict: bool, direction: int = 1
) -> Column:
    """Return the first whole ms of each line that is at or above a limit (above, if strict).

    With `sign` -1 it is at or below the limit. With `direction` -1 time runs backward, and what is returned is the
    last such ms with its sign turned round.
    """
    limit = len(means.bundle.series) * limit_milli_c
    start, end = means.times[place], means.times[place + 1]
    one, other = means.sums[place], means.sums[place + 1]
    if direction < 0:
        start, end, one, other = end, start, other, one
    rise = sign * (other - one)
    length = np.abs(end - start)
    error = means.error + abs(limit) * 2.0**-51
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        after = sign * (limit - one) / rise * length
        # The exact crossing differs from this by the errors of three sums and of the roundings.
        off = 8 * error / rise * length + length * 2.0**-48
        sure = (rise > 4 * error) & (off < 0.25) & (np.abs(after - np.rint(after)) > off)
    moment: Column = np.zeros(place.shape, dtype=np.int64)
    moment[sure] = direction * start[sure] + np.ceil(after[sure]).astype(np.int64)
    near = np.flatnonzero(~sure & (rise > 4 * error) & (off < 0.25))
    if near.size:
        nearest = start[near] + direction * np.rint(after[near]).astype(np.int64)
        exact = sign * _compare(means.bundle, nearest, limit, np.minimum(start, end)[near])
        reached = exact > 0 if strict else exact >= 0
        moment[near] = direction * nearest + np.where(reached, 0, 1)
    for one_place in np.flatnonzero(~sure & ~((rise > 4 * error) & (off < 0.25))).tolist():
        here, there = int(start[one_place]), int(end[one_place])
        moment[one_place] = _exact_crossing(means.bundle, (here, there), limit, strict)
    return moment


def _exact_crossing(bundle: Bundle, line: tuple[int, int], limit: int, strict: bool) -> int:
    """Return the crossing, as `_crossings` does, of one line from its first instant (where its time begins) to the other."""
    here, there = line
    first, last = _exact(bundle, here, min(line)), _exact(bundle, there, min(line))
    # With time running backward every instant has its sign turned round.
    direction = 1 if there > here else -1
    moment = direction * here + (limit - first) * abs(there - here) / (last - first)
    return floor(moment) + 1 if strict else ceil(moment)


def _exact(bundle: Bundle, at: int, since: int) -> Fraction:
    """Return the exact sum at an instant, by the lines that apply from `since` on."""
    total = Fraction(0)
    for one in bundle.series:
        place = int(np.searchsorted(one.times, since, "right")) - 1
        start, value = int(one.times[place]), int(one.milli_c[place])
        total += value
        if at > start:
            rise = int(one.milli_c[place + 1]) - value
            total += Fraction(rise * (at - start), int(one.times[place + 1]) - start)
    return total


def _compare(bundle: Bundle, at: Column, limit: int, since: Column | None = None) -> NDArray[np.int8]:
    """Return the sign of (exact sum - limit) at some instants, by the lines that apply from `since` on."""
    whole: NDArray[Any] = np.zeros(at.shape, dtype=np.int64)
    rests, lengths = [], []
    since = at if since is None else since
    for one, place in zip(bundle.series, places_at(bundle, since), strict=True):
        after = np.minimum(place + 1, one.times.size - 1)
        length = np.maximum(one.times[after] - one.times[place], 1)
        rise, apart = one.milli_c[after] - one.milli_c[place], at - one.times[place]
        if (int(np.max(np.abs(rise), initial=0)) + 1) * (int(np.max(np.abs(apart), initial=0)) + 1) >= _SAFE:
            rise = rise.astype(object)
        product = rise * apart
        whole = whole + one.milli_c[place] + product // length
        rests.append((product % length).astype(np.int64))
        lengths.append(length)
    rest, length = np.stack(rests), np.stack(lengths)
    shared = np.maximum(np.max(np.where(rest > 0, length, 0), axis=0), 1)
    if int(np.max(shared)) * (int(np.max(np.abs(whole - limit))) + len(rests) + 1) >= _SAFE:
        whole, shared = whole.astype(object), shared.astype(object)
    sign: NDArray[np.int8] = np.sign((whole - limit) * shared + np.sum(rest, axis=0)).astype(np.int8)
    # Fractions of unlike parts have no such common denominator.
    for number in np.flatnonzero(np.any((rest > 0) & (length != shared), axis=0)).tolist():
        begin = int(since[number])
        exact = _exact(bundle, int(at[number]), begin) - limit
        sign[number] = (exact > 0) - (exact < 0)
    return sign
