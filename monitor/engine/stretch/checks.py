"""Looks for silent probes, many at a time: they are sums as long as no look can find anything.

Rules: `serve_silence` looks at every probe, and sets the next look to the earliest deadline, at most the shortest wait
later. A probe whose gaps in a run are too short for any deadline to come before the next look never decides; the others
are looked at.
"""

from bisect import bisect_left, bisect_right
from itertools import pairwise
from typing import Any

import numpy as np

from monitor.engine.context.agenda import SILENCE
from monitor.engine.context.core import Core
from monitor.engine.context.current_values import minimum, watched
from monitor.engine.context.probe_watch import ProbeWatch
from monitor.engine.context.routes import route
from monitor.engine.probes.silence_alarms import dues_of
from monitor.engine.stretch.commits import Ints
from monitor.engine.stretch.curves import Kept
from monitor.engine.stretch.lane import Lane
from monitor.model.units import Quantity


class _Watched:
    """One probe's deadlines during a run."""

    __slots__ = ("lane", "limits", "lost", "name", "place", "source", "watch")

    def __init__(self, core: Core, name: str, lane: Lane | None) -> None:
        configured = core.settings.probes[name]
        self.name, self.lane = name, lane
        self.watch: ProbeWatch = core.watch(name)
        self.place = route(core, name).place
        self.source = configured.source
        pile = core.pile(self.place)
        self.lost = pile.thresholds if pile is not None and configured.quantity is Quantity.TEMPERATURE else None
        self.limits = core.settings.probe_thresholds

    def signature(self, core: Core) -> tuple[Any, ...]:
        """Return everything besides the run on which its deadlines depend."""
        watch, lost = self.watch, self.lost
        return (
            self.name,
            minimum(core, self.place),
            (watch.arrived, watch.accepted_at, watch.accepted_time, watch.hot_time, watch.heard_from),
            (watch.silent, watch.broken, watch.lost, *watch.arrivals, -1, *watch.accepted),
            None if lost is None else (lost.lost_silence_ms, lost.lost_within_ms, lost.lost_above_milli_c),
            (core.link_lives(self.source), core.link_up_since(self.source)),
        )

    def due_by_commit(self, core: Core, at: Ints) -> Ints | None:
        """Return its next deadline after each commit, or None if that must be worked out look by look.

        It is None, too, if a look might find something, because a gap in the run is as long as the wait for silence.
        """
        watch, lane, least = self.watch, self.lane, minimum(core, self.place)
        if (
            lane is None
            or watch.silent
            or watch.lost
            or watch.broken
            or watch.arrived is None
            or watch.accepted_at is None
        ):
            return None
        if self.lost is not None:
            least = min(least, self.lost.lost_silence_ms)
        heard, accepted, end = lane.at, lane.accepted_at, int(at[-1])
        widest = max(_widest(watch.arrived, heard, end), _widest(watch.accepted_at, accepted, end))
        kept = [b - a for instants in (watch.arrivals, watch.accepted) for a, b in pairwise(instants)]
        if watch.arrivals and watch.accepted:
            kept += [_widest(watch.arrivals[-1], heard, end), _widest(watch.accepted[-1], accepted, end)]
        spacing = max(widest, *kept, 0)
        late = bool(lane.late.any()) or not bool(lane.fresh.all())
        if late or widest >= least or self.limits.silent_spacings * spacing > least:
            return None
        last = np.minimum(
            _last(watch.arrived, heard, at, watch.heard_from),
            _last(watch.accepted_at, accepted, at, watch.heard_from),
        )
        due: Ints = last + minimum(core, self.place)
        if self.lost is None or (watch.hot_time is None and not lane.hot_ever()):
            return due
        lost = (
            np.maximum(
                _last(watch.arrived, heard, at, watch.heard_from),
                core.link_up_since(self.source),
            )
            + self.lost.lost_silence_ms
        )
        hot = lane.hot_within(at, self.lost.lost_within_ms)
        both_dues: Ints = np.where(hot, np.minimum(due, lost), due)
        return both_dues

    def look(self, core: Core, at: int) -> tuple[bool, int | None]:
        """Return whether a look at `at` finds the probe silent, and its next deadline after that."""
        dues = dues_of(core, self.name, self.watch if self.lane is None else self.lane.as_of(at))
        lost = dues.lost is not None and dues.lost <= at and core.link_lives(self.source)
        if lost or any(due is not None and due <= at for due in (dues.silent, dues.broken)):
            return True, None
        return False, dues.soonest(at)


def _widest(before: int, instants: Ints, end: int) -> int:
    if not len(instants):
        return end - before
    inside = int(np.diff(instants).max()) if len(instants) > 1 else 0
    return max(int(instants[0]) - before, inside, end - int(instants[-1]))


def _last(before: int, instants: Ints, at: Ints, least: int) -> Ints:
    """Return, for each commit, the last of some instants up to it, or what was before."""
    last = at
    if len(instants) != len(at) or not bool((instants == at).all()):
        last = np.concatenate((np.array([before]), instants))[instants.searchsorted(at, side="right")]
    not_before: Ints = np.maximum(last, least)
    return not_before


