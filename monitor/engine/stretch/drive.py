"""Drives an engine through a run: it stops at commits that may change something, and takes all others at once."""

from collections.abc import Callable
from typing import cast

from monitor.conditioning import Conditioned, Said, is_fire
from monitor.conditioning import Course as Way
from monitor.engine.batches.pile_readings import advance_heaps
from monitor.engine.context.agenda import PENDING, SILENCE, Deadline, DueKind
from monitor.engine.context.history import History
from monitor.engine.context.routes import route
from monitor.engine.engine import Engine
from monitor.engine.handlers.readings import wait_for_pending
from monitor.engine.output.alarm_notices import settle
from monitor.engine.output.falling_due import waiting_for_turnings
from monitor.engine.output.unwatched_places import not_known_by_probes
from monitor.engine.probes.silence_alarms import rearm
from monitor.engine.stretch.beds import BedCourse
from monitor.engine.stretch.checks import Checks
from monitor.engine.stretch.courses import AmbientCourse, Course
from monitor.engine.stretch.curves import END
from monitor.engine.stretch.heaps import PileCourse
from monitor.engine.stretch.known_flags import KnownFlags
from monitor.engine.stretch.lane import Lane
from monitor.engine.stretch.rows import take_rows
from monitor.engine.stretch.walking import walk_on
from monitor.model.events import Event
from monitor.model.settings import AMBIENT

OF_TELLING = (DueKind.DESK, DueKind.ALARM)
"""Deadlines for telling people, which change no place's state."""


