"""Tells people at once, past the record, while nothing can be stored (a full, failing or read-only disk).

1. After a moment of failing, an engine in memory goes on from the end of the record. It sees arrivals, and its urgent decisions
   go straight to the channels: that nothing can be stored, a fire, worms in danger. Less urgent notices wait.
2. Messages that waited in the record go out too; their progress is kept in memory until it can be stored.
3. When storing works again, the outage is recorded and all arrivals are taken in. Nobody hears again what they were told during
   the outage; where a letter's answer is still to come, the record's row waits for that answer.
"""

import logging
import time
from collections.abc import Callable, Iterable, Sequence
from typing import Any

from monitor.app.loop.clock import Clock
from monitor.app.loop.loop_faults import fault, fault_letter, fault_over
from monitor.app.loop.storing import mark_storing
from monitor.app.loop.turns import FedEvent
from monitor.engine import Engine
from monitor.journal import Outcome, Writer, notice_id
from monitor.model.alarm_kinds import Alarm
from monitor.model.effects import Draft, Effect, EffectKind, Occasion
from monitor.model.errors import MonitorError
from monitor.model.events import Event, EventKind
from monitor.model.notice_rows import NoticeRow
from monitor.model.notice_values import NoticeValues, keys_of
from monitor.model.readings import Reading
from monitor.model.settings import PAGE_CONTACT, Settings
from monitor.model.words import Priority
from monitor.outbox import Deliverer

TELL_AFTER_S = 1.0
"""A shorter failure is no outage, since another program may briefly hold the file (our choice)."""

SAME_AGAIN_S = 120.0
"""For this long after an outage, nobody hears again what they were told during it (our choice)."""

URGENT = Priority.HIGH
"""The lowest priority that goes out past the record."""

log = logging.getLogger("heaptender")


