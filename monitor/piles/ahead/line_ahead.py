"""Brings a batch's walk forward over many readings at once, as long as none of them changes anything.

Rules:

1. A reading of a probe in service changes nothing but its own line if it has the level of the reading before (or its level
   changes without consequence, see `together`), comes soon enough after it, shows no fall, and does not move
   the frontier to an instant at which something is due.
2. A line remembers the lowest reading of each finished hour, and its readings as far back as the first reading of the
   newest hour left them (`Lines.trim`).
"""

from bisect import bisect_left
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from monitor.model.times import HOUR_MS
from monitor.piles.falls import fell
from monitor.piles.state import ProbeLine
from monitor.piles.walk import Walk

Ints = NDArray[np.int64]
END = 1 << 62


class Examined(Protocol):
    """For each reading taken in, counted from the first: the instant (UTC ms) examined by the walk before it came."""

    def __getitem__(self, index: int, /) -> int:
        """Return that instant."""


class LineAhead:
    """One probe's accepted readings beside its line.

    Args:
        walk: Its batch's walk.
        probe: Its id.
        time: Own times of its accepted readings to come, one at least, UTC ms.
        milli: Their values, thousandths of °C.

    Attributes:
        levels: The level of each.
        passing: Readings with another level than the reading before, soon enough after it.
        breaks: Readings that come after a gap, or may be a fall.
        odd: Readings that may change more than the line, whatever the moving limits: passing ones and breaks.
        telling: `odd` without those changes of level that do not change the signals of the batch's probes together,
            valid as long as all probes are known (`together`).
    """

    def __init__(self, walk: Walk, probe: str, time: Ints, milli: Ints) -> None:
        self._lines, self._moving, marks = walk.parts
        self._walk = walk
        self.probe, self.time, self.milli = probe, time, milli
        self._cuts = marks.cuts
        levels = self.levels = np.array(marks.cuts.passes, dtype=np.int64).searchsorted(milli, side="right")
        gap_ms = self._gap_ms = self._lines.unbroken_ms
        breaks = np.zeros(len(time), dtype=np.bool_)
        breaks[1:] = time[1:] - time[:-1] > gap_ms
        hours = time // HOUR_MS
        self._edges = np.concatenate((np.zeros(1, np.int64), np.flatnonzero(hours[1:] != hours[:-1]) + 1))
        self._hours = hours[self._edges]
        self._lowest = np.minimum.reduceat(milli, self._edges)
        passing = np.zeros(len(time), dtype=np.bool_)
        passing[1:] = (levels[1:] != levels[:-1]) & ~breaks[1:]
        self._add_falls(breaks)
        self.passing, self.breaks = np.flatnonzero(passing), np.flatnonzero(breaks)
        self.odd = self.telling = np.flatnonzero(passing | breaks)

    def _add_falls(self, breaks: NDArray[np.bool_]) -> None:
        # The highest of this hour and the one before is never below that of the last 60 minutes, so no fall is missed; a
        # reading that is wrongly taken for a fall only goes the ordinary way.
        highest = np.maximum.reduceat(self.milli, self._edges)
        pair = highest.copy()
        np.maximum(pair[1:], highest[:-1], out=pair[1:])
        known = [value for value in self.line.values if value is not None] if self.line is not None else []
        if known:
            pair[:2] = np.maximum(pair[:2], max(known))
        if not fell(pair, self._lowest).any():
            return
        counts = np.diff(np.concatenate((self._edges, np.array([len(self.milli)]))))
        breaks |= fell(np.repeat(pair, counts), self.milli)

    @property
    def line(self) -> ProbeLine | None:
        """The probe's line."""
        return self._walk.state.lines.get(self.probe)

    def lows_from(self, line: ProbeLine, start: int, stop: int = END) -> tuple[Ints, Ints]:
        """Find the lowest reading of each hour, from the hour of the line's newest reading on.

        Args:
            line: The probe's line.
            start: The first reading that it has not taken in.
            stop: The hour before which they end.

        Returns:
            The hours (since 1970), rising, and the lowest reading in each, thousandths of °C.
        """
        opened = line.time // HOUR_MS
        own = [v for v in line.values[bisect_left(line.times, opened * HOUR_MS) :] if v is not None]
        more = self.milli[start : int(self.time.searchsorted((opened + 1) * HOUR_MS))]
        now = [*own, *([int(more.min())] if len(more) else [])]
        part = slice(int(self._hours.searchsorted(opened + 1)), int(self._hours.searchsorted(stop)))
        first = np.array([opened] if now else [], dtype=np.int64)
        lowest = np.array([min(now)] if now else [], dtype=np.int64)
        return np.concatenate((first, self._hours[part])), np.concatenate((lowest, self._lowest[part]))

    def quiet_until(self, start: int, together: bool) -> int:
        """Return the first index >= start of a reading that may change more than its line, or END; ignores moving limits.

        Args:
            start: The first reading that was not taken in.
            together: Whether the batch's probes are all known, so that of the changes of level only `telling` ones count.
        """
        if start >= len(self.time):
            return END
        line = self.line
        if line is None or not line.serving or not line.heard or line.absent or line.fallen is not None or line.unread:
            return start
        if self.time[start] - line.time > self._gap_ms:
            return start
        # `levels[start]` may be compared with the line's level only if the reading before `start` is the line's newest.
        follows = start > 0 and line.time == self.time[start - 1]
        if self.levels[start] != self._lines.level(line) and not (together and follows):
            return start
        odd = self.telling if together else self.odd
        place = int(odd.searchsorted(start))
        return int(odd[place]) if place < len(odd) else END

    def passed(self, start: int, end: int) -> bool:
        """Return whether the level changes with one of the readings `start <= index < end`."""
        passing = self.passing
        return bool(len(passing)) and bool(passing.searchsorted(start) < passing.searchsorted(end))

    def still_until(self, start: int) -> int:
        """Return the first reading whose moving level differs from the reading before, within the hour of the moving limits."""
        hour, cuts, line = self._walk.state.moving.hour, self._moving.cuts, self.line
        if hour is None or cuts is None or line is None:
            return END
        before = line.values[-1]
        if before is None:
            return start
        low, high = cuts.band(cuts.level(before))
        part = self._hour_from(start, hour)
        off = np.flatnonzero((part < low) | (part >= high))
        return start + int(off[0]) if len(off) else END

    def span(self, start: int, hour: int) -> tuple[int, int] | None:
        """Return the lowest and the highest of its newest reading and those to come in an hour; None if that is unknown."""
        before = self.line.values[-1] if self.line is not None else None
        if before is None:
            return None
        part = self._hour_from(start, hour)
        return (min(before, int(part.min())), max(before, int(part.max()))) if len(part) else (before, before)

    def _hour_from(self, start: int, hour: int) -> Ints:
        return self.milli[start : int(self.time.searchsorted(hour + HOUR_MS)) + 1]

    def skip(self, start: int, end: int, now: Examined) -> None:
        """Take in quiet readings `start <= index < end`.

        Args:
            start: Index of the first.
            end: Index behind the last.
            now: The instant that the walk had examined before each.
        """
        line, last = self.line, int(self.time[end - 1])
        assert line is not None
        if line.time // HOUR_MS == last // HOUR_MS:
            line.times += self.time[start:end].tolist()
            line.values += self.milli[start:end].tolist()
        else:
            # Each hour's first reading trims the line; the last one to do so trims most.
            first = int(self.time.searchsorted(last // HOUR_MS * HOUR_MS))
            self._close_hours(line, start, first, int(now[first - start]))
            self._take(line, start, end, self._lines.kept_from(int(now[first - start]), int(self.time[first])))
        line.time = last
        self._lines.undraw(self.probe)

    def relevel(self) -> None:
        """See `Lines.relevel`."""
        assert self.line is not None
        self._lines.relevel(self.probe, self.line)

    def _close_hours(self, line: ProbeLine, start: int, first: int, now: int) -> None:
        """Sum up the hours from the line's newest reading's on, up to but not including that of the reading `first`."""
        hours, lows = self.lows_from(line, start, int(self.time[first]) // HOUR_MS)
        found = [(hour * HOUR_MS, low) for hour, low in zip(hours.tolist(), lows.tolist(), strict=True)]
        self._lines.note_hours(line, found, now, int(self.time[first - 1]) if first > start else line.time)

    def _take(self, line: ProbeLine, start: int, end: int, keep: int) -> None:
        """Add the readings `start <= index < end`, and trim the line to what is kept from an instant on, UTC ms."""
        kept = int(self.time.searchsorted(keep, side="right")) - 1
        if kept >= start:
            line.times[:], line.values[:] = self.time[kept:end].tolist(), self.milli[kept:end].tolist()
        else:
            self._lines.trim(line, keep)
            line.times += self.time[start:end].tolist()
            line.values += self.milli[start:end].tolist()
