"""A running mean over a probe's temperature, as another line that can be held against limits.

Rules this module keeps:

1. What is averaged is the piecewise straight line of one probe, not its readings: the exact integral over the window,
   divided by its length. So readings that stand close together do not count more than others.
2. The window is centred: a smoothing of n ms at t looks from t - n // 2 to t + (n - n // 2). A trailing window would
   move every crossing later by half its length.
3. The window must lie within one proven stretch; where it does not, the smoothed value is unproven. So each stretch
   becomes shorter by n in all, and one shorter than n says nothing any more.
4. The smoothed line has a point at each reading whose window fits, and at the first and the last instant of the stretch
   at which it fits; between them it is straight, as between readings. Each point is rounded once, half-even, to the
   thousandth.

Sums are integers: twice the integral is a whole number at every reading, and at an instant between two readings a
whole number and a fraction whose sign is all that the rounding may need. Source: none; the definition is our own.
"""

from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from monitor.proof.intervals import Column, distinct
from monitor.proof.temperature.segments import Series, Stretches, covered, stretches

_SAFE = 2**62


def smooth(one: Series, smoothing_ms: int, max_gap_ms: int) -> Series:
    """Return the running mean of a probe as readings of the same probe, with the same service.

    Args:
        one: Accepted readings.
        smoothing_ms: Length of the window, ms; 0 returns the readings as they are.
        max_gap_ms: Longest distance between two readings across which a line is drawn, ms. With the same distance the
            result is proven exactly where the window fits.

    Returns:
        Readings of the running mean; none where no window fits.

    Raises:
        ValueError: As `stretches`, or the window's length is negative.
    """
    if smoothing_ms < 0:
        raise ValueError(f"a running mean cannot be taken over {smoothing_ms} ms")
    if smoothing_ms == 0:
        return one
    times = _moments(stretches(one, max_gap_ms), smoothing_ms)
    if not times.size:
        return replace(one, times=times, milli_c=times)
    earlier = smoothing_ms // 2
    sums = _sums(one.times, one.milli_c)
    from_whole, from_rest, from_length = _twice_integral(one, sums, times - earlier)
    to_whole, to_rest, to_length = _twice_integral(one, sums, times + (smoothing_ms - earlier))
    # Twice the integral over the window is `whole` and a fraction between -1 and 1.
    whole = to_whole - from_whole
    fraction = _sign(to_rest, to_length, from_rest, from_length)
    return replace(one, times=times, milli_c=_half_even(whole, fraction, 2 * smoothing_ms))


def _moments(known: Stretches, smoothing_ms: int) -> Column:
    """Return the instants at which the smoothed line has a point."""
    times = known.series.times
    first = times[known.first] + smoothing_ms // 2
    last = times[known.last] - (smoothing_ms - smoothing_ms // 2)
    fits = first <= last
    first, last = first[fits], last[fits]
    begin, finish = np.searchsorted(times, first, "right"), np.searchsorted(times, last, "left")
    inner = times[covered(times.size, begin, finish)]
    return distinct(np.concatenate((first, inner, last)))


def _twice_integral(one: Series, sums: NDArray[Any], at: Column) -> tuple[NDArray[Any], Column, Column]:
    """Return twice the integral from the first reading to some instants: whole, and rest / length of a fraction.

    `sums` are those of `_sums`, of which each is the whole part at a reading.

    Across gaps it goes on along a line; the difference between two instants of one stretch is right all the same.
    """
    times, values = one.times, one.milli_c
    place = np.searchsorted(times, at, "right") - 1
    after = np.minimum(place + 1, times.size - 1)
    base = int(values[0])
    length = np.maximum(times[after] - times[place], 1)
    apart, rise = at - times[place], values[after] - values[place]
    whole = sums[place]
    widest, longest = 4 * int(np.max(np.abs(values))) + 4, int(np.max(length))
    if widest * longest >= _SAFE or longest * longest >= _SAFE:
        rise, apart, length = rise.astype(object), apart.astype(object), length.astype(object)
    # rise * apart² / length, in two steps so that no product grows beyond 64 bits.
    turned = rise * apart
    step, left = turned // length, (turned % length) * apart
    whole = whole + 2 * (values[place] - base) * apart + step * apart + left // length
    rest = left % length
    # The first reading's value is taken off so that sums stay small, and put back here.
    whole = whole + 2 * base * (at.astype(whole.dtype) - int(times[0]))
    return whole, rest, length


def _sums(times: Column, values: Column) -> NDArray[Any]:
    """Return twice the integral of (value - first value) from the first reading to each."""
    widest = 4 * (int(np.max(np.abs(values))) + 1)
    pieces: NDArray[Any] = (values[1:] + values[:-1]) - 2 * values[0]
    lengths: NDArray[Any] = np.diff(times)
    if widest * (int(times[-1]) - int(times[0]) + 1) >= _SAFE:
        pieces, lengths = pieces.astype(object), lengths.astype(object)
    return np.concatenate((np.zeros(1, dtype=pieces.dtype), np.cumsum(pieces * lengths)))


def _sign(one: Column, one_length: Column, other: Column, other_length: Column) -> NDArray[np.int8]:
    """Return the sign of one / one_length - other / other_length."""
    if max(int(np.max(one_length)), int(np.max(other_length))) ** 2 >= _SAFE:
        one, other = one.astype(object), other.astype(object)
    return np.sign(one * other_length - other * one_length).astype(np.int8)


def _half_even(whole: NDArray[Any], fraction: NDArray[np.int8], divisor: int) -> Column:
    """Return (whole + a fraction of that sign, below 1) / divisor, rounded half-even; the divisor is even."""
    raised = whole + divisor // 2
    quotient, at_edge = raised // divisor, raised % divisor == 0
    quotient = quotient - (at_edge & (fraction < 0))
    tied = at_edge & (fraction == 0) & (quotient % 2 == 1)
    rounded: Column = (quotient - tied).astype(np.int64)
    return rounded
