"""Conditions that begin and end, and deadlines: the port of functions that note changes."""

from monitor.alarms import AlarmBook, Move
from monitor.engine.context.agenda import SILENCE, Agenda, Deadline
from monitor.engine.context.places import Places
from monitor.engine.context.state import EngineState
from monitor.model.alarm_values import AlarmValues


class Signals(Places):
    """A yard whose conditions are noted.

    Attributes:
        agenda: The deadlines.
        alarms: The book of alarms.
        quiet: Whether an import is taken in, which starts no alarm or notice.
        moves, touched: What happened to alarms, to be told once the event has been taken in.
        shortest_wait_ms: No probe falls silent sooner than this after it was heard.
    """

    def __init__(self, state: EngineState) -> None:
        self.agenda = Agenda(state.agenda)
        self.alarms = AlarmBook(state.alarms)
        self.quiet = False
        self.moves: list[Move] = []
        self.touched: list[str] = []
        super().__init__(state)
        self.trust_clock(state.clock_off_ms, sure=not state.clock_unsure)

    def renew(self) -> None:
        """Prepare again everything that depends on the settings."""
        super().renew()
        probe = self.settings.probe_thresholds
        piles = (pile.thresholds.lost_silence_ms for pile in self.settings.piles.values())
        self.shortest_wait_ms = min(probe.silent_min_ms, probe.silent_min_calm_ms, *piles)

    def trust_clock(self, off_ms: int, *, sure: bool) -> None:
        """Note how far the true time lies before `at` (ms, 0 or less), and whether the clock can be trusted at all."""
        self.state.clock_off_ms, self.state.clock_unsure = off_ms, not sure
        self.alarms.off_ms, self.alarms.unsure = off_ms, not sure

    def wait(self, deadline: Deadline, due: int | None) -> None:
        """Set or drop a deadline; one that is past already is served right after this instant."""
        self.agenda.set(deadline, due if due is None else max(due, self.at + 1))

    @property
    def silence_check(self) -> int | None:
        """The next look at the probes for silence, UTC ms, or None."""
        return self.agenda.due(SILENCE)

    def silence_may_come_sooner(self) -> bool:
        """Return whether a probe heard just now could fall silent before the probes are next looked at."""
        return self.silence_check_is_far(self.at)

    def silence_check_is_far(self, at: int) -> bool:
        """Return whether a reading taken in at `at` (UTC ms) might still bring the next look at the probes forward."""
        check = self.silence_check
        return check is None or check > at + self.shortest_wait_ms

    def begins(
        self,
        place: str,
        alarm: str,
        *,
        since: int,
        last: int,
        probe: str = "",
        values: AlarmValues = AlarmValues(),
        stage: int = 0,
    ) -> None:
        """Note that an alarm's condition is on; it is told once the event has been taken in (`alarm_notices.settle`).

        Args:
            place: Pile, bin, `ambient`, or "" for the yard.
            alarm: The alarm's id.
            since: Since when the condition has been true, UTC ms.
            last: When it was last seen, UTC ms.
            probe: The probe, where the alarm is about one or one decided it.
            values: Its facts: value, limit and the like.
            stage: How bad it is, where the alarm has stages.
        """
        in_time = self.in_time_by_hand(place, probe)
        key = self.alarms.begins(
            place, alarm, since=since, last=last, probe=probe, values=values, by_hand=in_time, stage=stage
        )
        if not self.quiet:
            self.touched.append(key)

    def ends(self, place: str, alarm: str, probe: str = "") -> None:
        """Note that an alarm's condition is off.

        Args:
            place: Pile, bin, `ambient`, or "" for the yard.
            alarm: The alarm's id.
            probe: The probe, where the alarm is about one.
        """
        self.moves += self.alarms.ends(self.at, place, alarm, probe)
