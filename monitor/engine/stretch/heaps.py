"""A pile over many readings: where its batch's walk, its heat or its lines of the digest may change."""

import numpy as np

from monitor.engine.context.batch_runs import BatchRun
from monitor.engine.context.core import Core
from monitor.engine.context.route import Goal
from monitor.engine.stretch.commits import Ints
from monitor.engine.stretch.courses import AmbientCourse, FedCourse
from monitor.engine.stretch.curves import END
from monitor.engine.stretch.lane import Lane
from monitor.engine.stretch.pile_limits import DigestLines, HeatAhead
from monitor.engine.stretch.walk_ahead import WalkAhead
from monitor.model.alarm_kinds import HEAP_HEAT, alarm_key
from monitor.piles import WALK_ALARMS


class PileCourse(FedCourse):
    """One pile in a run. While it is in a state that is not understood here, its readings are all fed one by one.

    Attributes:
        walk: The walk of the batch that lies there; None where there is no batch, or no reading of a core probe.
    """

    def __init__(
        self, core: Core, place: str, lanes: list[Lane], first: Ints, fires: list[int], air: AmbientCourse | None
    ) -> None:
        super().__init__(lanes)
        self.core, self.place = core, place
        self._fires = np.array(sorted(fires), dtype=np.int64)
        self._run: BatchRun | None = core.run_at(place)
        cores = [lane for lane in lanes if lane.route.goal is Goal.CORE and len(lane.key)]
        self.walk = WalkAhead(core, self._run, cores, first, air) if self._run is not None and cores else None
        self._start = 0
        self._told = False
        self._other = END
        warm = [lane for lane in lanes if lane.route.danger is not None and len(lane.key)]
        damp = [lane for lane in lanes if lane.route.goal is Goal.PILE_LINE and len(lane.key)]
        self._limits: list[HeatAhead | DigestLines] = [DigestLines(core, place, lane) for lane in damp]
        if warm:
            self._limits.append(HeatAhead(core, place, warm, only_fire=self._run is None))

    def next_key(self) -> int:
        """See `Course.next_key`."""
        self._told, self._other = False, END
        if not self._understood():
            return super().next_key()
        self._told = True
        found = [one.due_key() for one in self._limits]
        place = int(self._fires.searchsorted(self._start))
        if place < len(self._fires):
            found.append(int(self._fires[place]))
        self._other = min(found, default=END)
        return self._other if self.walk is None else min(self._other, self.walk.due_key(), self.walk.next_key())

    def skip(self, key: int) -> None:
        """See `Course.skip`."""
        if key <= self._start:
            return
        if self.walk is not None:
            self.walk.skip(key)
        for one in self._limits:
            one.take(key)
        self._start = key

    def jump(self, key: int) -> None:
        """See `Course.jump`."""
        self._start = key
        if self.walk is not None:
            self.walk.jump(key)
        for one in self._limits:
            one.jump(key)

    def only_walk(self, key: int) -> bool:
        """Return whether at the commit that ends at a key nothing but the batch's walk may change."""
        return self._told and self.walk is not None and self._other >= key and self.walk.heard()

    @property
    def other(self) -> int:
        """The key at which something else than the walk may change, as `next_key` found."""
        return self._other

    def _understood(self) -> bool:
        if self.core.run_at(self.place) is not self._run:
            return False
        heat = self.core.state.dangers.get(self.place)
        if heat is not None and (heat.flagged or heat.look or heat.silent):
            return False
        if any(self._latent(alarm) for alarm in (*HEAP_HEAT, *WALK_ALARMS)):
            return False
        return self.walk is None or self.walk.understood()

    def _latent(self, alarm: str) -> bool:
        record = self.core.state.alarms.get(alarm_key(self.place, alarm))
        return record is not None and record.waits
