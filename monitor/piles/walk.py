"""One batch's walk through its phases, by its record's own time.

Its changes are a function of the set of accepted readings and work, in whatever order the probes' readings
interleave: it examines the record only up to the frontier (`lines`), in order of time. At one instant all new
facts are taken in first (service, levels, then turnings, then additions); then the rule, recovery and
dwells, phases, *reheating*, alarm conditions and suggestions are examined once, in this order.

The caller asks the `touches...` questions *before* it feeds, to find input that would change an instant already examined;
for such input it makes a fresh walk (and tracker) and feeds the whole record again in order of time, work before readings,
readings by (time, probe).
"""

from dataclasses import replace

from monitor.model.progress import RuleTracker
from monitor.model.thresholds import PileThresholds
from monitor.model.times import HOUR_MS
from monitor.model.words import Method, Phase
from monitor.piles.air import note_air
from monitor.piles.changes import OFF, ON, ChangeKind, Reason, Transition, WalkChange
from monitor.piles.cuts import ABSENT, UNPROVEN
from monitor.piles.falls import LOGGED_NEAR_MS, TOGETHER_MS, felt_before
from monitor.piles.lines import Lines, value_at
from monitor.piles.moving import Moving
from monitor.piles.phases import Phases
from monitor.piles.rounds import ROUND_LINES
from monitor.piles.rule import RuleTalk
from monitor.piles.signals import HoldLimits, Marks, Signals
from monitor.piles.state import Stir, WalkState
from monitor.piles.watches import Watches

_AT_COLDEST = frozenset({Reason.HELD, Reason.HELD_AGAIN, Reason.LOST, Reason.CORNER, Reason.EVERY_FEW_DAYS})
"""Reasons for which the coldest probe decides; for all others the hottest does."""


