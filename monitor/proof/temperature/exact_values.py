"""The values of probes at any instant, and their mean, as exact fractions rounded once to the thousandth, half-even."""

from collections.abc import Sequence
from fractions import Fraction
from typing import Any

import numpy as np
from numpy.typing import NDArray

from monitor.proof.intervals import Column
from monitor.proof.temperature.knots import Knots
from monitor.proof.temperature.segments import Series

_SAFE = 2**62


def parts_at(one: Series, at: Column, place: NDArray[np.intp]) -> tuple[NDArray[Any], Column, Column]:
    """Return a probe's value at some instants as whole + rest / length, 0 <= rest < length.

    Args:
        one: The probe.
        at: UTC ms, each at or after the reading at its place, and at or before the next; where it is not, the result
            means nothing.
        place: From which reading the line starts.

    Returns:
        (whole, rest, length), one number an instant each; whole is thousandths of a degree Celsius.
    """
    after = np.minimum(place + 1, one.times.size - 1)
    start, value = one.times[place], one.milli_c[place]
    length: NDArray[Any] = np.maximum(one.times[after] - start, 1)
    rise: NDArray[Any] = one.milli_c[after] - value
    apart = np.clip(at - start, 0, length)
    if at.size and (int(np.max(np.abs(rise))) + 1) * int(np.max(length)) >= _SAFE:
        rise = rise.astype(object)
    product = rise * apart
    whole = product // length
    rest = (product - whole * length).astype(np.int64)
    return value + whole.astype(np.int64), rest, length


def values_at(series: Sequence[Series], at: Column, places: Sequence[NDArray[np.intp]]) -> NDArray[np.int64]:
    """Return the temperatures of several probes at some instants.

    Args:
        series: The probes.
        at: The instants, UTC ms.
        places: For each probe, from which of its readings the line at each instant starts.

    Returns:
        A table with one row a probe and one column an instant, thousandths of a degree Celsius rounded half-even.
    """
    rows = []
    for one, place in zip(series, places, strict=True):
        whole, rest, length = parts_at(one, at, place)
        # 2 * rest against length, without the product.
        over, under = rest > length - rest, rest == length - rest
        rows.append(whole + (over | (under & (whole % 2 == 1))))
    return np.stack(rows)


def mean_values(series: Sequence[Series], knots: Knots) -> Column:
    """Return the mean of several probes at some instants, thousandths of a degree Celsius rounded half-even."""
    count = len(series)
    parts = [parts_at(one, knots.times, place) for one, place in zip(series, knots.places, strict=True)]
    # Twice the mean times the count is `whole` and a fraction; halves of a thousandth are whole numbers of it.
    share = 2 * np.sum([rest / length for _, rest, length in parts], axis=0)
    nearest = np.rint(share)
    # Floating point tells the whole part of the share, unless it is very near a whole number.
    doubt = np.abs(share - nearest) <= count * 2.0**-48
    whole = 2 * np.sum([part[0] for part in parts], axis=0)
    whole += np.floor(np.where(doubt, nearest, share)).astype(np.int64)
    rounded: Column = (whole + count) // (2 * count)
    tied = doubt & ((whole + count) % (2 * count) == 0)
    rounded -= tied & (rounded % 2 == 1)
    fractions = np.any([rest > 0 for _, rest, _ in parts], axis=0)
    for number in np.flatnonzero(doubt & fractions).tolist():
        exact = Fraction(0)
        for value, rest, length in parts:
            exact += int(value[number]) + Fraction(int(rest[number]), int(length[number]))
        rounded[number] = round(exact / count)
    return rounded
