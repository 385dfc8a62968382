"""A batch's walk over many readings of its core probes: finds where it may change, and brings it there."""

from itertools import repeat

import numpy as np

from monitor.engine.context.batch_runs import BatchRun
from monitor.engine.context.core import Core
from monitor.engine.stretch.commits import Ints
from monitor.engine.stretch.courses import AmbientCourse
from monitor.engine.stretch.curves import END
from monitor.engine.stretch.lane import Lane
from monitor.model.errors import InvariantError
from monitor.model.times import HOUR_MS
from monitor.piles import Stir, WalkState
from monitor.piles.ahead import HoursAhead, LineAhead, all_known, find_telling, sides_stay

WalkRow = tuple[int, int, str, int, int]
"""A core probe's accepted reading: its commit, its key, its probe, its time, its value."""


class WalkAhead:
    """The walk of one batch in a run.

    Args:
        core: The engine's core.
        run: The batch.
        cores: Its core probes with readings in the run, at least one.
        first: Index of each commit's first row.
        air: Ambient in the run, or None.
    """

    def __init__(self, core: Core, run: BatchRun, cores: list[Lane], first: Ints, air: AmbientCourse | None) -> None:
        self.core, self.run = core, run
        self._walk = core.walks[run.batch]
        self._cores, self._first, self._air = cores, first, air
        self._walked = 0
        self._taken = [0] * len(cores)
        self._ahead = [LineAhead(self._walk, one.name, one.time, one.milli) for one in cores]
        find_telling(self._ahead, self._walk.parts[2])
        odd = [one.key[ahead.telling] for one, ahead in zip(cores, self._ahead, strict=True)]
        self._odd = np.unique(first.searchsorted(np.concatenate(odd) // 2, side="right") - 1)
        self._hours: HoursAhead | None = None
        self._passing = False
        self._newest: dict[str, Ints] = {}
        self._frontiers: dict[tuple[str, ...], tuple[Ints, Ints]] = {}

    def understood(self) -> bool:
        """Return whether the walk is in a state that is understood here."""
        walk = self.run.walk
        serving = [line for line in walk.lines.values() if line.serving and not line.absent]
        if not walk.begun or not serving or not all(line.heard for line in serving):
            return False
        if any(lane.name not in walk.lines or not walk.lines[lane.name].serving for lane in self._cores):
            return False
        for lane, taken in zip(self._cores, self._taken, strict=True):
            outing = self.core.state.outings.get(lane.name)
            if outing is None or taken >= len(lane.time):
                continue
            if outing.accepted_from is None or int(lane.time[taken]) < outing.accepted_from:
                return False  # it is out, or has just come back
        times = [
            int(lane.time[taken])
            for lane, taken in zip(self._cores, self._taken, strict=True)
            if taken < len(lane.time)
        ]
        soonest = min(times, default=END)
        return soonest >= walk.built and all(end < soonest for _, _, end in walk.gaps)

    def heard(self) -> bool:
        """Return whether every probe was heard and none is absent."""
        lines = self.run.walk.lines
        return all(lines[lane.name].heard and not lines[lane.name].absent for lane in self._cores)

    def next_key(self) -> int:
        """Return the key of the first reading that may change more than its line, or leaves a probe behind; or END."""
        found, together = END, all_known(self.run.walk, self._ahead)
        for lane, ahead, taken in zip(self._cores, self._ahead, self._taken, strict=True):
            index = ahead.quiet_until(taken, together)
            if index < END:
                found = min(found, int(lane.key[index]))
        found = min(found, self._still_key(together))
        _, lags = self._frontier(self.run.walk)
        place = int(lags.searchsorted(self._first.searchsorted(self._walked // 2)))
        return min(found, 2 * int(self._first[lags[place]]) + 1) if place < len(lags) else found

    def _still_key(self, together: bool) -> int:
        """Return the key of the first reading that may move the batch across one of its moving limits, or END."""
        found, self._passing = END, False
        if self.run.walk.moving.hour is None:
            return found
        for lane, ahead, taken in zip(self._cores, self._ahead, self._taken, strict=True):
            index = ahead.still_until(taken) if taken < len(ahead.time) else END
            if index < END:
                found = min(found, int(lane.key[index]))
        if found < END and together and sides_stay(self._walk, self._ahead, self._taken):
            found, self._passing = END, True
        return found

    def due_key(self) -> int:
        """Return a key in the commit with which the frontier reaches the walk's next deadline, or END."""
        walk = self.run.walk
        frontier, _ = self._frontier(walk)
        dues = [due for due in (self._due(walk), walk.pending[0][0] if walk.pending else None) if due is not None]
        if walk.moving.hour is not None and self._walk.parts[1].unsettled():
            dues.append(walk.now + 1)
        if not dues:
            return END
        commit = max(int(frontier.searchsorted(min(dues))), int(self._first.searchsorted(self._walked // 2)))
        return 2 * int(self._first[commit]) + 1 if commit < len(frontier) else END

    def _due(self, walk: WalkState) -> int | None:
        """Return the walk's next deadline, without whole hours at which nothing can change."""
        hour, due = walk.moving.hour, walk.due
        if hour is None or due != hour + HOUR_MS:
            return due
        besides = self._walk.besides_hours
        if besides is not None and besides <= due:
            return due
        if self._hours is None:
            none = np.zeros(0, np.int64)
            air = (none, none, none) if self._air is None else self._air.ahead()
            self._hours = HoursAhead(self._walk, self._ahead, self._taken, air)
        quiet = self._hours.quiet_until()
        if quiet is None:
            return due
        return quiet if besides is None else min(quiet, besides)

    def walk_to(self, commit: int, stop: int) -> list[WalkRow]:
        """Bring the walk alone to the beginning of a commit, and return its readings up to another commit."""
        self._skip_walk(2 * int(self._first[commit]))
        return self._rows_before(2 * int(self._first[stop]))

    def _rows_before(self, key: int) -> list[WalkRow]:
        """Return the readings before a key that were not taken in, in the order in which they are fed."""
        found: list[WalkRow] = []
        for lane, start, end in zip(self._cores, self._taken, self._ends(key), strict=True):
            mine = slice(start, end)
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

    def skip(self, key: int) -> None:
        """Bring the walk forward over the quiet readings before a key."""
        if key > self._walked:
            self._skip_walk(key)
            self._walked = key

    def jump(self, key: int) -> None:
        """Note that the readings before a key were fed one by one."""
        self._walked = key
        self._hours = None
        self._taken = self._ends(key)

    def walked(self, commit: int) -> None:
        """Note that the walk alone was fed the readings before a commit."""
        self._walked = 2 * int(self._first[commit])
        self._taken = self._ends(self._walked)

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
            lag = self.core.thresholds_of(self.run).lag_ms
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

    def _feed_walk(self, key: int) -> None:
        """Feed the walk alone the readings before a key as they are."""
        for _, _, probe, time, milli in self._rows_before(key):
            self._walk.reading(probe, time, milli)
        self._taken = self._ends(key)

    def _skip_walk(self, key: int) -> None:
        """Bring the walk forward over quiet readings; of the whole hours among them only the last is gone through."""
        state = self.run.walk
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
            self._walk.pass_hours(at)
            self._feed_walk(2 * int(self._first[passed + 1]))
            if self._walk.advance():
                raise InvariantError(f"{self.run.batch} changed at {at}, an hour in which nothing could change")
        self._skip_lines(key)

    def _ends(self, key: int) -> list[int]:
        return [int(lane.key.searchsorted(key)) for lane in self._cores]

    def _skip_lines(self, key: int) -> None:
        state = self.run.walk
        ends = self._ends(key)
        if ends == self._taken:
            return
        frontier, _ = self._frontier(state)
        kept = state.now
        passed = [
            ahead for ahead, start, end in zip(self._ahead, self._taken, ends, strict=True) if ahead.passed(start, end)
        ]
        for lane, ahead, start, end in zip(self._cores, self._ahead, self._taken, ends, strict=True):
            if end > start:
                ahead.skip(start, end, _Examined(kept, frontier, lane.key, self._first, start))
        self._taken = ends
        commit = int(self._first.searchsorted(key // 2)) - 1
        state.now = max(kept, int(frontier[commit]))
        changing = {probe for at, stir, probe, _ in state.pending if stir == Stir.LEVEL and at <= state.now}
        for ahead in self._ahead:
            if ahead in passed or ahead.probe in changing:
                ahead.relevel()
        if state.moving.hour is not None and state.now > kept:
            self._walk.parts[1].nothing_until(state.now, self._passing)


class _Examined:
    """For each of a probe's readings from one on, how far the walk had been examined before it came, UTC ms."""

    __slots__ = ("_first", "_frontier", "_kept", "_key", "_start")

    def __init__(self, kept: int, frontier: Ints, key: Ints, first: Ints, start: int) -> None:
        self._kept, self._frontier, self._key, self._first, self._start = kept, frontier, key, first, start

    def __getitem__(self, index: int) -> int:
        commit = int(self._first.searchsorted(self._key[self._start + index] // 2, side="right")) - 1
        return max(self._kept, int(self._frontier[commit - 1])) if commit > 0 else self._kept