class Drive:
    """One run of an engine.

    Attributes:
        way: The run's commits.
        done: The number of commits taken in.
        places: The courses of the places.
        next: By place, the key at which something may change there.
        history: The record.
        bed_course: The class that follows a bin.
        odd: The conditioner's verdicts out of their turn, by probe and time.
        fires: By place, its verdicts on readings as hot as fire.
    """

    bed_course = BedCourse

    def __init__(
        self, engine: Engine, run: Conditioned, history: History, between: list[tuple[int, Event]], base: int
    ) -> None:
        """Begin a run.

        Args:
            engine: The engine, which has taken in everything before the run.
            run: The run.
            history: The record.
            between: Small events, the last one first, each with the commit before which it comes; those taken in are taken off.
            base: The number of the run's first commit, as `between` count.
        """
        core = self.core = engine.core
        self.engine, self.run, self.history = engine, run, history
        self.way: Way = run.course
        self.done = 0
        self._between, self._base = between, base
        late_ms = core.settings.probe_thresholds.late_ms
        self.lanes = {
            name: Lane(route(core, name), series, run.course, late_ms)
            for name, series in run.series.items()
            if name in core.settings.probes
        }
        self.known_flags = KnownFlags(core.conditioner, run)
        self.odd = {(one.verdict.probe, one.verdict.time): one for one in run.said()}
        self.fires: dict[str, list[Said]] = {}
        for one in run.said():
            lane = self.lanes.get(one.verdict.probe)
            if lane is not None and lane.route.danger is not None and is_fire(one):
                self.fires.setdefault(lane.route.place, []).append(one)
        self.places: dict[str, Course] = {}
        # Ambient comes first: piles look ahead at it.
        for place in sorted({lane.route.place for lane in self.lanes.values()}, key=lambda one: (one != AMBIENT, one)):
            self.places[place] = self._course(place, [one for one in self.lanes.values() if one.route.place == place])
        self._changes = [key for key in self.known_flags.changes() if key % 2]
        self._changed = 0
        self.checks = Checks(core, self.lanes, self.way.at, run.kept)
        self._rules = self._rule_states()
        self.next: dict[str, int] = {}
        self._served = False

    def _course(self, place: str, lanes: list[Lane]) -> Course:
        core = self.core
        if place == AMBIENT:
            return AmbientCourse(core, lanes)
        if place in core.settings.bins:
            return self.bed_course(core, place, lanes, self.run.kept)
        if place in core.settings.piles:
            air = cast("AmbientCourse | None", self.places.get(AMBIENT))
            return PileCourse(core, place, lanes, self.way.first, [one.key for one in self.fires.get(place, ())], air)
        return Course(lanes)

    def go(self, history_reach: Callable[[int], None]) -> int:
        """Take in commits until the run ends or something happens that needs another; return how many were taken in.

        Args:
            history_reach: Called with the number of the run's rows that are known, before anything may ask for the record.
        """
        core, way = self.core, self.way
        core.late_flags = self.known_flags
        self._reach = history_reach
        self.next = {place: course.next_key() for place, course in self.places.items()}
        while True:
            commit, places = self._upcoming()
            last = min(commit, len(way.at) - 1)
            if self._between and self._between[-1][0] - self._base <= last:
                if not self._work():
                    return self.done
                continue
            self._served = False
            if not self._deadlines(int(way.at[last])):
                return self.done
            if commit >= len(way.at):
                break
            if self._served:
                again, wanted = self._upcoming()
                if again < commit or wanted != places:
                    continue
            if not self._feed(commit, places):
                return self.done
        self._finish(len(way.at))
        core.at = core.state.last = int(way.at[-1])
        return self.done

    def change_key(self) -> int:
        """Return the key at which the conditioner's next deadline changes, or END."""
        return self._changes[self._changed] if self._changed < len(self._changes) else END

    def stops(self) -> int:
        """Return the first commit before which another deadline or a small event must be served."""
        stop = len(self.way.at)
        other = self.core.agenda.besides(SILENCE)
        if other is not None:
            stop = min(stop, int(self.way.at.searchsorted(other[0])))
        return min(stop, self._between[-1][0] - self._base) if self._between else stop

    def _work(self) -> bool:
        """Take in a small event once it is its turn; False where the run ends before."""
        commit, event = self._between[-1][0] - self._base, self._between[-1][1]
        if not self._deadlines(event.at):
            return False
        again, _ = self._upcoming()
        if again < commit:
            return True
        self._between.pop()
        if self._needs_no_look(event):
            self.engine.take(event)
            return True
        end = 2 * int(self.way.first[commit])
        self._bring_up_to_work(end)
        self.known_flags.key, self.known_flags.now = end, event.at
        self.engine.take(event)
        self.after(list(self.places))
        return True

    def _needs_no_look(self, event: Event) -> bool:
        """Return whether a small event can be taken in without bringing anything up to it."""
        del event
        return False

    def _bring_up_to_work(self, end: int) -> None:
        """Bring forward the places that a small event may ask about."""
        self.skip_all(end)

    def _upcoming(self) -> tuple[int, list[str]]:
        """Return the next commit that must be fed row by row, and the places that need it."""
        soonest = min(self.change_key(), min(self.next.values(), default=END))
        if soonest >= 2 * int(self.way.first[-1]):
            return len(self.way.at), []
        commit = self.way.commit_of(soonest // 2)
        until = 2 * int(self.way.first[commit + 1])
        return commit, [place for place, key in self.next.items() if key < until]

    def _deadlines(self, until: int) -> bool:
        """Serve the deadlines due at or before an instant; False where the run has ended with one of them."""
        core = self.core
        while (due := core.agenda.soonest()) is not None and due <= until:
            other = core.agenda.besides(SILENCE)
            if core.silence_check == due and (other is None or (due, SILENCE) < other):
                tie = other is None or other[0] > until or (other[0], SILENCE) < other
                limit = until if other is None else min(until, other[0])
                if not self.checks.run(limit, tie):
                    continue
            if not self._serve(*core.agenda.pop()):
                return False
        return True

    def _serve(self, due: int, deadline: Deadline) -> bool:
        """Serve one deadline with everything brought up to it; False where the run ends with it."""
        core = self.core
        self._served = True
        commit = int(self.way.at.searchsorted(due))
        until = 2 * int(self.way.first[commit])
        self.known_flags.key, self.known_flags.now = until, due
        self._bring_up(deadline, until, due)
        core.at = due
        before = self._health()
        if deadline == PENDING:
            self.known_flags.key = until + 1
        core.history = None
        self.engine.serve(deadline)
        if deadline == PENDING:
            for lane in self.lanes.values():
                lane.accepted = int(lane.key.searchsorted(until, side="right"))
            for course in self.places.values():
                course.jump(until + 1)
        settle(core)
        core.state.last = max(core.state.last, due)
        if deadline == SILENCE:
            self.checks.looked = due
        if self._health() != before or any(run.touched is not None for run in core.state.runs.values()):
            self._finish(commit)
            return False
        if deadline.kind not in OF_TELLING:
            self.after(list(self.places))
        return True

    def _bring_up(self, deadline: Deadline, until: int, due: int) -> None:
        """Bring forward the places that serving a deadline may ask about."""
        if deadline.kind in OF_TELLING:
            self._skip_told(deadline.place, until, due)
        else:
            self.skip_all(until)

    def _skip_told(self, place: str, key: int, due: int) -> None:
        """Bring forward the places whose words may be needed when people are told again: those with an alarm on."""
        core = self.core
        wanted = {place, AMBIENT, *(record.place for record in core.state.alarms.values() if record.on)}
        if core.desk.digest_due(due):
            if self.known_flags.still():
                self.skip_all(key)
                return
            for lane in self.lanes.values():
                # Which places are known goes by how old each probe's last word is.
                self._skip_lane(lane, key)
            wanted |= {*not_known_by_probes(core), *waiting_for_turnings(core)}
        for told in wanted:
            if told in self.places:
                self._skip(told, key)

    def _health(self) -> list[tuple[bool, bool, bool]]:
        return [(watch.silent, watch.broken, watch.lost) for watch in self.core.state.watches.values()]

    def after(self, places: list[str]) -> None:
        """Find again where something may change in some places."""
        for place in places:
            self.next[place] = self.places[place].next_key()
        rules = self._rule_states()
        if rules != self._rules:
            self._rules = rules
            self.checks.renew()

    def _rule_states(self) -> list[list[object]]:
        core = self.core
        return [
            [run.rule for run in core.state.runs.values()],
            [name for name, outing in core.state.outings.items() if outing.out is not None],
        ]

    def _feed(self, commit: int, places: list[str]) -> bool:
        """Feed the rows of some places of a commit; False where the run has ended with it."""
        core, way = self.core, self.way
        at, start, end = int(way.at[commit]), 2 * int(way.first[commit]), 2 * int(way.first[commit + 1])
        if end <= self.change_key() and (walk_on(self, places, commit) or self._beds_only(places, commit, end)):
            return True
        wanted = self._with_air(places)
        for place in {*wanted, AMBIENT} & self.places.keys():
            self._skip(place, start)
        core.at, core.history = at, self.history
        seen = take_rows(self, wanted, at, start, end)
        if core.silence_may_come_sooner():
            for probe in seen:
                rearm(core, probe)
        self.known_flags.key, self.known_flags.now = end, at
        wait_for_pending(core)
        while self._changed < len(self._changes) and self._changes[self._changed] < end:
            self._changed += 1
        ends = any(run.touched is not None for run in core.state.runs.values())
        for place in wanted:
            self.places[place].jump(end)
        if ends:
            self._finish(commit + 1)
            self._reach(end // 2)
        advance_heaps(core)
        self._bring_up_words([], end)
        settle(core)
        core.history = None
        core.state.last = at
        if ends:
            return False
        self.after(wanted)
        return True

    def _beds_only(self, places: list[str], commit: int, end: int) -> bool:
        """Feed beds alone if a commit matters to nothing else in its places; return False if it does."""
        core = self.core
        if len(places) != 1 or not isinstance(course := self.places[places[0]], BedCourse):
            return False
        core.at, core.history = int(self.way.at[commit]), self.history
        course.feed(2 * int(self.way.first[commit]), end)
        self._bring_up_words(course.lanes, end)
        settle(core)
        core.history, core.state.last = None, core.at
        self.after(places)
        return True

    def _with_air(self, places: list[str]) -> list[str]:
        outside = self.core.state.outings and any(place in self.core.settings.piles for place in places)
        return [*places, AMBIENT] if outside and AMBIENT in self.places and AMBIENT not in places else places

    def _bring_up_words(self, lanes: list[Lane], key: int) -> None:
        """Bring forward what words may mention: the trends of these lanes, and how warm the air was."""
        if not self.core.moves and not self.core.touched:
            return
        for lane in lanes:
            self._skip_lane(lane, key)
        if AMBIENT in self.places:
            self._skip(AMBIENT, key)

    def _skip(self, place: str, key: int) -> None:
        course = self.places[place]
        course.skip(key)
        for lane in course.lanes:
            self._skip_lane(lane, key)

    def _skip_lane(self, lane: Lane, key: int) -> None:
        lane.skip(key)

    def skip_all(self, key: int) -> None:
        """Bring everything forward over all readings before a key."""
        for place in self.places:
            self._skip(place, key)

    def _finish(self, commit: int) -> None:
        """Bring everything to its state after the first commits of the run, the conditioner too."""
        rows = int(self.way.first[commit])
        self.skip_all(2 * rows)
        core, conditioner = self.core, self.core.conditioner
        last = int(self.way.at[commit - 1]) if commit else core.state.last
        self.run.take_over(conditioner, rows, max(core.state.last, last))
        core.late_flags = conditioner
        self.done = commit