class Outage:
    """The state of an outage, for the writer's thread alone. Call `failed`, then `step` again and again, then `stored`."""

    def __init__(
        self,
        writer: Writer,
        clock: Clock,
        settings: Callable[[], Settings],
        deliverer: Callable[[], Deliverer | None],
        delivery_ms: Callable[[], int],
    ) -> None:
        """Take what an outage needs, and the time by which letters go out (UTC ms)."""
        self._writer = writer
        self._clock = clock
        self._settings = settings
        self._deliverer = deliverer
        self._delivery_ms = delivery_ms
        self._failing_s: float | None = None
        self._since = 0
        self._why = ""
        self._engine: Engine | None = None
        self._rows: list[NoticeRow] = []
        self._keys: dict[int, tuple[str, ...]] = {}
        self._told: set[tuple[str, str, str]] = set()
        self._letters: set[tuple[str, str, str, str]] = set()
        """Letters told past the record: contact, channel, notice and text."""
        self._same_until_s = 0.0
        self._just_stored = False
        self.on = False

    def failed(self, why: str, events: Sequence[FedEvent], readings: Iterable[Reading]) -> None:
        """Note that a turn could not be stored; after a moment of failing, begin the outage and tell people.

        Args:
            why: The disk's fault, in words.
            events: The turn's events.
            readings: The turn's readings.
        """
        now_s = time.monotonic()
        if self._failing_s is None:
            self._failing_s, self._since = now_s, self._clock.now_ms()
            mark_storing(self._writer.store.path.parent, works=False)
        if self.on or now_s - self._failing_s < TELL_AFTER_S:
            return
        self.on, self._why = True, why.rstrip(".")
        log.critical("Nothing can be stored: %s. People are told past the record.", self._why)
        self._engine = self._brought_back()
        if self._engine is None:
            self._tell_bare()
        for kind, payload in (*events, self._fault()):
            self._feed(kind, payload)
        self.see(readings)

    def see(self, readings: Iterable[Reading]) -> None:
        """Feed the engine in memory with arrivals; only readings newer than all others of their probe, and not late."""
        engine = self._engine
        if engine is None:
            return
        watches, late_ms = engine.state.watches, engine.state.settings.probe_thresholds.late_ms
        now = self._clock.now_ms()
        newest: dict[tuple[int, str], Reading] = {}
        for row in readings:
            watch = watches.get(row.probe)
            if row.time >= now - late_ms and (watch is None or watch.newest is None or row.time > watch.newest):
                newest.setdefault((row.time, row.probe), row)
        if newest:
            rows = [list(row) for _, row in sorted(newest.items())]
            self._feed(EventKind.READINGS, {"rows": rows, "ahead": []})

    def step(self) -> None:
        """Serve the deadlines that are due, and hand over the urgent messages."""
        if not self.on:
            return
        if self._engine is not None:
            self._guarded(lambda engine: engine.advance(self._clock.now_ms()))
        deliverer, now = self._deliverer(), self._delivery_ms()
        if deliverer is None:
            return
        waiting = list(self._rows)
        try:
            waiting += self._writer.dispatch.due(now)
        except MonitorError as fault_there:
            log.debug("Messages that wait cannot be read: %s", fault_there)
        try:
            deliverer.step_unstored(sorted(waiting, key=lambda row: (-row.priority, row.at)), now)
        except Exception as fault_there:  # noqa: BLE001 - storing must be tried again, whatever fails here
            log.error("Messages cannot be handed over: %s", fault_there)

    def stored(self) -> list[FedEvent]:
        """Note that storing works; return the events that record the outage, if there was one."""
        if self._failing_s is None:
            return []
        self._failing_s, self._just_stored = None, True
        mark_storing(self._writer.store.path.parent, works=True)
        if not self.on:
            return []
        self.on, self._engine, self._rows = False, None, []
        self._same_until_s = time.monotonic() + SAME_AGAIN_S
        minutes = max(0, self._clock.now_ms() - self._since) / 60_000
        log.warning("Storing works again, after %.1f min. What came meanwhile is taken in now.", minutes)
        return [self._fault(), fault_over(Alarm.DISK)]

    def explains_losses(self) -> bool:
        """Return, once after nothing could be stored, that this is why messages found no room, and not their number."""
        just, self._just_stored = self._just_stored, False
        return just

    def told(self, row: NoticeRow) -> None:
        """Note that a channel accepted a row."""
        if row.id in self._keys:
            self._told |= {(row.contact, row.channel, key) for key in self._keys[row.id]}
            self._letters.add((row.contact, row.channel, row.notice, row.text))

    def not_again(self, outcome: Outcome) -> None:
        """Mark those new notices of a turn as delivered that their readers already got past the record."""
        if not self._keys or not outcome.notices:
            return  # Nothing ever went past the record, or there is nothing new to tell.
        deliverer = self._deliverer()
        if time.monotonic() >= self._same_until_s and not self.on:
            self._told.clear()
            self._letters.clear()
            if deliverer is not None:
                deliverer.forget_rowless()
            return
        keys = {
            (effect.at, effect.ordinal): keys_of(effect.draft.values) for effect in outcome.effects if _is_new(effect)
        }
        with self._writer.transaction():
            for row in outcome.notices:
                said = keys.get((row.at, row.ordinal), ())
                if self._was_told(row, said):
                    if self._writer.dispatch.begin(row.id):
                        self._writer.dispatch.done(row.id)
                elif deliverer is not None and (letter := self._on_the_way(deliverer, row, said)) is not None:
                    deliverer.take_over(letter, row, self._writer.dispatch, self._delivery_ms())

    def _on_the_way(self, deliverer: Deliverer, row: NoticeRow, said: tuple[str, ...]) -> int | None:
        """Return the number of a letter that tells a row's reader all that the row says, and has no answer yet."""
        for letter in deliverer.rowless():
            if (letter.contact, letter.channel) != (row.contact, row.channel):
                continue
            same = (letter.notice, letter.text) == (row.notice, row.text)
            if same or (said and set(said) <= set(self._keys[letter.id])):
                return letter.id
        return None

    def _was_told(self, row: NoticeRow, keys: tuple[str, ...]) -> bool:
        """Return whether a row's reader knows already; each cause counts once, so that its end and its return are reported."""
        if (row.contact, row.channel, row.notice, row.text) in self._letters:
            # The very same letter, of whatever occasion: the record's engine served that deadline once more.
            self._told -= {(row.contact, row.channel, key) for key in keys}
            return True
        said = {(row.contact, row.channel, key) for key in keys}
        if not said or not said <= self._told:
            return False
        self._told -= said
        return True

    def _fault(self) -> FedEvent:
        kind, payload = fault(Alarm.DISK, self._why)
        return kind, {**payload, "since": self._since}

    def _brought_back(self) -> Engine | None:
        """Return a separate engine: from the record, else a copy of the writer's, which also saw the turn that failed."""
        try:
            engine = self._writer.beside()
        except Exception as fault_there:  # noqa: BLE001 - a failing disk may not even be readable
            log.error("The record cannot be read either (%s); it goes by what is in memory.", fault_there)
        else:
            return engine if isinstance(engine, Engine) else None
        try:
            return Engine.restore(self._writer.engine.snapshot())
        except Exception as fault_there:  # noqa: BLE001 - the engine may have stopped halfway through an event
            log.error("What is in memory cannot be used: %s", fault_there)
            return None

    def _feed(self, kind: EventKind, payload: dict[str, Any]) -> None:
        def feed(engine: Engine) -> list[Effect]:
            at = max(self._clock.now_ms(), engine.last + 1)
            return [*engine.advance(at - 1), *engine.feed(Event(at, kind, payload), _Nothing())]

        self._guarded(feed)

    def _guarded(self, work: Callable[[Engine], list[Effect]]) -> None:
        engine = self._engine
        if engine is None:
            return
        try:
            effects = work(engine)
        except Exception as fault_there:  # noqa: BLE001 - storing must be tried again, no matter what
            log.error("What comes can no longer be looked at while nothing is stored: %s", fault_there)
            self._engine = None
            return
        engine.take_verdicts()
        for effect in effects:
            self._to_rows(effect)

    def _to_rows(self, effect: Effect) -> None:
        draft = effect.draft
        if draft.kind is not EffectKind.NOTICE or draft.after in (None, PAGE_CONTACT):
            return
        values = NoticeValues.of(draft.values)
        if values.priority < URGENT:
            return
        for channel in dict.fromkeys(values.channels):
            number = -1 - len(self._keys)
            self._keys[number] = values.keys
            row = NoticeRow(
                id=number, at=effect.at, ordinal=effect.ordinal, contact=str(draft.after), channel=channel,
                notice=notice_id(effect.at, effect.ordinal), place=draft.place, occasion=str(draft.axis),
                priority=values.priority, text=draft.text, next_try=effect.at,
            )  # fmt: skip
            self._rows.append(row)

    def _tell_bare(self) -> None:
        """Tell everybody who has a channel that nothing can be stored; there is no engine to choose readers."""
        settings, now = self._settings(), self._clock.now_ms()
        text = fault_letter(Alarm.DISK, self._why, settings, self._since, now).text
        for ordinal, (contact, known) in enumerate(settings.contacts.items()):
            values = NoticeValues(priority=URGENT, keys=("/disk",), channels=known.channels)
            draft = Draft(
                place="", kind=EffectKind.NOTICE, axis=Occasion.NEW, before=None, after=contact, why="", since=self._since,
                reason="new", values=values.plain(), text=text,
            )  # fmt: skip
            self._to_rows(Effect(at=now, ordinal=ordinal, draft=draft))


class _Nothing:
    """An empty record: during an outage nobody looks back for late readings."""

    def readings(self, probes: Sequence[str], start: int, end: int) -> Iterable[Reading]:  # noqa: ARG002 (the protocol's shape)
        """Return no readings."""
        return ()

    further = readings


def _is_new(effect: Effect) -> bool:
    draft = effect.draft
    # A digest may go with notices of the same hour: then it names their alarms.
    with_others = draft.axis == Occasion.DIGEST and bool(NoticeValues.of(draft.values).keys)
    return draft.kind is EffectKind.NOTICE and (draft.axis in (Occasion.NEW, Occasion.GROUP) or with_others)
