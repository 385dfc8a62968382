"""Brings a walk forward over columns of readings, one commit a reading, as the engine's second door does.

It steps through the readings that `ahead` says may change something, and skips the others; `stepped` counts the former.
"""

import numpy as np
from piles_script import H

from monitor.piles import Stir, note_hours
from monitor.piles.ahead import HoursAhead, LineAhead, all_known, find_telling, sides_stay

END = 1 << 62


class Columns:
    """A walk whose probes are all heard, and readings of them to come: (time, probe, milli), in order.

    `air` are the ambient hours to come, as (hour since 1970, sum, count); each is taken in before a decision may ask for it.
    """

    def __init__(self, walk, rows, air, lag_ms):
        self.walk, self.rows, self.lag_ms = walk, rows, lag_ms
        self.air = list(air)
        self.names = sorted({probe for _, probe, _ in rows})
        self.keys = {
            name: np.array([n for n, row in enumerate(rows) if row[1] == name], dtype=np.int64) for name in self.names
        }
        self.ahead = [
            LineAhead(
                walk,
                name,
                np.array([time for time, probe, _ in rows if probe == name], dtype=np.int64),
                np.array([milli for _, probe, milli in rows if probe == name], dtype=np.int64),
            )
            for name in self.names
        ]
        find_telling(self.ahead, walk.parts[2])
        self.newest, self.known = {}, {}
        for name, line in walk.state.lines.items():
            times = np.array([line.time, *(time for time, probe, _ in rows if probe == name)], dtype=np.int64)
            self.newest[name] = times[np.cumsum([probe == name for _, probe, _ in rows], dtype=np.int64)]
        self.taken, self.passing, self.hours, self.stepped = 0, False, None, 0

    def run(self):
        changes = []
        while self.taken < len(self.rows):
            if self.understood():
                self.skip(min(self.next_key(), self.due_key(), len(self.rows)))
            if self.taken < len(self.rows):
                changes += self.step()
        return changes

    def understood(self):
        state = self.walk.state
        serving = [line for line in state.lines.values() if line.serving and not line.absent]
        if not serving or not all(line.heard for line in serving):
            return False
        if not all(state.lines[name].serving for name in self.names):
            return False
        soonest = self.rows[self.taken][0]
        return soonest >= state.built and all(end < soonest for _, _, end in state.gaps)

    def step(self):
        time, probe, milli = self.rows[self.taken]
        self.breathe(time)
        self.walk.reading(probe, time, milli)
        self.taken, self.hours = self.taken + 1, None
        self.stepped += 1
        return self.walk.advance()

    def breathe(self, time):
        """Take in the ambient hours that began by an instant."""
        while self.air and self.air[0][0] * H <= time:
            note_hours(self.walk.state.air, [self.air.pop(0)])

    def ends(self, key):
        return [int(self.keys[name].searchsorted(key)) for name in self.names]

    def frontier(self):
        """For each reading, up to where the record can be examined once it is in; and those that leave a probe behind."""
        state = self.walk.state
        serving = tuple(name for name, line in state.lines.items() if line.serving and not line.absent)
        if serving not in self.known:
            columns = [self.newest[name] for name in serving]
            oldest, newest = np.minimum.reduce(columns), np.maximum(np.maximum.reduce(columns), state.newest_out)
            self.known[serving] = oldest, np.flatnonzero(newest - self.lag_ms > oldest)
        return self.known[serving]

    def next_key(self):
        found, together = END, all_known(self.walk.state, self.ahead)
        ends = self.ends(self.taken)
        for name, ahead, taken in zip(self.names, self.ahead, ends, strict=True):
            index = ahead.quiet_until(taken, together)
            found = found if index == END else min(found, int(self.keys[name][index]))
        found = min(found, self.still_key(ends, together))
        lags = self.frontier()[1]
        lags = lags[lags >= self.taken]
        return min(found, int(lags[0])) if len(lags) else found

    def still_key(self, ends, together):
        found, self.passing = END, False
        if self.walk.state.moving.hour is None:
            return found
        for name, ahead, taken in zip(self.names, self.ahead, ends, strict=True):
            index = ahead.still_until(taken) if taken < len(ahead.time) else END
            found = found if index == END else min(found, int(self.keys[name][index]))
        if found < END and together and sides_stay(self.walk, self.ahead, ends):
            found, self.passing = END, True
        return found

    def due_key(self):
        state = self.walk.state
        dues = [due for due in (self.due(), state.pending[0][0] if state.pending else None) if due is not None]
        if state.moving.hour is not None and self.walk.parts[1].unsettled():
            dues.append(state.now + 1)
        if not dues:
            return END
        commit = max(int(self.frontier()[0].searchsorted(min(dues))), self.taken)
        return commit if commit < len(self.rows) else END

    def due(self):
        hour, due = self.walk.state.moving.hour, self.walk.state.due
        besides = self.walk.besides_hours
        if hour is None or due != hour + H or (besides is not None and besides <= due):
            return due
        if self.hours is None:
            hours, sums, counts = (np.array([one[n] for one in self.air], dtype=np.int64) for n in range(3))
            self.hours = HoursAhead(self.walk, self.ahead, self.ends(self.taken), (hours, sums, counts))
        quiet = self.hours.quiet_until()
        if quiet is None:
            return due
        return quiet if besides is None else min(quiet, besides)

    def skip(self, key):
        state = self.walk.state
        if key <= self.taken:
            return
        frontier = self.frontier()[0]
        if state.moving.hour is not None and state.due == state.moving.hour + H <= frontier[key - 1]:
            # Of the whole hours among them only the last is gone through.
            at = int(frontier[key - 1]) // H * H
            passed = int(frontier.searchsorted(at))
            self.skip_lines(passed)
            self.breathe(self.rows[passed][0])
            self.walk.pass_hours(at)
            time, probe, milli = self.rows[passed]
            self.walk.reading(probe, time, milli)
            self.taken = passed + 1
            assert not self.walk.advance(), "an hour in which nothing could change"
        self.skip_lines(key)

    def skip_lines(self, key):
        if key <= self.taken:
            return
        state, (frontier, _) = self.walk.state, self.frontier()
        kept, starts, ends = state.now, self.ends(self.taken), self.ends(key)
        passed = [one for one, start, end in zip(self.ahead, starts, ends, strict=True) if one.passed(start, end)]
        for name, ahead, start, end in zip(self.names, self.ahead, starts, ends, strict=True):
            if end > start:
                before = [
                    max(kept, int(frontier[n - 1])) if n > self.taken else kept for n in self.keys[name][start:end]
                ]
                ahead.skip(start, end, before)
        self.taken = key
        state.now = max(kept, int(frontier[key - 1]))
        changing = {probe for at, stir, probe, _ in state.pending if stir == Stir.LEVEL and at <= state.now}
        for ahead in self.ahead:
            if ahead in passed or ahead.probe in changing:
                ahead.relevel()
        if state.moving.hour is not None and state.now > kept:
            self.walk.parts[1].nothing_until(state.now, self.passing)