class Walk:
    """Works out phases, alarm conditions and rule progress of one batch; not safe for use in parallel.

    Args:
        state: The walk's memory (`WalkState.fresh(built)` for a new batch); it is changed in place.
        limits: Hold temperature and the rule's own limits.
        thresholds: Those of the pile where the batch was built.
        method: The method of that pile.
        tracker: The rule's tracker, at the same instant as the state, or None for rule `none`.
    """

    __slots__ = (
        "_besides_hours",
        "_lines",
        "_marks",
        "_moving",
        "_phases",
        "_rule",
        "_span_ms",
        "_watches",
        "reading",
        "state",
        "touches_past",
        "unread",
    )

    def __init__(
        self,
        state: WalkState,
        limits: HoldLimits,
        thresholds: PileThresholds,
        method: Method,
        tracker: RuleTracker | None = None,
    ) -> None:
        marks = self._marks = Marks(limits, thresholds)
        self.state = state
        self._lines = Lines(state, marks.cuts, thresholds)
        self._moving = Moving(state, self._lines, thresholds)
        self._rule = RuleTalk(state, tracker, thresholds)
        self._phases = Phases(state, marks, thresholds)
        self._watches = Watches(state, self._phases, self._rule, thresholds, method)
        self._span_ms = thresholds.max_gap_ms
        self._besides_hours = state.due
        self.reading = self._lines.reading
        """`reading(probe, time, milli)`: take in an accepted core reading (UTC ms, thousandths of a degree Celsius)."""
        self.unread = self._lines.unread
        """`unread(probe, time)`: for the rule, nothing is proven from the probe's reading before an instant (UTC ms) to the one
        after it; for phases and alarms the line runs on."""
        self.touches_past = self._lines.touches_past
        """`touches_past(probe, time)`: whether a core reading would change the examined record, is not newer than the
        probe's newest, or turns an absent probe into a mere gap or the reverse. Ask before feeding it."""

    @property
    def parts(self) -> tuple[Lines, Moving, Marks]:
        """The parts that bring a walk forward over many readings at once (`ahead`)."""
        return self._lines, self._moving, self._marks

    @property
    def besides_hours(self) -> int | None:
        """Next deadline other than the hourly update of the moving limits; that update's hour if unknown."""
        return self._besides_hours

    def pass_hours(self, at: int) -> None:
        """Skip to hour `at` (UTC ms): no earlier whole hour changes anything (see `hours_ahead`)."""
        self.state.due = at

    def probe_in(self, probe: str, at: int) -> None:
        """Put a core probe into service from `at` on (UTC ms)."""
        self._lines.enter(probe, at)

    def probe_out(self, probe: str, at: int) -> None:
        """Take a core probe out of service: from `at` on it is not in service."""
        self._lines.leave(probe, at)

    def ambient(self, time: int, milli: int) -> None:
        """Take in an accepted ambient reading; it may come in any order (see `ambient_touches_past`)."""
        note_air(self.state.air, time, milli)

    def turned(self, at: int) -> None:
        """Take in a turning at `at`; the caller reports separately that the probes were taken out."""
        self._lines.push((at, Stir.TURNED, "", 0))

    def opened(self, at: int, turning: int) -> None:
        """Note that the probes felt the air from `at` on, for a turning that is logged at `turning`."""
        self._lines.push((at, Stir.OPENED, "", turning))

    def felt_before(self, turning: int) -> int | None:
        """Return when the fall began that belongs to a turning, or None; all readings before the turning must have been fed."""
        lines = self.state.lines
        return felt_before([line for probe, line in lines.items() if probe not in ROUND_LINES], turning)

    def added(self, at: int) -> None:
        """Note that raw material came in at `at`: proof for the rule from before it counts no more."""
        self._lines.push((at, Stir.ADDED, "", 0))
        self._comes_in(at)

    def joined(self, at: int) -> None:
        """Note that much material that had met the rule came in at `at`: as `added`, unless this batch has met it by then."""
        self._lines.push((at, Stir.JOINED, "", 0))
        if self._rule.unmet():
            self._comes_in(at)

    def _comes_in(self, at: int) -> None:
        state = self.state
        state.void_at = at if state.void_at is None else max(at, state.void_at)

    def frontier(self) -> int:
        """Return the instant up to which the record is complete enough to be examined, UTC ms."""
        return self._lines.frontier()[0]

    def work_touches_past(self, at: int) -> bool:
        """Return whether work at `at` would change the examined record."""
        return at <= self.state.now

    def service_touches_past(self, probe: str, at: int) -> bool:
        """Return whether a probe's coming in or going out at `at` would, or would cut off readings already taken in."""
        return self._lines.touches_service(probe, at)

    def ambient_touches_past(self, time: int) -> bool:
        """Return whether an ambient reading belongs to an hour that has entered a decision already."""
        return (time // HOUR_MS + 1) * HOUR_MS <= self.state.air.consulted

    def forget(self) -> None:
        """Drop what nothing to come looks at; after a rework the state then does not show where that began."""
        self._lines.forget()

    def unmet(self) -> bool:
        """Return whether the rule is unmet at the last instant examined (rule none: not yet held for 72 h)."""
        return self._rule.unmet()

    def advance(self) -> list[WalkChange]:
        """Examine the record up to the frontier and return the changes, in order of time."""
        state = self.state
        changes: list[WalkChange] = []
        if not state.begun:
            state.begun = True
            changes.append(self._change(ChangeKind.PHASE, "phase", None, state.phase, state.built, Reason.BUILT))
        frontier, lagging = self._lines.frontier()
        if frontier <= state.now:
            return changes if state.void_at is None else changes + self._tell_void(state.void_at)
        if lagging:
            self._lines.leave_behind()
        # The new readings may cross this hour's moving limits, so record the crossings before going through the instants.
        if state.moving.hour is not None:
            self._moving.extend(frontier)
        while True:
            at = state.due
            if state.pending and (at is None or state.pending[0][0] <= at):
                at = state.pending[0][0]
            if at is None or at > frontier:
                break
            self._step(at, frontier, changes)
        state.now = frontier
        return changes if state.void_at is None else changes + self._tell_void(state.void_at)

    def _tell_void(self, void_at: int) -> list[WalkChange]:
        """Return the changes that raw material (at `void_at`) makes at once, even if the record has not reached it."""
        state = self.state
        changes = self._rule.tell_void()
        if state.phase is Phase.READY and not state.unready_told:
            state.unready_told = True
            raw = self._change(ChangeKind.PHASE, "phase", Phase.READY, Phase.COOLING, void_at, Reason.RAW_ADDED)
            changes.append(replace(raw, probe="", coldest_milli=None, hottest_milli=None))
        return changes

    def _enter(self, row: Transition, at: int) -> list[WalkChange]:
        """Apply a row of the table, and return the changes to report."""
        state, before = self.state, row.before
        self._phases.enter(row, at)
        if state.unready_told:
            before, state.unready_told = Phase.COOLING, False
        if row.after is before:
            return []
        return [self._change(ChangeKind.PHASE, "phase", before, row.after, at, row.reason)]

    def _step(self, at: int, frontier: int, changes: list[WalkChange]) -> None:
        state = self.state
        opened = [value for instant, stir, _, value in state.pending if stir == Stir.OPENED and instant == at]
        stirred = self._take(at)
        turned, added, joined = Stir.TURNED in stirred, Stir.ADDED in stirred, Stir.JOINED in stirred
        signals = self._phases.signals()
        self._watch_moving(at, frontier, signals)
        # A probe that comes in unread must not shorten the hold of the others by a millisecond (rule 1 of `rule`).
        others = self._others(at) if Stir.SERVICE in stirred else None
        changes += self._rule.tell(at, signals, others, (opened, stirred.count(Stir.TURNED)), added, joined)
        self._phases.observe(at, signals, opened, turned)
        self._phases.cool(at, signals, self._moving, turned)
        while (row := self._phases.next_transition(at, self._rule.unmet())) is not None:
            changes += self._enter(row, at)
            if row.after is Phase.COOLING:
                self._moving.begin_hour(at)
                self._moving.extend(frontier)
        if not state.reheated and state.phase in (Phase.COOLING, Phase.READY) and self._moving.reheated():
            state.reheated = True
            changes.append(self._change(ChangeKind.REHEATING, "reheating", "", "", at, Reason.REHEATED))
        for alarm, why in self._watches.examine(at, signals, turned):
            before, after = (ON, OFF) if why is Reason.OVER else (OFF, ON)
            changes.append(self._change(ChangeKind.ALARM, alarm, before, after, at, why))
        if Stir.ROSE in stirred:
            self._suggest(at, changes)
        self._set_due(at)

    def _take(self, at: int) -> list[int]:
        # All pending changes of one instant are taken in before any signal is formed, so that their order cannot show.
        state = self.state
        stirred: list[int] = []
        taken = 0
        for instant, stir, probe, value in state.pending:
            if instant != at:
                break
            taken += 1
            stirred.append(stir)
            if stir in (Stir.TURNED, Stir.ADDED, Stir.JOINED, Stir.OPENED):
                continue
            line = state.lines[probe]
            if stir == Stir.LEVEL:
                line.walk_level = value
            elif stir == Stir.MOVING:
                line.moving_level = value
            elif stir == Stir.LONG:
                line.walk_long = value == 1
            elif stir == Stir.SERVICE:
                line.walk_serving, line.walk_level, line.walk_since = value == 1, UNPROVEN, instant
                line.walk_long = False
            else:
                line.turned_like = value if stir == Stir.ROSE else None
        del state.pending[:taken]
        return stirred

    def _others(self, at: int) -> Signals | None:
        """Return the signals without the probes that came in at `at` and were not read at that instant; None without any."""
        lines = self.state.lines.values()
        rest = [line for line in lines if line.walk_since != at or line.walk_level != UNPROVEN]
        return Signals(rest, self._marks) if len(rest) < len(lines) else None

    def _watch_moving(self, at: int, frontier: int, signals: Signals) -> None:
        hour = self.state.moving.hour
        if hour is not None and at < hour + HOUR_MS:
            return
        if self._moving.wanted(signals):
            self._moving.begin_hour(at)
            self._moving.extend(frontier)
        elif hour is not None:
            self._moving.end()

    def _suggest(self, at: int, changes: list[WalkChange]) -> None:
        state = self.state
        lines = [line for line in state.lines.values() if line.walk_serving and line.walk_level != ABSENT]
        falls = [line.turned_like for line in lines if line.turned_like is not None]
        # A single probe may fall and rise for reasons of its own; a turning moves all of them, and at one time.
        if len(falls) < len(lines) or not falls or max(falls) - min(falls) > TOGETHER_MS:
            return
        for line in lines:  # each fall is suggested once, whether or not a turning is logged near it
            line.turned_like = None
        first = min(falls)
        if state.turned_at is not None and abs(state.turned_at - first) <= LOGGED_NEAR_MS:
            return
        change = self._change(ChangeKind.SUGGESTED, "suggested turning", "", "", at, Reason.LIKE_TURNED)
        changes.append(replace(change, fell_at=first))

    def _set_due(self, at: int) -> None:
        state = self.state
        found = self._phases.due(at) + self._watches.due(at)
        rule = self._rule.due(at)
        if rule is not None and rule > at:
            found.append(rule)
        self._besides_hours = min(found, default=None)  # kept apart, so that `pass_hours` can skip quiet whole hours
        if state.moving.hour is not None:
            found.append(state.moving.hour + HOUR_MS)
        state.due = min(found) if found else None

    def _change(
        self, kind: ChangeKind, axis: str, before: str | None, after: str, at: int, reason: Reason
    ) -> WalkChange:
        """Return a change with the coldest and the hottest proven temperature at its instant."""
        seen: list[tuple[int, str]] = []
        for probe, line in self.state.lines.items():
            if line.walk_serving and line.walk_level >= 0:
                milli = value_at(line, at, self._span_ms)
                if milli is not None:
                    seen.append((milli, probe))
        probe, coldest, hottest = "", None, None
        if seen:
            least, most = min(seen), max(seen, key=lambda pair: (pair[0], [-ord(c) for c in pair[1]]))
            coldest, hottest = least[0], most[0]
            probe = least[1] if reason in _AT_COLDEST else most[1]
        return WalkChange(
            kind=kind, axis=axis, before=before, after=after, since=at, reason=reason, probe=probe,
            coldest_milli=coldest, hottest_milli=hottest,
        )  # fmt: skip
