"""Moves a batch from phase to phase: recovery, dwells, the 72 h of *cool enough for worms*, and the table.

Rules:

1. A dwell runs from the first millisecond at which its signal is proven and ends at the first at which it is not. It is
   complete at its start + its length if the signal still holds at that very millisecond.
2. Recovery runs from a turning (or from the fall before it) until the coldest rises to the hold temperature again after the
   turning, at most 48 h. A dwell marked *outside recovery* starts at its end at the earliest.
3. Cool enough: begins when every probe in service is proven (absent ones count as unproven here: worms are at stake)
   and the hottest is at or below both limits. Only a proven value above a limit by more than the deadband, or a
   turning, ends it; unproven time, from the last proven millisecond to the next, pauses it, 24 h in all at most.
4. *Rule unmet* is examined when the dwell is complete, not while it runs.
"""

from monitor.model.thresholds import PileThresholds
from monitor.model.words import Phase
from monitor.piles.changes import TRANSITIONS, Signal, Transition
from monitor.piles.moving import Moving
from monitor.piles.signals import Marks, Signals
from monitor.piles.state import WalkState


class Dwell:
    """Names of the dwells."""

    AT_HOLD = "at hold"
    LOST = "lost"
    COOLED = "cooled"
    GAVE_UP = "gave up"
    REKINDLED = "rekindled"
    UNREADY = "unready"
    CORNER = "corner"
    BELOW = "below"
    HOT = "hot"