class Checks:
    """The looks of a run."""

    def __init__(self, core: Core, lanes: dict[str, Lane], at: Ints, kept: Kept) -> None:
        self._core = core
        self._kept = kept
        self._at = at
        self._lanes = lanes
        self.looked = -1
        self.renew()

    def renew(self) -> None:
        """Prepare again after rules, probes in service or watches may have changed."""
        core = self._core
        names = [name for name, probe in core.settings.probes.items() if watched(probe) and core.in_service(name)]
        everyone = [_Watched(core, name, self._lanes.get(name)) for name in names]
        self._deciding: list[_Watched] = []
        self._before = everyone  # before the first commit nothing of the run has been heard
        # What a look says depends on these and on the run alone.
        self._signature = [one.signature(core) for one in everyone]
        for one, signature in zip(everyone, self._signature, strict=True):
            if ("due", signature) not in self._kept:
                self._kept["due", signature] = one.due_by_commit(core, self._at)
            if self._kept["due", signature] is None:
                self._deciding.append(one)
        key = ("soonest", core.shortest_wait_ms, *self._signature)
        if key not in self._kept:
            self._kept[key] = self._soonest_of(core.shortest_wait_ms)
        self._soonest, far = self._kept[key]
        self._chain: list[int] | None = None
        # Where nobody's deadline can come before the next look, looks follow each other at equal steps.
        self._evenly = not self._deciding and far

    def _soonest_of(self, shortest_ms: int) -> tuple[Ints | None, bool]:
        """Return the soonest deadline after each commit of those known beforehand, and whether none comes before a look."""
        found = [self._kept["due", signature] for signature in self._signature]
        dues: list[Ints] = [one for one in found if one is not None]
        if not dues:
            return None, True
        soonest: Ints = np.minimum.reduce(dues)
        return soonest, bool((soonest[:-1] >= self._at[1:] + shortest_ms).all())

    def run(self, until: int, tie: bool) -> bool:
        """Serve looks before `until` (UTC ms; at it, too, where `tie`); return whether the next one finds something.

        The deadline in the agenda and the state are left as if each look had been served.
        """
        core = self._core
        check = core.silence_check
        assert check is not None
        begun, finds = check, False
        last = until if tie else until - 1
        while check <= last and not finds:
            if check <= self._at[0]:
                finds, upcoming = self._look(check)
                if not finds:
                    self.looked, check = check, upcoming
            elif self._evenly:
                shortest = core.shortest_wait_ms
                self.looked = check + (last - check) // shortest * shortest
                check = self.looked + shortest
            else:
                looks, finds = self._looks(check, last)
                place = bisect_right(looks, last) if not finds else len(looks) - 1
                if place and looks[place - 1] >= check:
                    self.looked = looks[place - 1]
                check = looks[place]
        if check != begun:
            self._served(check)
        return finds

    def _looks(self, check: int, last: int) -> tuple[list[int], bool]:
        """Return looks in order, one of them `check`; the last one is after an instant, or finds something (True)."""
        looks = self._chain
        if looks is None or looks[min(bisect_left(looks, check), len(looks) - 1)] != check:
            looks = self._chain = self._kept.setdefault(("looks", check, *self._signature), [check])
        finds = False
        if looks[-1] <= last and not self._deciding:
            self._sum_up(looks)
        while looks[-1] <= last and not finds:
            finds, upcoming = self._look(looks[-1])
            if not finds:
                looks.append(upcoming)
        return looks, finds

    def _sum_up(self, looks: list[int]) -> None:
        """Go on with looks that cannot find anything, up to the first after the last commit."""
        end, soonest, shortest = int(self._at[-1]), self._soonest, self._core.shortest_wait_ms
        instants, dues = self._at.tolist(), [] if soonest is None else soonest.tolist()
        check = looks[-1]
        commit = bisect_left(instants, check)
        while check <= end:
            while commit < len(instants) and instants[commit] < check:
                commit += 1
            upcoming = check + shortest
            check = min(upcoming, max(dues[commit - 1], check + 1)) if dues else upcoming
            looks.append(check)

    def _look(self, check: int) -> tuple[bool, int]:
        core = self._core
        upcoming = check + core.shortest_wait_ms
        commit = int(self._at.searchsorted(check)) - 1
        if commit < 0:
            everyone = self._before
        else:
            everyone = self._deciding
            if self._soonest is not None:
                upcoming = min(upcoming, max(int(self._soonest[commit]), check + 1))
        for one in everyone:
            finds, due = one.look(core, check)
            if finds:
                return True, check
            if due is not None:
                upcoming = min(upcoming, max(due, check + 1))
        return False, upcoming

    def _served(self, check: int) -> None:
        core = self._core
        core.agenda.set(SILENCE, None)
        core.agenda.set(SILENCE, check)
        core.state.last = max(core.state.last, self.looked)
        core.at = self.looked
