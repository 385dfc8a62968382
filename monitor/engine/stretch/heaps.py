"""A pile over a stretch of readings: where its batch's walk, its heat or its lines of the digest may change."""

from itertools import repeat

import numpy as np

from monitor.alarms import alarm_key
from monitor.engine.core import Core
from monitor.engine.routes import Goal
from monitor.engine.runs import BatchRun
from monitor.engine.stretch.commits import Ints
from monitor.engine.stretch.courses import AmbientCourse, FedCourse
from monitor.engine.stretch.curves import END
from monitor.engine.stretch.lane import Lane
from monitor.engine.stretch.pile_limits import DigestLines, HeatAhead
from monitor.model.errors import InvariantError
from monitor.model.times import HOUR_MS
from monitor.piles import WALK_ALARMS, WalkState
from monitor.piles.ahead import LineAhead
from monitor.piles.hours_ahead import HoursAhead

_HEAT = ("fire", "too-hot", "hot")


WalkRow = tuple[int, int, str, int, int]
"""A core probe's accepted reading: its commit, its key, its probe, its time, its value."""


class PileCourse(FedCourse):
    """One pile in a run. While it is in a state that is not understood here, its readings are all fed for real."""

    def __init__(
        self, core: Core, place: str, lanes: list[Lane], first: Ints, fires: list[int], air: AmbientCourse | None
    ) -> None:
        super().__init__(lanes)
        self.core, self.place = core, place
        self._first, self._air = first, air
        self._fires = np.array(sorted(fires), dtype=np.int64)
        self._run: BatchRun | None = core.run_at(place)
        self._cores = [lane for lane in lanes if lane.route.goal is Goal.CORE and len(lane.key)]
        self._start = self._walked = 0
        self._taken = [0] * len(self._cores)
        walk = core.walks[self._run.batch] if self._run is not None else None
        self._ahead = [] if walk is None else [LineAhead(walk, one.name, one.time, one.milli) for one in self._cores]
        odd = [one.key[ahead.odd] for one, ahead in zip(self._cores, self._ahead, strict=False)]
        self._odd = np.unique(first.searchsorted(np.concatenate(odd) // 2, side="right") - 1) if odd else first[:0]
        self._hours: HoursAhead | None = None
        self._due_only: int | None = None
        self._other = END
        self._newest: dict[str, Ints] = {}
        self._frontiers: dict[tuple[str, ...], tuple[Ints, Ints]] = {}
        self._heat = HeatAhead(core, place, lanes) if place in core.state.dangers else None
        self._damp = [
            DigestLines(core, place, lane) for lane in lanes if lane.route.goal is Goal.PILE_LINE and len(lane.key)
        ]

    def next_key(self) -> int:
        """See `Course.next_key`."""
        self._due_only, self._other = None, END
        if not self._understood():
            return super().next_key()
        self._due_only = self._due_key()
        walk_key = self._walk_key()
        found = [one.next_key() for one in self._damp]
        if self._heat is not None:
            found.append(self._heat.next_key(self._run is None))
        place = int(self._fires.searchsorted(self._start))
        if place < len(self._fires):
            found.append(int(self._fires[place]))
        self._other = min(found, default=END)
        return min(self._other, self._due_only, walk_key)

    def skip(self, key: int) -> None:
        """See `Course.skip`."""
        if key <= self._start:
            return
        if self._run is not None and self._cores and key > self._walked:
            self._skip_walk(key)
        if self._heat is not None:
            self._heat.skip(key)
        for one in self._damp:
            one.skip(key)
        self._start = self._walked = key

    def jump(self, key: int) -> None:
        """See `Course.jump`."""
        self._start = self._walked = key
        self._hours = None
        self._taken = [int(lane.key.searchsorted(key)) for lane in self._cores]
        if self._heat is not None:
            self._heat.jump(key)
        for one in self._damp:
            one.jump(key)

    def only_walk(self, key: int) -> bool:
        """Tell whether at the commit that ends at a key nothing but the batch's walk may change."""
        if self._due_only is None or self._run is None or self._other < key:
            return False
        lines = self._run.walk.lines
        return all(lines[lane.name].heard and not lines[lane.name].absent for lane in self._cores)

    @property
    def other(self) -> int:
        """The key at which something else than the walk may change, as `next_key` found."""
        return self._other

    def walk_to(self, commit: int, stop: int) -> list[WalkRow]:
        """Bring the walk alone to the beginning of a commit, and return its readings of the commits before another."""
        self._skip_walk(2 * int(self._first[commit]))
        found: list[WalkRow] = []
        for number, (lane, end) in enumerate(zip(self._cores, self._ends(2 * int(self._first[stop])), strict=True)):
            mine = slice(self._taken[number], end)
            keys = lane.key[mine]
            owners = self._first.searchsorted(keys // 2, side="right") - 1
            found += zip(
                owners.tolist(), keys.tolist(), repeat(lane.name), lane.time[mine].tolist(), lane.milli[mine].tolist(),
                strict=False,
            )  # fmt: skip
        return sorted(found)

    def odd_from(self, commit: int) -> int:
        """Return the first commit from one on in which a probe passes a limit of its batch, falls or comes late; or END."""
        place = int(self._odd.searchsorted(commit))
        return int(self._odd[place]) if place < len(self._odd) else END

    def walked(self, commit: int) -> None:
        """Say that the walk alone was fed the readings before a commit."""
        self._walked = 2 * int(self._first[commit])
        self._taken = self._ends(self._walked)

    def _feed_walk(self, key: int) -> None:
        """Feed the walk alone the readings before a key as they are."""
        assert self._run is not None
        walk = self.core.walks[self._run.batch]
        found = [
            (int(lane.key[index]), number, index)
            for number, lane in enumerate(self._cores)
            for index in range(self._taken[number], int(lane.key.searchsorted(key)))
        ]
        for _, number, index in sorted(found):
            lane = self._cores[number]
            walk.reading(lane.name, int(lane.time[index]), int(lane.milli[index]))
            self._taken[number] = index + 1

    @property
    def batch(self) -> BatchRun | None:
        """The batch that lies there."""
        return self._run

    def _understood(self) -> bool:
        core, run = self.core, self._run
        if core.run_at(self.place) is not run:
            return False
        heat = self._heat
        if heat is not None and not heat.understood():
            return False
        if any(self._latent(alarm) for alarm in (*_HEAT, *WALK_ALARMS)):
            return False
        if run is None:
            return True
        return not self._cores or self._walk_understood(run.walk)

    def _latent(self, alarm: str) -> bool:
        record = self.core.state.alarms.get(alarm_key(self.place, alarm))
        return record is not None and record.latent

    def _walk_understood(self, walk: WalkState) -> bool:
        serving = [line for line in walk.lines.values() if line.serving and not line.absent]
        if not walk.begun or not serving or not all(line.heard for line in serving):
            return False
        if any(lane.name not in walk.lines or not walk.lines[lane.name].serving for lane in self._cores):
            return False
        for lane, taken in zip(self._cores, self._taken, strict=True):
            outing = self.core.state.outings.get(lane.name)
            if outing is None or taken >= len(lane.time):
                continue
            time = int(lane.time[taken])
            if (
                outing.out is not None
                or outing.accepted_from is None
                or time < max(outing.accepted_from, outing.returned or 0)
            ):
                return False
        times = [
            int(lane.time[taken])
            for lane, taken in zip(self._cores, self._taken, strict=True)
            if taken < len(lane.time)
        ]
        soonest = min(times, default=END)
        return soonest >= walk.built and all(end < soonest for _, _, end in walk.gaps)

    def _walk_key(self) -> int:
        if self._run is None or not self._cores:
            return END
        found = END
        for lane, ahead, taken in zip(self._cores, self._ahead, self._taken, strict=True):
            index = ahead.quiet_until(taken)
            if index < END:
                found = min(found, int(lane.key[index]))
        _, lags = self._frontier(self._run.walk)
        place = int(lags.searchsorted(self._first.searchsorted(self._walked // 2)))
        return min(found, 2 * int(self._first[lags[place]]) + 1) if place < len(lags) else found

    def _due_key(self) -> int:
        """Return a key in the commit with which the frontier reaches what is due, or END."""
        if self._run is None or not self._cores:
            return END
        walk = self._run.walk
        frontier, _ = self._frontier(walk)
        dues = [due for due in (self._due(walk), walk.pending[0][0] if walk.pending else None) if due is not None]
        if walk.moving.hour is not None and self.core.walks[self._run.batch].parts[1].unsettled():
            dues.append(walk.now + 1)
        if not dues:
            return END
        commit = max(int(frontier.searchsorted(min(dues))), int(self._first.searchsorted(self._walked // 2)))
        return 2 * int(self._first[commit]) + 1 if commit < len(frontier) else END

    def _due(self, walk: WalkState) -> int | None:
        """Return what is due next in the walk; whole hours at which nothing can change are passed over."""
        hour, due = walk.moving.hour, walk.due
        assert self._run is not None
        if hour is None or due != hour + HOUR_MS:
            return due
        besides = self.core.walks[self._run.batch].besides_hours
        if besides is not None and besides <= due:
            return due
        if self._hours is None:
            none = np.zeros(0, np.int64)
            air = (none, none, none) if self._air is None else self._air.ahead()
            self._hours = HoursAhead(self.core.walks[self._run.batch], self._ahead, self._taken, air)
        quiet = self._hours.quiet_until()
        if quiet is None:
            return due
        return quiet if besides is None else min(quiet, besides)

    def _frontier(self, walk: WalkState) -> tuple[Ints, Ints]:
        """Return, for each commit, up to where the record can be examined; and the commits that leave a probe behind."""
        serving = tuple(name for name, line in walk.lines.items() if line.serving and not line.absent)
        found = self._frontiers.get(serving)
        if found is None:
            count = len(self._first) - 1
            columns = [self._newest_of(name, walk, count) for name in serving]
            oldest, newest = columns[0].copy(), np.maximum(columns[0], walk.newest_out)
            for column in columns[1:]:
                np.minimum(oldest, column, out=oldest)
                np.maximum(newest, column, out=newest)
            lag = self.core.thresholds_of(self._run).lag_ms if self._run is not None else 0
            found = self._frontiers[serving] = (oldest, np.flatnonzero(newest - lag > oldest))
        return found

    def _newest_of(self, name: str, walk: WalkState, count: int) -> Ints:
        found = self._newest.get(name)
        if found is None:
            lane = next((one for one in self._cores if one.name == name), None)
            before = walk.lines[name].time
            if lane is None:
                return np.full(count, before, dtype=np.int64)
            taken = lane.key.searchsorted(2 * self._first[1:])
            times = np.concatenate((np.array([before]), lane.time))
            found = self._newest[name] = times[taken]
        return found

    def _skip_walk(self, key: int) -> None:
        """Bring the walk forward over quiet readings; of the whole hours among them only the last is gone through."""
        assert self._run is not None
        state = self._run.walk
        if self._ends(key) == self._taken:
            return
        frontier, _ = self._frontier(state)
        commit = int(self._first.searchsorted(key // 2)) - 1
        if (
            state.moving.hour is not None
            and commit >= 0
            and state.due == state.moving.hour + HOUR_MS <= frontier[commit]
        ):
            at = int(frontier[commit]) // HOUR_MS * HOUR_MS
            passed = int(frontier.searchsorted(at))
            self._skip_lines(2 * int(self._first[passed]))
            if self._air is not None:
                self._air.skip(2 * int(self._first[passed]))
            walk = self.core.walks[self._run.batch]
            walk.pass_hours(at)
            self._feed_walk(2 * int(self._first[passed + 1]))
            if walk.advance():
                raise InvariantError(f"{self.place} changed at {at}, an hour in which nothing could change")
        self._skip_lines(key)

    def _ends(self, key: int) -> list[int]:
        return [int(lane.key.searchsorted(key)) for lane in self._cores]

    def _skip_lines(self, key: int) -> None:
        assert self._run is not None
        walk, state = self.core.walks[self._run.batch], self._run.walk
        ends = self._ends(key)
        if ends == self._taken:
            return
        frontier, _ = self._frontier(state)
        kept = state.now
        for lane, ahead, start, end in zip(self._cores, self._ahead, self._taken, ends, strict=True):
            if end > start:
                ahead.skip(start, end, _Examined(kept, frontier, lane.key, self._first, start))
        self._taken = ends
        commit = int(self._first.searchsorted(key // 2)) - 1
        state.now = max(kept, int(frontier[commit]))
        if state.moving.hour is not None and state.now > kept:
            walk.parts[1].nothing_until(state.now)


class _Examined:
    """For each of a probe's readings from one on: up to where the walk had been examined before it came, UTC ms."""

    __slots__ = ("_first", "_frontier", "_kept", "_key", "_start")

    def __init__(self, kept: int, frontier: Ints, key: Ints, first: Ints, start: int) -> None:
        self._kept, self._frontier, self._key, self._first, self._start = kept, frontier, key, first, start

    def __getitem__(self, index: int) -> int:
        commit = int(self._first.searchsorted(self._key[self._start + index] // 2, side="right")) - 1
        return max(self._kept, int(self._frontier[commit - 1])) if commit > 0 else self._kept
