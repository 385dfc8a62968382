"""The instants at which a mean over a span of fixed length is high enough, by integrals of the governing line in whole numbers.

Rules this module keeps:

1. The governing line is the coldest of the probes in service (on basis mean: their mean), straight between knots at
   whole milliseconds. Values at the knots are rounded down to 1/1024 of a thousandth of a degree; where the coldest
   probe changes between two milliseconds the line is taken a little too low. So a mean is never taken too high, and
   too low by no more than that; one probe by itself is exact.
2. Values are kept as differences from the mean that is asked for: a window satisfies it when their integral is not
   negative (asked strictly: positive). Integrals are doubled, so that a trapezium is a whole number.
3. Where the window begins, the integral is a parabola between the knots. Estimates in floating point only choose
   which of them to look at; whatever decides is worked out in fractions.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

import numpy as np
from numpy.typing import NDArray

from monitor.proof.intervals import Intervals
from monitor.proof.temperature import Series

SCALE = 1024
"""Parts into which a thousandth of a degree is divided."""

_SAFE = 2**62
_Column = NDArray[Any]


@dataclass(frozen=True, slots=True)
class Line:
    """A governing line in straight pieces: when each begins and ends (UTC ms), and its value there, scaled."""

    starts: _Column
    ends: _Column
    first: _Column
    last: _Column


def governing_line(series: Sequence[Series], proven: Intervals, base_milli_c: int, *, coldest: bool) -> Line:
    """Return the line from below, scaled, as differences from `base_milli_c`.

    Args:
        series: Readings of each probe.
        proven: When the temperature is known.
        base_milli_c: What is taken away from every value.
        coldest: Whether the coldest governs, else the mean of the probes in service.

    Returns:
        The line, its pieces in order.
    """
    if not proven:
        nothing: _Column = np.empty(0, dtype=np.int64)
        return Line(nothing, nothing, nothing, nothing)
    bounds = np.array([at for pair in proven for at in pair], dtype=np.int64)
    edges = np.array([at for one in series for pair in one.service for at in pair], dtype=np.int64)
    knots = np.unique(np.concatenate([bounds, edges, *(one.times for one in series)]))
    for _ in range(len(series) if coldest else 0):
        crossings = _Lowest(series, *_pieces(knots, bounds), base_milli_c).crossings()
        if not crossings.size:
            break
        knots = np.unique(np.concatenate((knots, crossings)))
    starts, ends = _pieces(knots, bounds)
    if coldest:
        lowest = _Lowest(series, starts, ends, base_milli_c)
        return Line(starts, ends, lowest.at_start, lowest.at_end)
    return Line(starts, ends, *_means(series, starts, ends, base_milli_c))


def _pieces(knots: _Column, bounds: _Column) -> tuple[_Column, _Column]:
    """Return the stretches between knots that lie in the proven set, given by its bounds."""
    starts, ends = knots[:-1], knots[1:]
    within = np.searchsorted(bounds[0::2], starts, "right") - 1
    kept = (within >= 0) & (ends <= bounds[1::2][np.maximum(within, 0)])
    return starts[kept], ends[kept]


def _in_service(one: Series, starts: _Column, ends: _Column) -> NDArray[np.bool_]:
    begin = np.array([pair[0] for pair in one.service], dtype=np.int64)
    finish = np.array([pair[1] for pair in one.service], dtype=np.int64)
    if not begin.size or not one.times.size:
        return np.zeros(starts.shape, dtype=np.bool_)
    within = np.searchsorted(begin, starts, "right") - 1
    found: NDArray[np.bool_] = (within >= 0) & (ends <= finish[np.maximum(within, 0)])
    return found


def _values(one: Series, starts: _Column, ends: _Column, base_milli_c: int) -> tuple[_Column, _Column]:
    """Return a probe's values at both ends of each piece, scaled and rounded down; of use only where it is in."""
    before = np.clip(np.searchsorted(one.times, starts, "right") - 1, 0, one.times.size - 1)
    after = np.minimum(before + 1, one.times.size - 1)
    length = np.maximum(one.times[after] - one.times[before], 1)
    rise = (one.milli_c[after] - one.milli_c[before]) * SCALE
    if rise.size and int(np.max(np.abs(rise))) * int(np.max(length)) >= _SAFE:
        rise = rise.astype(object)
    value = (one.milli_c[before] - base_milli_c) * SCALE
    # Pieces in which this probe is out would reach beyond its line; they are kept on it and never used.
    at_start, at_end = (np.clip(at - one.times[before], 0, length) for at in (starts, ends))
    return (
        (value + rise * at_start // length).astype(np.int64),
        (value + rise * at_end // length).astype(np.int64),
    )


class _Lowest:
    """The least value at both ends of each piece, and where another probe takes over between them."""

    def __init__(self, series: Sequence[Series], starts: _Column, ends: _Column, base_milli_c: int) -> None:
        far = np.iinfo(np.int64).max
        self.starts, self.ends = starts, ends
        self.at_start: _Column = np.full(starts.shape, far)
        self.at_end: _Column = np.full(starts.shape, far)
        self.starter_at_end: _Column = np.full(starts.shape, far)
        self.ender_at_start: _Column = np.full(starts.shape, far)
        for one in series:
            active = _in_service(one, starts, ends)
            if not active.any():
                continue
            first, last = _values(one, starts, ends, base_milli_c)
            level = (first == self.at_start) & (last < self.starter_at_end)
            begins = active & ((first < self.at_start) | level)
            self.at_start[begins], self.starter_at_end[begins] = first[begins], last[begins]
            level = (last == self.at_end) & (first < self.ender_at_start)
            finishes = active & ((last < self.at_end) | level)
            self.at_end[finishes], self.ender_at_start[finishes] = last[finishes], first[finishes]

    def crossings(self) -> _Column:
        """Return the whole milliseconds around the place where the line of the start meets that of the end."""
        change = np.flatnonzero((self.starter_at_end > self.at_end) & (self.ends - self.starts > 1))
        starts, ends = self.starts[change], self.ends[change]
        ahead = (self.ender_at_start[change] - self.at_start[change]).astype(np.float64)
        behind = (self.starter_at_end[change] - self.at_end[change]).astype(np.float64)
        at = starts + np.floor((ends - starts) * (ahead / (ahead + behind))).astype(np.int64)
        found = np.concatenate((at, at + 1))
        within = (found > np.concatenate((starts, starts))) & (found < np.concatenate((ends, ends)))
        kept: _Column = found[within]
        return kept


def _means(series: Sequence[Series], starts: _Column, ends: _Column, base_milli_c: int) -> tuple[_Column, _Column]:
    first, last, probes = (np.zeros(starts.shape, dtype=np.int64) for _ in range(3))
    for one in series:
        active = _in_service(one, starts, ends)
        if active.any():
            at_start, at_end = _values(one, starts, ends, base_milli_c)
            first += np.where(active, at_start, 0)
            last += np.where(active, at_end, 0)
            probes += active
    count = np.maximum(probes, 1)
    return first // count, last // count


def with_hoped(line: Line, hoped: Intervals, value: int) -> Line:
    """Return a line with level pieces of one value added where time is hoped.

    Args:
        line: The line.
        hoped: Where the pieces are added; the line has none there.
        value: Their value, scaled, as a difference from the mean that is asked for.

    Returns:
        The line, its pieces in order of their starts.
    """
    some = [pair for pair in hoped if pair[1] > pair[0]]
    if not some:
        return line
    level = np.full(len(some), value, dtype=np.int64)
    starts = np.concatenate((line.starts, np.array([start for start, _ in some], dtype=np.int64)))
    order = np.argsort(starts, kind="stable")
    return Line(
        starts[order],
        np.concatenate((line.ends, np.array([end for _, end in some], dtype=np.int64)))[order],
        np.concatenate((line.first, level))[order],
        np.concatenate((line.last, level))[order],
    )


class Integral:
    """The doubled integral of a line over spans of one length, exact at every whole millisecond."""

    def __init__(self, line: Line, span_ms: int) -> None:
        """Sum a line of one piece at least up once."""
        self._line, self._span_ms = line, span_ms
        self._length = line.ends - line.starts
        both = line.first + line.last
        if int(np.max(np.abs(both))) * int(line.ends[-1] - line.starts[0]) >= _SAFE:
            both = both.astype(object)
        self._before = np.concatenate(([0], np.cumsum(both * self._length)))

    def exact(self, start: int) -> Fraction:
        """Return the doubled integral over the span that begins at `start`."""
        return self._until(start + self._span_ms) - self._until(start)

    def _until(self, at: int) -> Fraction:
        place = max(int(np.searchsorted(self._line.starts, at, "right")) - 1, 0)
        first, last = int(self._line.first[place]), int(self._line.last[place])
        done, length = at - int(self._line.starts[place]), int(self._length[place])
        return int(self._before[place]) + 2 * first * done + Fraction((last - first) * done * done, length)

    def places(self, first: int, last: int) -> _Column:
        """Return the starts between which the integral is one parabola each, from `first` to `last`."""
        knots = np.concatenate((self._line.starts, self._line.ends))
        inner = np.concatenate((knots, knots - self._span_ms))
        return np.unique(np.concatenate((inner[(inner > first) & (inner < last)], [first, last])))

    def estimate(self, starts: _Column) -> tuple[_Column, float]:
        """Return the integral at some starts, and by how much it may be off."""
        sums, off = [], 0.0
        for at in (starts + self._span_ms, starts):
            place = np.maximum(np.searchsorted(self._line.starts, at, "right") - 1, 0)
            first = self._line.first[place].astype(np.float64)
            rise = self._line.last[place].astype(np.float64) - first
            done = (at - self._line.starts[place]).astype(np.float64)
            partial = 2 * first * done + rise * done * (done / self._length[place])
            off = max(off, 4 + float(np.max(np.abs(2 * first * done) + np.abs(rise) * done)) * 2.0**-48)
            sums.append((self._before[place], partial))
        (ahead, ahead_partial), (behind, behind_partial) = sums
        found: _Column = (ahead - behind).astype(np.float64) + (ahead_partial - behind_partial)
        off += float(np.max(np.abs(found))) * 2.0**-48
        return found, off

    def slopes(self, starts: _Column) -> tuple[_Column, _Column]:
        """Return how fast half the doubled integral changes just after each start, and just before the next one."""
        return (
            self._value(starts[:-1] + self._span_ms, "right") - self._value(starts[:-1], "right"),
            self._value(starts[1:] + self._span_ms, "left") - self._value(starts[1:], "left"),
        )

    def _value(self, at: _Column, side: Any) -> _Column:
        place = np.searchsorted(self._line.starts, at, side) - 1
        place = np.clip(place, 0, self._length.size - 1)
        first = self._line.first[place].astype(np.float64)
        rise = self._line.last[place].astype(np.float64) - first
        value: _Column = first + rise * ((at - self._line.starts[place]) / self._length[place])
        return value


def first_start(integral: Integral, candidates: Intervals, *, strict: bool) -> int | None:
    """Return the first start whose span has an integral that is large enough.

    Args:
        integral: The integral over spans of one length.
        candidates: Where the span may begin, UTC ms; every span that begins there lies in pieces of the line that join.
        strict: Whether the integral must be above nothing, else nothing is enough.

    Returns:
        The start, UTC ms, or None where no span is enough.
    """

    def enough(start: int) -> bool:
        found = integral.exact(start)
        return found > 0 if strict else found >= 0

    for first, last in candidates:
        if enough(first):
            return first
        places = integral.places(first, last)
        for place, tops in _promising(integral, places):
            for top in tops:
                if enough(top):
                    return _bisect(int(places[place]), top, enough)
    return None


def _promising(integral: Integral, places: _Column) -> list[tuple[int, list[int]]]:
    """Return the stretches between two places in which the integral may reach nothing, with where it may do so."""
    if places.size < 2:
        return []
    value, off = integral.estimate(places)
    rising, falling = integral.slopes(places)
    length = np.diff(places)
    peaked = (rising > 0) & (falling < 0)
    share = np.where(peaked, rising / np.where(peaked, rising - falling, 1), 0)
    peak = value[:-1] + rising * share * length
    found = []
    for place in np.flatnonzero((value[1:] >= -off) | (peaked & (peak >= -2 * off))).tolist():
        start, end = int(places[place]), int(places[place + 1])
        tops = []
        if peaked[place]:
            at = start + int(share[place] * length[place])
            # The top is where the slope is nothing; an estimate of it may be a few ms off.
            tops = [one for one in range(at - 2, at + 4) if start < one < end]
        found.append((place, [*tops, end]))
    return found


def _bisect(fails: int, does: int, enough: Any) -> int:
    while does - fails > 1:
        middle = (fails + does) // 2
        if enough(middle):
            does = middle
        else:
            fails = middle
    return does


def highest(integral: Integral, candidates: Intervals) -> float | None:
    """Return about how high the doubled integral of a span gets, or None without candidates; for words only."""
    tops = [float(np.max(integral.estimate(integral.places(first, last))[0])) for first, last in candidates]
    return max(tops, default=None)
