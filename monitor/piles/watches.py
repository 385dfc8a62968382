"""Measures the alarm conditions that belong to a batch's walk; raising, delaying and muting alarms happens elsewhere.

Rules (*our choice* marks additions to the design):

1. `stalled`: rule unmet, hottest proven below 40 °C, 72 h after the building or the last turning; 7 days if ambient
   averaged below 5 °C over those 72 h (whole hours, 75 % of them heard, as for worms); or, at 7 days, the hottest was
   not yet at the hold temperature. A batch that was there since then is not stalled but cooled (our choice).
2. `cooled-unmet` replaces `stalled`: rule unmet and, if turning is not the method, the phase is cooling; or, with
   any method, not back 48 h after a turning though it had been at the hold temperature before, and the hottest is
   below it by more than the deadband.
3. `cold-corner` (turned piles): coldest below, hottest above for 24 h outside recovery, rule unmet (our choice: once the
   rule is met, every heap cools unevenly and nobody need act). Over when the coldest is back or the hottest is below too.
4. `turning-due` (turned piles): the rule wants more turnings, the coldest is at temperature outside recovery, and the
   instant of `turn_plan` has come; or the hottest, once at the hold temperature, is below it for 12 h outside recovery
   with the rule unmet (the batch has *gone cold*, which is reported anew). Not while `hot` or `cooled-unmet` is on.
5. No condition ends by silence or by a dip: it ends when the contrary is proven (with a deadband where it would
   flutter), at a turning, when the rule is met, or when the batch is ready for worms (our choice).
"""

from collections.abc import Callable

from monitor.model.alarm_kinds import Alarm
from monitor.model.thresholds import PileThresholds
from monitor.model.words import Method, Phase
from monitor.piles.air import READY_LAG_MS, mean_air
from monitor.piles.changes import WALK_ALARMS, Reason
from monitor.piles.phases import Dwell, Phases
from monitor.piles.rule import RuleTalk
from monitor.piles.signals import Signals
from monitor.piles.state import WalkState
from monitor.piles.turn_plan import plan_turning


class Watches:
    """The alarm conditions of one batch."""

    __slots__ = ("_limits", "_phases", "_rule", "_state", "_turned_pile")

    def __init__(
        self, state: WalkState, phases: Phases, rule: RuleTalk, thresholds: PileThresholds, method: Method
    ) -> None:
        self._state = state
        self._phases = phases
        self._rule = rule
        self._limits = thresholds
        self._turned_pile = method is Method.TURNED

    def examine(self, at: int, signals: Signals, turned: bool) -> list[tuple[str, Reason]]:
        """Find the conditions that begin or end at an instant.

        Args:
            at: The instant, UTC ms.
            signals: The probes' joint signals from it on.
            turned: Whether a turning was logged at it.

        Returns:
            (alarm id, why) for each; the reason of an end is OVER.
        """
        state = self._state
        self._decide_weather(at)
        plan_turning(state, self._rule.left(), at, self._limits.turning_every_ms)
        asks: dict[str, Callable[[int, Signals], Reason | None]] = {
            Alarm.COOLED_UNMET: self._cooled_unmet,
            Alarm.STALLED: self._stalled,
            Alarm.COLD_CORNER: self._cold_corner,
            Alarm.TURNING_DUE: self._turning_due,
        }
        found: list[tuple[str, Reason]] = []
        # Rule 5: these end every condition, whatever the probes show. (A rule that is met wants no turning.)
        quiet = turned or state.phase is Phase.READY or not self._rule.unmet()
        for alarm in WALK_ALARMS:
            why = None if quiet else asks[alarm](at, signals)
            if why is not None and alarm not in state.alarms:
                state.alarms[alarm] = at
                found.append((alarm, why))
            elif why is None and state.alarms.pop(alarm, None) is not None:
                found.append((alarm, Reason.OVER))
            elif why is not None and alarm == Alarm.TURNING_DUE and (why is Reason.BELOW) is not state.gone_cold:
                # *Turning due* is on already, but its cause has changed, and people need other words for it.
                found.append((alarm, why))
            if alarm == Alarm.TURNING_DUE:
                state.gone_cold = why is Reason.BELOW
        return found

    def due(self, at: int) -> list[int]:
        """Return the instants after `at` at which a condition could come on by time alone."""
        state, limits = self._state, self._limits
        found = [state.anchor + limits.stalled_ms, state.anchor + limits.stalled_no_hold_ms]
        if state.cold_weather:
            found.append(state.anchor + limits.stalled_cold_weather_ms)
        if state.plan.at is not None:
            found.append(state.plan.at)
        return [instant for instant in found if instant > at]

    def _decide_weather(self, at: int) -> None:
        state, limits = self._state, self._limits
        # Decide once, at the end of the short wait, so that later weather cannot make the alarm come and go.
        if state.cold_weather is None and at >= state.anchor + limits.stalled_ms:
            mean = mean_air(
                state.air,
                state.anchor + limits.stalled_ms,
                limits.stalled_ms - READY_LAG_MS,
                limits.ready_ambient_coverage_milli_pct,
            )
            state.cold_weather = mean is not None and mean < limits.stalled_cold_weather_milli_c

    def _stalled(self, at: int, signals: Signals) -> Reason | None:
        state, limits = self._state, self._limits
        if state.reached_since or Alarm.COOLED_UNMET in state.alarms:
            return None
        on = Alarm.STALLED in state.alarms
        wait = limits.stalled_cold_weather_ms if state.cold_weather else limits.stalled_ms
        if at >= state.anchor + wait and (signals.under_warm or (on and signals.not_warm)):
            return Reason.NEVER_WARM
        if at >= state.anchor + limits.stalled_no_hold_ms and (signals.below_hold or on):
            return Reason.NEVER_HOT
        return None

    def _cooled_unmet(self, at: int, signals: Signals) -> Reason | None:
        del at
        state = self._state
        if state.reached and state.lapsed and (signals.under or Alarm.COOLED_UNMET in state.alarms):
            return Reason.NOT_BACK
        if not self._turned_pile and state.phase is Phase.COOLING and not state.recovering:
            return Reason.COOLED_UNMET
        return None

    def _cold_corner(self, at: int, signals: Signals) -> Reason | None:
        if not self._turned_pile:
            return None
        on = Alarm.COLD_CORNER in self._state.alarms
        over = signals.at_hold or signals.below_hold or self._state.recovering
        if self._phases.complete(Dwell.CORNER, at) or (on and not over):
            return Reason.CORNER
        return None

    def _turning_due(self, at: int, signals: Signals) -> Reason | None:
        state = self._state
        if not self._turned_pile or state.recovering or self._phases.complete(Dwell.HOT, at):
            return None
        if Alarm.COOLED_UNMET in state.alarms:
            return None
        on, cold = Alarm.TURNING_DUE in state.alarms, self._phases.complete(Dwell.BELOW, at)
        if state.reached and (cold or (state.gone_cold and not signals.hot_seen)):
            return Reason.BELOW
        due = state.plan.at is not None and at >= state.plan.at
        if (due and signals.at_hold) or (on and not state.gone_cold and self._rule.wants_turning()):
            return Reason.EVERY_FEW_DAYS
        return None
