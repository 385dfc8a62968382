"""One probe in a run: its arrivals and accepted readings as columns, and its watch brought forward over many of them."""

from typing import Any

import numpy as np
from numpy.typing import NDArray

from monitor.conditioning import Course, Series
from monitor.engine.context.probe_watch import TRAIL_SPAN_MS, TRAIL_STEP_MS, ProbeWatch, kept_instants
from monitor.engine.context.route import Route
from monitor.engine.stretch.commits import Ints

Bools = NDArray[np.bool_]

_TRAIL_KEPT = TRAIL_SPAN_MS // TRAIL_STEP_MS + 2


class Lane:
    """One probe in a run, and how far it has come.

    Attributes:
        name, route, watch: The probe, where its readings go, and its watch.
        rows, at: Its rows and the instants of their commits.
        key, time, milli, accepted_at, late: Its accepted, comparable readings in order: where in the run, own time, value,
            instant at which each was accepted, and whether it was late by then.
        heard, accepted: How many of its rows and of its accepted readings have been taken in.
    """

    def __init__(self, known: Route, series: Series, course: Course, late_ms: int) -> None:
        self.name, self.route, self.watch = series.name, known, known.watch
        self.heard = self.accepted = 0
        # What depends on the run alone is worked out once; a prepared recording is run many times.
        key = ("lane", series.name, known.comparable_from is None, known.danger is not None, known.hot_milli, late_ms)
        columns = series.kept.get(key)
        if columns is None:
            columns = series.kept[key] = _Columns(known, series, course, late_ms)
        self.rows, self.at, self.fresh, self.own_time = columns.rows, columns.at, columns.fresh, columns.own_time
        self.key, self.time, self.milli = columns.key, columns.time, columns.milli
        self.accepted_at, self.late, self._prompt, self._hot = (
            columns.accepted_at,
            columns.late,
            columns.prompt,
            columns.hot,
        )
        self._columns = columns
        self._trail: Ints | None = (
            columns.trail(self.watch.trail[-1][0]) if self.watch.trail and len(self.key) else None
        )

    def next_key(self) -> int:
        """Return the key of its next row or accepted reading, whichever comes first; beyond everything behind the last."""
        row = 2 * int(self.rows[self.heard]) + 1 if self.heard < len(self.rows) else 1 << 62
        return min(row, int(self.key[self.accepted])) if self.accepted < len(self.key) else row

    def hot_ever(self) -> bool:
        """Return whether the probe ever gets so hot in the run that its silence would be told at once."""
        return len(self._hot) > 0

    def hot_within(self, at: Ints, span_ms: int) -> Bools:
        """Return, for each commit, whether an accepted reading within a span before its newest one was that hot."""
        before = self.watch.hot_time if self.watch.hot_time is not None else -(1 << 62)
        hot = np.concatenate((np.array([before]), self._hot))
        count = self.accepted_at.searchsorted(at, side="right")
        newest = np.concatenate((np.array([self.watch.accepted_time or 0]), self.time))[count]
        within: Bools = hot[self._hot.searchsorted(newest, side="right")] >= newest - span_ms
        return within

    def as_of(self, at: int) -> ProbeWatch:
        """Return its watch for silence right before an instant (UTC ms), whether that has been taken in or not."""
        watch = self.watch
        rows, accepted = int(self.at.searchsorted(at)), int(self.accepted_at.searchsorted(at))
        found = ProbeWatch(
            watch.heard_from, arrivals=watch.arrivals, accepted=watch.accepted, arrived=watch.arrived,
            accepted_at=watch.accepted_at, accepted_time=watch.accepted_time, hot_time=watch.hot_time,
            silent=watch.silent, broken=watch.broken, lost=watch.lost,
        )  # fmt: skip
        if rows > self.heard:
            found.arrived, found.arrivals = int(self.at[rows - 1]), [*watch.arrivals]
            kept_instants(found.arrivals, self._recent(self.at, self.fresh, self.heard, rows))
        if accepted > self.accepted:
            found.accepted_at, found.accepted_time = int(self.accepted_at[accepted - 1]), int(self.time[accepted - 1])
            found.accepted = [*watch.accepted]
            kept_instants(found.accepted, self._recent(self.accepted_at, self._prompt, self.accepted, accepted))
            hot = int(self._hot.searchsorted(found.accepted_time, side="right"))
            if hot and self._hot[hot - 1] >= self.time[self.accepted]:
                found.hot_time = int(self._hot[hot - 1])
        return found

    @staticmethod
    def _recent(at: Ints, kept: Bools, start: int, end: int) -> list[int]:
        """Return the newest instants that count, enough of them to fill a watch."""
        first = max(start, end - 64)
        found: list[int] = at[first:end][kept[first:end]].tolist()
        if first > start and len(set(found)) < 21:
            found = at[start:end][kept[start:end]].tolist()
        return found

    def skip(self, key: int) -> None:
        """Bring the watch forward over everything before a key."""
        rows = int(self.rows.searchsorted((key + 1) // 2))
        if rows > self.heard:
            self._arrive(self.heard, rows)
            self.heard = rows
        accepted = int(self.key.searchsorted(key))
        if accepted > self.accepted:
            self._accept(self.accepted, accepted)
            self.accepted = accepted

    def _arrive(self, start: int, end: int) -> None:
        watch = self.watch
        watch.newest, watch.arrived = int(self.own_time[end - 1]), int(self.at[end - 1])
        if kept_instants(watch.arrivals, self._recent(self.at, self.fresh, start, end)):
            watch.spacing = -1

    def _accept(self, start: int, end: int) -> None:
        watch = self.watch
        watch.accepted_at, watch.accepted_time = int(self.accepted_at[end - 1]), int(self.time[end - 1])
        watch.accepted_milli = int(self.milli[end - 1])
        if len(self._hot):
            hot = int(self._hot.searchsorted(self.time[end - 1], side="right"))
            if hot and self._hot[hot - 1] >= self.time[start]:
                watch.hot_time = int(self._hot[hot - 1])
        if kept_instants(watch.accepted, self._recent(self.accepted_at, self._prompt, start, end)):
            watch.accepted_spacing = -1
        self._follow_trail(start, end)

    def _follow_trail(self, start: int, end: int) -> None:
        trail = self.watch.trail
        # Everything that is accepted thins alike, whichever way it is taken in.
        assert self._trail is not None
        first, last = self._trail.searchsorted(start), self._trail.searchsorted(end)
        if first == last:
            return
        kept = self._trail[max(int(first), int(last) - _TRAIL_KEPT) : last]
        trail += zip(self.time[kept].tolist(), self.milli[kept].tolist(), strict=True)
        keep = trail[-1][0] - TRAIL_SPAN_MS
        while trail[0][0] < keep:
            del trail[0]


class _Columns:
    """The part of a lane that depends on the run alone."""

    def __init__(self, known: Route, series: Series, course: Course, late_ms: int) -> None:
        self.rows = series.rows
        self.at: Ints = course.at[course.first.searchsorted(self.rows, side="right") - 1]
        self.fresh: Bools = series.time >= self.at - late_ms
        self.own_time = series.time
        self.key, self.time, self.milli = series.key, series.accepted_time, series.accepted_milli
        if known.comparable_from is None:
            self.key, self.time, self.milli = self.key[:0], self.time[:0], self.milli[:0]
        if not series.episodes and len(self.key):
            self.accepted_at = self.at
        else:
            self.accepted_at = course.at[course.first.searchsorted(self.key // 2, side="right") - 1].copy()
            for key, at in {one.key: one.at for one in series.said if one.at >= 0}.items():
                self.accepted_at[self.key == key] = at
        self.late: Bools = self.accepted_at - self.time > late_ms
        self.prompt: Bools = ~self.late
        self.hot = self.time[self.milli > known.hot_milli] if known.danger is not None else self.time[:0]
        self._trails: dict[int, Ints] = {}

    def trail(self, since: int) -> Ints:
        """Return which accepted readings a trail keeps if its newest entry before the run is of an instant (UTC ms)."""
        found = self._trails.get(since)
        if found is None:
            found = self._trails[since] = _kept(self.time, since)
        return found


def _kept(time: Ints, last: int) -> Ints:
    """Return the indices of readings each `TRAIL_STEP_MS` after the one before, the first that much after an instant."""
    steps = np.diff(time)
    if len(steps) and steps[0] > 0 and bool((steps == steps[0]).all()):
        return np.arange(int(time.searchsorted(last + TRAIL_STEP_MS)), len(time), -(-TRAIL_STEP_MS // int(steps[0])))
    place, end, found, stride = 0, len(time), [], 1
    view: Any = memoryview(time)  # type: ignore[arg-type]  # single values come out of it much faster
    while place < end:
        wanted = last + TRAIL_STEP_MS
        # Readings come evenly as a rule: the next one kept is as far on as the last one was.
        index = min(place + stride, end) - 1
        while index < end and view[index] < wanted:
            index += 1
        while index > place and view[index - 1] >= wanted:
            index -= 1
        if index >= end:
            break
        stride, last, place = index + 1 - place, view[index], index + 1
        found.append(index)
    return np.array(found, dtype=np.int64)