class Phases:
    """The phase machine of one batch."""

    __slots__ = ("_dwells", "_lengths", "_limits", "_marks", "_state")

    def __init__(self, state: WalkState, marks: Marks, thresholds: PileThresholds) -> None:
        self._state = state
        self._marks = marks
        self._limits = thresholds
        self._dwells = state.dwells
        self._lengths = {
            Dwell.AT_HOLD: thresholds.hold_dwell_ms,
            Dwell.LOST: thresholds.lost_dwell_ms,
            Dwell.COOLED: thresholds.cooling_dwell_ms,
            Dwell.GAVE_UP: thresholds.gave_up_dwell_ms,
            Dwell.REKINDLED: thresholds.hold_dwell_ms,
            Dwell.UNREADY: thresholds.unready_dwell_ms,
            Dwell.CORNER: thresholds.cold_corner_dwell_ms,
            Dwell.BELOW: thresholds.turning_cooled_ms,
            Dwell.HOT: thresholds.hot_dwell_ms,
        }

    def signals(self) -> Signals:
        """Return the joint signals of the probes at the instant that the walk has reached."""
        return Signals(self._state.lines.values(), self._marks)

    def observe(self, at: int, signals: Signals, opened: list[int], turned: bool) -> None:
        """Apply the signals from `at` on: recovery first, then every dwell that they start or end.

        Args:
            at: The instant, UTC ms.
            signals: The probes' joint signals from it on.
            opened: Log instants (UTC ms) of later turnings for which the probes feel the air from `at` on.
            turned: Whether a turning was logged at `at`.
        """
        state = self._state
        # The probes felt the air before the turning was logged: recovery begins now, everything else waits for the log entry.
        if opened:
            state.recovering, state.lapsed = True, False
            state.recovery_from = at
            state.opened_for = max([*opened, *([] if state.opened_for is None else [state.opened_for])])
        if turned:
            if state.opened_for != at:
                state.recovery_from = at
            state.turned_at = state.anchor = at
            state.recovering, state.lapsed, state.reached_since = True, False, False
            state.cold_weather = None
        # Rule 2: a rise before the turning itself is still the fall's own wavering and does not end recovery.
        elif state.recovering and signals.at_hold and not state.was_at and at > (state.opened_for or 0):
            state.recovering = False
        elif state.recovering and at >= self._recovery_ends():
            state.recovering, state.lapsed = False, True
        # While recovering, heat left over from before the turning does not show that the heap has come back.
        if signals.hot_seen and not turned and (not state.recovering or not state.was_hot):
            state.reached_since = True
        if signals.hot_seen and not state.recovering:
            state.lapsed = False
        state.reached = state.reached or signals.hot_seen
        state.peaked = state.peaked or signals.warm_seen
        state.was_at, state.was_hot = signals.at_hold, signals.hot_seen
        outside = not state.recovering
        self._run(Dwell.AT_HOLD, at, signals.at_hold)
        self._run(Dwell.LOST, at, signals.apart and outside)
        self._run(Dwell.COOLED, at, signals.under and outside)
        self._run(Dwell.GAVE_UP, at, signals.under_warm and outside)
        self._run(Dwell.REKINDLED, at, signals.hot_seen)
        self._run(Dwell.UNREADY, at, signals.unready)
        self._run(Dwell.CORNER, at, signals.corner and outside)
        self._run(Dwell.BELOW, at, signals.below_hold and outside)
        # A hot batch stays hot until the hottest is proven below by the deadband, as with the alarm `hot`, so that both agree.
        hot = signals.hot or (self.complete(Dwell.HOT, at) and not signals.not_hot)
        self._run(Dwell.HOT, at, hot)

    def complete(self, dwell: str, at: int) -> bool:
        """Return whether a dwell is complete at `at`."""
        start = self._dwells.get(dwell)
        return start is not None and at >= start + self._lengths[dwell]

    def cool(self, at: int, signals: Signals, moving: Moving, turned: bool) -> None:
        """Begin, pause, resume or end the 72 h of *cool enough for worms*.

        Args:
            at: The instant, UTC ms.
            signals: The probes' joint signals from it on.
            moving: The limits that move with time.
            turned: Whether a turning was logged at `at`.
        """
        ready = self._state.ready
        if ready.start is not None:
            if turned or signals.over_ready_band or moving.above_ready(over_band=True):
                ready.start = None
            elif signals.proven and ready.paused_at is not None:
                ready.paused_ms += at - ready.paused_at
                ready.paused_at = None
                if ready.paused_ms > self._limits.ready_pause_ms:
                    ready.start = None
            elif not signals.proven and ready.paused_at is None:
                ready.paused_at = at - 1  # the last proven millisecond (rule 3)
            if ready.paused_at is not None and at > self._pause_end():
                ready.start = None
        if ready.start is None:
            ready.paused_ms, ready.paused_at = 0, None
            if signals.within_ready and not moving.above_ready(over_band=False):
                ready.start = at

    def next_transition(self, at: int, unmet: bool) -> Transition | None:
        """Return the row of the table that applies at `at`, or None."""
        for row in TRANSITIONS:
            if row.before is self._state.phase and self._given(row.signal, at, unmet):
                return row
        return None

    def enter(self, row: Transition, at: int) -> None:
        """Apply a row of the table."""
        state = self._state
        state.phase = row.after
        if row.after is Phase.HOLDING:
            state.held = True
        # A batch that leaves READY has been cooling all the while, so the hours of *reheating* go on.
        if row.after is Phase.COOLING and row.before is not Phase.READY:
            state.cool_since, state.reheated = at, False
        elif row.after in (Phase.HEATING, Phase.HOLDING):
            state.cool_since = None

    def due(self, at: int) -> list[int]:
        """Return the instants after `at` at which a dwell or the recovery is over by time alone."""
        state = self._state
        found = [start + self._lengths[dwell] for dwell, start in self._dwells.items()]
        if state.recovering:
            found.append(self._recovery_ends())
        if state.ready.paused_at is not None:
            found.append(self._pause_end() + 1)  # a proven reading at the pause's last millisecond still resumes
        elif (ready := ready_from(state, self._limits)) is not None:
            found.append(ready)
        return [instant for instant in found if instant > at]

    def _given(self, signal: Signal, at: int, unmet: bool) -> bool:
        state = self._state
        if signal is Signal.AT_HOLD:
            return self.complete(Dwell.AT_HOLD, at)
        if signal is Signal.LOST_HOLD:
            return unmet and self.complete(Dwell.LOST, at)
        if signal is Signal.COOLED:
            return state.held and self.complete(Dwell.COOLED, at)
        if signal is Signal.GAVE_UP:
            return state.peaked and not state.held and self.complete(Dwell.GAVE_UP, at)
        if signal is Signal.REKINDLED:
            return unmet and self.complete(Dwell.REKINDLED, at)
        if signal is Signal.RAW_ADDED:
            return state.raw_at == at
        if signal is Signal.WARM_AGAIN:
            return self.complete(Dwell.UNREADY, at)
        ready = ready_from(state, self._limits)
        return ready is not None and state.ready.paused_at is None and at >= ready

    def _recovery_ends(self) -> int:
        state = self._state
        begun = state.turned_at if state.recovery_from is None else state.recovery_from
        return (begun or 0) + self._limits.recovery_ms

    def _pause_end(self) -> int:
        ready = self._state.ready
        return (ready.paused_at or 0) + self._limits.ready_pause_ms - ready.paused_ms

    def _run(self, dwell: str, at: int, on: bool) -> None:
        if not on:
            self._dwells.pop(dwell, None)  # a dwell must be filled without a break
        elif dwell not in self._dwells:
            self._dwells[dwell] = at


def ready_from(state: WalkState, limits: PileThresholds) -> int | None:
    """Return from when on a batch is cool enough for worms if it stays as it is, UTC ms; None while it is too warm.

    Args:
        state: The batch's walk.
        limits: The thresholds that it is walked under.
    """
    if state.ready.start is None:
        return None
    dwell = state.ready.start + limits.ready_dwell_ms + state.ready.paused_ms
    rested = dwell if state.turned_at is None else state.turned_at + limits.ready_after_turning_ms
    raw = state.built if state.raw_at is None else state.raw_at
    return max(dwell, rested, raw + limits.ready_age_ms)
