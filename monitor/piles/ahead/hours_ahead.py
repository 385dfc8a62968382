"""Finds the coming hours that change nothing: the moving limits of many hours at once, compared with the probes' readings.

Rules:

1. An hour is quiet if the hottest of the probes that count stays on one side of each of its limits, from the reading before
   it to the reading after it, and if that side is the present one. Then nothing happens in it or at its beginning, except
   that the limits are worked out anew; of several such hours in a row only the last needs to be examined.
2. Future limits are worked out as `moving` does, from the ambient hours and the probes' lowest readings to come.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from monitor.model.times import HOUR_MS
from monitor.model.units import divide_half_even
from monitor.piles.ahead.line_ahead import LineAhead
from monitor.piles.air import READY_LAG_MS, least_covered, span_hours
from monitor.piles.cuts import ABSENT
from monitor.piles.moving import ready_limit, reheat_limit
from monitor.piles.walk import Walk

Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]
_NONE = 1 << 40
"""Hotter than everything: stands for a limit that is off, and for an hour without a lowest reading."""
_CHANGES = -1

AirAhead = tuple[Ints, Ints, Ints]
"""Ambient to come: hours since 1970 (each at most once), sums and counts of their readings."""


class HoursAhead:
    """The coming hours of one batch, as long as its probes' service does not change.

    Args:
        walk: Its walk.
        lines: Its core probes' readings to come, one line at least.
        taken: Number of readings of each that were taken in.
        air: Ambient to come, beside the hours that the walk knows.
    """

    def __init__(self, walk: Walk, lines: Sequence[LineAhead], taken: Sequence[int], air: AirAhead) -> None:
        self._walk = walk
        hour = walk.state.moving.hour
        assert hour is not None
        self._base = hour // HOUR_MS
        last = max(int(one.time[-1]) for one in lines) // HOUR_MS
        self._count = max(last - self._base, 0)
        self._lines = {one.probe: (one, start) for one, start in zip(lines, taken, strict=True)}
        self._spans = {name: _between(one, self._base, self._count) for name, (one, _) in self._lines.items()}
        self._ready = self._ready_limits(air)
        self._codes: dict[tuple[tuple[str, ...], int | None], Ints] = {}

    def quiet_until(self) -> int | None:
        """Return the beginning (UTC ms) of the first hour that is not quiet; None if that cannot be decided."""
        state, moving = self._walk.state, self._walk.parts[1]
        assert state.moving.hour is not None
        serving = [
            (name, line) for name, line in state.lines.items() if line.walk_serving and line.walk_level != ABSENT
        ]
        if not serving or any(name not in self._lines or line.walk_level < 0 for name, line in serving):
            return None
        names = tuple(name for name, _ in serving)
        key = names, None if state.reheated else state.cool_since
        if key not in self._codes:
            self._codes[key] = self._work_out(names, key[1])
        # One bit for each limit, as in `_work_out`: an hour is quiet only if all sides are the present ones.
        now = moving.above_ready(over_band=False) + 2 * moving.above_ready(over_band=True) + 4 * moving.reheated()
        start = state.moving.hour // HOUR_MS - self._base
        off = self._codes[key][start:] != now
        return (self._base + start + 1 + (int(np.argmax(off)) if off.any() else len(off))) * HOUR_MS

    def _work_out(self, names: tuple[str, ...], cool_since: int | None) -> Ints:
        """Return, for each hour after the base, the batch's side of its limits, or that the side changes within the hour."""
        band = self._walk.parts[1].deadband_milli_k
        reheat = np.full(self._count, _NONE) if cool_since is None else self._reheat_limits(names, cool_since)
        code, changes = np.zeros(self._count, np.int64), np.zeros(self._count, np.bool_)
        for bit, limit in ((1, self._ready + 1), (2, self._ready + band + 1), (4, reheat)):
            over, maybe = np.zeros(self._count, np.bool_), np.zeros(self._count, np.bool_)
            for name in names:
                low, high = self._spans[name]
                # Over for sure if even the lowest reading is; if only the highest is, the side may change within the hour.
                over |= low >= limit
                maybe |= high >= limit
            changes |= maybe & ~over
            code += bit * over
        code[changes] = _CHANGES
        return code

    def _ready_limits(self, air: AirAhead) -> Ints:
        """Return the limit of *ready for worms* for each hour after the base."""
        limits, known = self._walk.parts[1].limits, self._walk.state.air
        length = span_hours(limits.ready_ambient_span_ms)
        first = self._base - length - 2
        size = length + self._count + 3
        sums, counts = np.zeros(size, np.int64), np.zeros(size, np.int64)
        for hours, totals, numbers in ((known.hours, known.sums, known.counts), air):
            place = np.asarray(hours, dtype=np.int64) - first
            inside = (place >= 0) & (place < size)
            np.add.at(sums, place[inside], np.asarray(totals, dtype=np.int64)[inside])
            np.add.at(counts, place[inside], np.asarray(numbers, dtype=np.int64)[inside])
        heard = counts > 0
        means = np.where(heard, divide_half_even(sums, np.maximum(counts, 1)), 0)
        total = np.concatenate((np.zeros(1, np.int64), np.cumsum(means)))
        covered = np.concatenate((np.zeros(1, np.int64), np.cumsum(heard.astype(np.int64))))
        ends = np.arange(self._base + 1, self._base + 1 + self._count) - READY_LAG_MS // HOUR_MS - first
        found: Ints = covered[ends] - covered[ends - length]
        mean: Ints = divide_half_even(total[ends] - total[ends - length], np.maximum(found, 1))
        least = least_covered(length, limits.ready_ambient_coverage_milli_pct)
        return np.where(found >= least, ready_limit(mean, limits), _NONE)

    def _reheat_limits(self, names: tuple[str, ...], cool_since: int) -> Ints:
        """Return the limit of *reheating* for each hour after the base."""
        limits = self._walk.parts[1].limits
        length = max(limits.reheat_span_ms // HOUR_MS, 1)
        first = self._base - length
        # Each hour counts with the highest among the probes' lowest readings; an hour in which a probe was silent has none.
        whole = np.full(length + 1 + self._count, -_NONE)
        for name in names:
            np.maximum(whole, self._lows(name, first, len(whole)), out=whole)
        whole[: max(-(-cool_since // HOUR_MS) - first, 0)] = _NONE
        lowest = np.lib.stride_tricks.sliding_window_view(whole, length).min(axis=1)[1 : self._count + 1]
        return np.where(lowest < _NONE, reheat_limit(lowest, limits), _NONE)

    def _lows(self, name: str, first: int, size: int) -> Ints:
        """Return a probe's lowest reading in each hour from one on."""
        ahead, start = self._lines[name]
        line = self._walk.state.lines[name]
        found = np.full(size, _NONE)
        hours, lows = ahead.lows_from(line, start)
        known = np.array([(begin // HOUR_MS, low) for begin, low in line.lows], dtype=np.int64).reshape(-1, 2)
        for place, values in ((known[:, 0] - first, known[:, 1]), (hours - first, lows)):
            inside = (place >= 0) & (place < size)
            np.minimum.at(found, place[inside], values[inside])
        return found


def _between(one: LineAhead, base: int, count: int) -> tuple[Ints, Ints]:
    """Return a probe's lowest and highest reading of each hour after the base, those right before and after it included.

    If one of those two is not among the readings to come, no limit can be excluded from lying between.
    """
    starts = np.arange(base + 1, base + 1 + count) * HOUR_MS
    before = one.time.searchsorted(starts, side="right") - 1
    after = one.time.searchsorted(starts + HOUR_MS)
    whole = (before >= 0) & (after < len(one.time))
    if not whole.any():
        return np.full(count, -2 * _NONE), np.full(count, 2 * _NONE)
    pairs = np.stack((before[whole], after[whole] + 1), axis=1).ravel()
    values = np.append(one.milli, 0)
    low, high = np.full(count, -2 * _NONE), np.full(count, 2 * _NONE)
    low[whole] = np.minimum.reduceat(values, pairs)[::2]
    high[whole] = np.maximum.reduceat(values, pairs)[::2]
    return low, high
