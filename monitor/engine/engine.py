"""The engine: events in, effects out; deadlines served in order; a snapshot from which it continues exactly.

1. Nothing but events and the instants of deadlines reaches it. Its decisions are a function of the events alone.
2. Before an event at A, the deadlines due at or before A are served, each at its own instant; `advance` serves them
   earlier and changes nothing else.
3. A start gathers deadlines that fell due while the daemon stood: those up to `down_since` are served at their own instants,
   silence counts afresh, and every other overdue deadline is served once, at the start's own instant. A value too old by
   then counts as a silent probe's. A seal does the same.
"""

from collections.abc import Callable, Iterable, Mapping
from typing import Any
from zoneinfo import ZoneInfo

from monitor.diary import Due
from monitor.engine.batches.missed_rounds import serve_chain
from monitor.engine.context.agenda import SILENCE, Deadline, DueKind
from monitor.engine.context.audience import PEOPLE, Audience
from monitor.engine.context.core import Core
from monitor.engine.context.current_values import CurrentValue, conditions, current_values, outlived_by, speaks
from monitor.engine.context.history import History
from monitor.engine.context.state import EngineState, dump_state, load_state, settings_from
from monitor.engine.hand.hand_limits import serve_hand
from monitor.engine.handlers.answers import take_answer
from monitor.engine.handlers.clock_news import take_clock
from monitor.engine.handlers.corrections import take_correction
from monitor.engine.handlers.evening_before import take_evening
from monitor.engine.handlers.imports import take_import
from monitor.engine.handlers.link_news import serve_link, take_link
from monitor.engine.handlers.logged_work import take_work
from monitor.engine.handlers.new_settings import take_settings
from monitor.engine.handlers.readings import serve_pending, take_readings
from monitor.engine.meaning import MEANING, take_seal
from monitor.engine.output.alarm_facts import facts_of, outside, words_for
from monitor.engine.output.alarm_notices import serve_alarm, serve_desk, settle
from monitor.engine.output.differing_readings import apart_words
from monitor.engine.output.empty_yet_warm import empty_words, warm_though_empty
from monitor.engine.output.falling_due import falling_due
from monitor.engine.output.place_conditions import serve_bed, serve_danger
from monitor.engine.output.summaries import away_text, leaving_text, soon_due, watched_text
from monitor.engine.output.unwatched_places import places_watched
from monitor.engine.probes.out_for_turning import serve_reminder
from monitor.engine.probes.silence_alarms import let_go_of_old, rearm, serve_silence
from monitor.model.effects import Effect
from monitor.model.errors import InvariantError
from monitor.model.event_shapes import wrong_shape
from monitor.model.events import STARTING, Event, EventKind, gathers, served_until
from monitor.model.flags import Verdict
from monitor.model.units import Quantity
from monitor.model.words import Dampness, Thermal
from monitor.notices import Facts, FallingDue, Message, Phrases, PlaceWatch


class Engine:
    """The one state machine of a yard; not safe for use in parallel.

    After an exception it must not be used further: the caller restores another from its stored snapshot.
    """

    meaning = MEANING

    def __init__(self, state: EngineState | None = None, audience: Audience = PEOPLE) -> None:
        """Begin afresh, or continue from a state.

        Args:
            state: The state to continue from; None: an empty one.
            audience: The readers of its words.
        """
        known = state if state is not None else EngineState()
        self._core = Core(known, self._fresh_words, self._watched, audience, self._soon_due)

    @property
    def last(self) -> int:
        """Instant of the last event or advance, UTC ms."""
        return self._core.state.last

    @property
    def state(self) -> EngineState:
        """The whole state, for reading only."""
        return self._core.state

    @property
    def core(self) -> Core:
        """The engine's ports, for the second door (`stretch`) only."""
        return self._core

    def serve(self, deadline: Deadline) -> None:
        """Serve a deadline that was taken off the agenda, for the second door only."""
        SERVERS[deadline.kind](self._core, deadline)

    def take(self, event: Event, /) -> None:
        """Take in an event at which nothing is due and which needs no record, for the second door only."""
        core = self._core
        core.at = event.at
        self._take(event.kind, event.payload)
        settle(core)
        core.state.last = event.at

    def take_effects(self) -> list[Effect]:
        """Return the effects since the last call, for the second door only."""
        return self._taken()

    def feed(self, event: Event, history: History, /) -> list[Effect]:
        """Take in an event and return the effects, those of the deadlines before it first.

        Args:
            event: Its `at` is later than that of everything before.
            history: The record, which already holds the event's own readings.

        Raises:
            InvariantError: The event does not come after the last one.
        """
        core = self._core
        if event.at < core.state.last:
            raise InvariantError(f"an event at {event.at} cannot follow {core.state.last}")
        due, gathering = served_until(event), gathers(event)
        if due is not None:
            self._serve_until(min(due, event.at - 1) if gathering else due)
        core.at, core.history = event.at, history
        self._take(event.kind, event.payload)
        if gathering and event.kind not in STARTING:
            self._started()
        settle(core)
        core.history = None
        core.state.last = event.at
        return self._taken()

    def advance(self, to: int, /) -> list[Effect]:
        """Serve the deadlines due at or before an instant (UTC ms) and return the effects."""
        self._serve_until(to)
        self._core.state.last = max(self._core.state.last, to)
        return self._taken()

    def next_deadline(self) -> int | None:
        """Return the earliest deadline, UTC ms, or None."""
        return self._core.agenda.soonest()

    def snapshot(self) -> bytes:
        """Return the whole state, from which another engine continues exactly."""
        return dump_state(self._core.state)

    @classmethod
    def restore(cls, data: bytes) -> "Engine":
        """Return an engine that continues from a snapshot.

        Raises:
            ValueError: The data are no snapshot of this version.
        """
        return cls(load_state(data))

    def take_verdicts(self) -> list[Verdict]:
        """Return the quality flags that became final since the last call."""
        verdicts, self._core.verdicts = self._core.verdicts, []
        return verdicts

    def while_you_were_away(self, at: int, since: int) -> str:
        """Return *while you were away*: the events from `since` to `at` (UTC ms) and the alarms open now."""
        return away_text(self._core, at, since)

    def before_you_go(self, at: int, due: Iterable[Due] | None = None) -> str:
        """Return *before you go*: the places watched, how fresh their readings are, who is on duty, and what falls due.

        Args:
            at: When it is read, UTC ms.
            due: The things that fall due by the whole record; None: those that the engine itself knows.
        """
        return leaving_text(self._core, at, due)

    def words(self, key: str, at: int) -> Message | None:
        """Return the words of an alarm at `at` (UTC ms), or None if it is not on."""
        record = self._core.state.alarms.get(key)
        if record is None or not record.on:
            return None
        self._core.at = max(self._core.at, at)
        return words_for(self._core, record).said(self._core.at, ZoneInfo(self._core.settings.site.time_zone))

    def facts(self, key: str, at: int) -> Facts | None:
        """Return the facts that an alarm's words are made of, at `at` (UTC ms), or None if it is not on."""
        record = self._core.state.alarms.get(key)
        if record is None or not record.on:
            return None
        self._core.at = max(self._core.at, at)
        return facts_of(self._core, record)

    def watched(self, at: int) -> tuple[PlaceWatch, ...]:
        """Return how each pile and bin is watched at `at` (UTC ms), in the order of the settings."""
        self._core.at = max(self._core.at, at)
        return places_watched(self._core)

    def due(self, at: int) -> list[Due]:
        """Return the things that fall due by the engine's own memory, seen at `at` (UTC ms), in no order."""
        return falling_due(self._core, at)

    def nobody_on_duty(self, at: int, start: int, end: int) -> list[str]:
        """Return sentences on the times at which absences leave nobody on duty; none if there are none.

        Args:
            at: Now, UTC ms.
            start: The first instant to look at, UTC ms.
            end: The instant after the last, UTC ms.
        """
        return self._core.desk.alone(at, start, end)

    def watched_words(self, at: int) -> str:
        """Return the places counted by who watches them: `2 places watched by probes, 1 watched by nobody (Bay 3)`."""
        return watched_text(self._core, at)

    def empty_yet_warm(self, place: str, at: int) -> str:
        """Return the question about a place that is empty by the log while something in it reads warm; else ""."""
        self._core.at = max(self._core.at, at)
        warm = warm_though_empty(self._core, place)
        if warm is None:
            return ""
        zone = ZoneInfo(self._core.settings.site.time_zone)
        return empty_words(self._core, place, warm).said(self._core.at, zone).short

    def current(self, place: str, quantity: Quantity, at: int) -> list[CurrentValue]:
        """Return the values that tell of a place at `at` (UTC ms), the newest last; none where nobody knows.

        Args:
            place: Pile or bin.
            quantity: What was measured.
            at: The instant of the look, UTC ms.
        """
        self._core.at = max(self._core.at, at)
        return current_values(self._core, place, quantity)

    def speaks(self, probe: str, at: int) -> bool:
        """Return whether a probe's newest reading tells of `at` (UTC ms), wherever the probe lies."""
        self._core.at = max(self._core.at, at)
        return speaks(self._core, probe)

    def conditions(self, bin_: str, at: int) -> tuple[Thermal, Dampness]:
        """Return both conditions of a bin at `at` (UTC ms), whether or not the program ran until then."""
        self._core.at = max(self._core.at, at)
        return conditions(self._core, bin_)

    def outlived(self, key: str, at: int) -> CurrentValue | None:
        """Return the reading by hand that speaks against an alarm of a bin at `at` (UTC ms); None if none does."""
        self._core.at = max(self._core.at, at)
        record = self._core.state.alarms.get(key)
        return None if record is None else outlived_by(self._core, record)

    def apart(self, place: str, at: int) -> str:
        """Return how a reading by hand and a probe of a place differ, and what to do; "" if they do not."""
        self._core.at = max(self._core.at, at)
        words = apart_words(self._core, place)
        if words is None:
            return ""
        return f"{words.said(self._core.at, ZoneInfo(self._core.settings.site.time_zone)).short}: look at the probe"

    def alone(self, place: str) -> str:
        """Return which core probes alone judge a heap while others lie outside, with a comma before it; else ""."""
        facts = Facts(place=place, since=self._core.at, now=self._core.at, outside=outside(self._core, place))
        return Phrases(facts, self._core.settings).alone

    def place_of(self, probe: str) -> str:
        """Return where a probe is now: as it was carried, else as configured; "" if nowhere."""
        return self._core.place_of(probe)

    def test_notice(self, at: int, contact: str) -> str:
        """Return the text of a test message to a contact.

        Raises:
            KeyError: There is no such contact.
        """
        return self._core.desk.test(at, contact).text

    def _take(self, kind: EventKind, payload: Mapping[str, Any]) -> None:
        """Take in an event; an event of a wrong shape changes nothing, however it came into the record."""
        if wrong_shape(kind, payload):
            return
        if kind is EventKind.SETTINGS:
            try:
                payload = {"settings": settings_from(payload["settings"])}
            except ValueError:
                return
        take = _TAKERS.get(kind)
        if take is not None:
            take(self._core, payload)
        elif kind in STARTING:
            if kind is EventKind.SEALED:
                take_seal(self._core, payload)
            self._started()

    def _started(self) -> None:
        core = self._core
        for probe in core.settings.probes:
            rearm(core, probe, anew=True)
        overdue = [deadline for _, deadline in core.agenda.take(core.at) if deadline != SILENCE]
        # The probes are all waited for anew: what was set before the stop says nothing of when to look at them.
        core.wait(SILENCE, None)
        for deadline in overdue:
            self.serve(deadline)
        for probe in core.settings.probes:
            let_go_of_old(core, probe)
            rearm(core, probe)

    def _serve_until(self, to: int) -> None:
        core = self._core
        while (due := core.agenda.soonest()) is not None and due <= to:
            due, deadline = core.agenda.pop()
            core.at = due
            self.serve(deadline)
            settle(core)
            core.state.last = max(core.state.last, due)

    def _taken(self) -> list[Effect]:
        effects, self._core.effects = self._core.effects, []
        return effects

    def _soon_due(self, at: int) -> FallingDue:
        return soon_due(self._core, at)

    def _watched(self) -> tuple[PlaceWatch, ...]:
        return places_watched(self._core)

    def _fresh_words(self, key: str, at: int) -> Message | None:
        """Return fresh words for an alarm that is told again."""
        self._core.at = max(self._core.at, at)
        record = self._core.alarms.records.get(key)
        return words_for(self._core, record) if record is not None and record.on else None


SERVERS: dict[DueKind, Callable[[Core, Deadline], None]] = {
    DueKind.ALARM: lambda core, due: serve_alarm(core, due.of),
    DueKind.BED: lambda core, due: serve_bed(core, due.place),
    DueKind.DESK: lambda core, _: serve_desk(core),
    DueKind.HAND: lambda core, due: serve_hand(core, due.place),
    DueKind.HOT: lambda core, due: serve_danger(core, due.place),
    DueKind.LINK: lambda core, due: serve_link(core, due.of),
    DueKind.OUT: lambda core, due: serve_reminder(core, due.place),
    DueKind.PENDING: lambda core, _: serve_pending(core),
    DueKind.ROUND: lambda core, due: serve_chain(core, due.place),
    DueKind.SILENCE: lambda core, _: serve_silence(core),
}
"""The function that serves each kind of deadline."""

_TAKERS: dict[EventKind, Callable[[Core, Mapping[str, Any]], None]] = {
    EventKind.READINGS: take_readings,
    EventKind.WORK: take_work,
    EventKind.CORRECTION: take_correction,
    EventKind.ANSWER: take_answer,
    EventKind.SETTINGS: take_settings,
    EventKind.IMPORTED: take_import,
    EventKind.CLOCK: take_clock,
    EventKind.EVENING: take_evening,
    EventKind.LINK: take_link,
}
"""The function that takes each kind of event; the engine itself takes a start, and a stop changes nothing."""
