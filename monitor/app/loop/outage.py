"""While nothing can be stored (a full, failing or read-only disk): people are told at once, past the record.

1. After a moment of failing, an engine in memory goes on from where the record stands. It sees what comes, and what it decides
   that is urgent goes straight to the channels: that nothing can be stored, a fire, worms in danger. What is less urgent waits.
2. Messages that waited in the record go out too; how far they came is kept in memory until it can be stored.
3. When storing works again the outage is recorded, everything that came is taken in, and whoever was told already is not
   told the same again.
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
from monitor.journal import Delivery, OutboxRow, Outcome, Writer, notice_id
from monitor.model.alarm_kinds import Alarm
from monitor.model.effects import Draft, Effect, EffectKind, Occasion
from monitor.model.errors import MonitorError
from monitor.model.events import Event, EventKind
from monitor.model.readings import Reading
from monitor.model.settings import PAGE_CONTACT, Settings
from monitor.model.words import Priority
from monitor.outbox import Deliverer, NoticeRow

TELL_AFTER_S = 1.0
"""Failing for less is no outage (ours): another program may hold the file for a moment."""

SAME_AGAIN_S = 120.0
"""For so long after an outage, what somebody was told during it is not told again (ours)."""

URGENT = Priority.HIGH
"""What goes out past the record: this, and what is more urgent."""

log = logging.getLogger("heaptender")


class Outage:
    """What is known of an outage; for the writer's thread alone. `failed`, then `step` again and again, then `stored`."""

    def __init__(
        self, writer: Writer, clock: Clock, settings: Callable[[], Settings], deliverer: Callable[[], Deliverer | None]
    ) -> None:
        self._writer = writer
        self._clock = clock
        self._settings = settings
        self._deliverer = deliverer
        self._failing_s: float | None = None
        self._since = 0
        self._why = ""
        self._engine: Engine | None = None
        self._rows: list[OutboxRow] = []
        self._keys: dict[int, tuple[str, ...]] = {}
        self._told: set[tuple[str, str, str]] = set()
        self._same_until_s = 0.0
        self.on = False

    def failed(self, why: str, events: Sequence[FedEvent], readings: Iterable[Reading]) -> None:
        """Say that a turn with these events and readings could not be stored."""
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
        """Look at what came: only at what is newer than all before of its probe, and not late."""
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
        """Do what is due, and hand over what goes past the record."""
        if not self.on:
            return
        if self._engine is not None:
            self._guarded(lambda engine: engine.advance(self._clock.now_ms()))
        deliverer, now = self._deliverer(), self._clock.now_ms()
        if deliverer is None:
            return
        waiting: list[NoticeRow] = list(self._rows)
        try:
            waiting += self._writer.dispatch.due(now)
        except MonitorError as fault_there:
            log.debug("Messages that wait cannot be read: %s", fault_there)
        try:
            deliverer.step_unstored(sorted(waiting, key=lambda row: (-row.priority, row.at)), now)
        except Exception as fault_there:  # noqa: BLE001 - whatever fails here, storing must be tried again
            log.error("Messages cannot be handed over: %s", fault_there)

    def stored(self) -> list[FedEvent]:
        """Say that storing works; return the events that record an outage, if there was one."""
        if self._failing_s is None:
            return []
        self._failing_s = None
        mark_storing(self._writer.store.path.parent, works=True)
        if not self.on:
            return []
        self.on, self._engine, self._rows = False, None, []
        self._same_until_s = time.monotonic() + SAME_AGAIN_S
        minutes = max(0, self._clock.now_ms() - self._since) / 60_000
        log.warning("Storing works again, after %.1f min. What came meanwhile is taken in now.", minutes)
        return [self._fault(), fault_over(Alarm.DISK)]

    def told(self, row: NoticeRow) -> None:
        """Note that a row was accepted by its channel."""
        self._told |= {(row.contact, row.channel, key) for key in self._keys.get(row.id, ())}

    def not_again(self, outcome: Outcome) -> None:
        """Settle those new rows of a turn that say what their reader was told past the record."""
        if not self._told:
            return
        if time.monotonic() >= self._same_until_s and not self.on:
            self._told.clear()
            return
        keys = {(effect.at, effect.ordinal): _keys(effect) for effect in outcome.effects if _is_new(effect)}
        same = [row for row in outcome.notices if self._was_told(row, keys.get((row.at, row.ordinal), ()))]
        if same:
            with self._writer.transaction():
                for row in same:
                    if self._writer.dispatch.begin(row.id):
                        self._writer.dispatch.done(row.id)

    def _was_told(self, row: OutboxRow, keys: tuple[str, ...]) -> bool:
        """Tell whether its reader knows; each cause counts once, so that its end and its return are told."""
        said = {(row.contact, row.channel, key) for key in keys}
        if not said or not said <= self._told:
            return False
        self._told -= said
        return True

    def _fault(self) -> FedEvent:
        kind, payload = fault(Alarm.DISK, self._why)
        return kind, {**payload, "since": self._since}

    def _brought_back(self) -> Engine | None:
        """Return an engine of our own: from the record, else a copy of the writer's, which has seen what failed as well."""
        try:
            engine = self._writer.beside()
        except Exception as fault_there:  # noqa: BLE001 - a disk that fails may not even be read
            log.error("The record cannot be read either (%s); it goes by what is in memory.", fault_there)
        else:
            return engine if isinstance(engine, Engine) else None
        try:
            return Engine.restore(self._writer.engine.snapshot())
        except Exception as fault_there:  # noqa: BLE001 - it was left in the midst of something
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
        except Exception as fault_there:  # noqa: BLE001 - storing must be tried again, whatever fails here
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
        priority = Priority.__members__.get(str(draft.values.get("priority", "")).upper(), Priority.MEDIUM)
        if priority < URGENT:
            return
        for channel in dict.fromkeys(draft.values.get("channels") or ()):
            number = -1 - len(self._keys)
            self._keys[number] = _keys(effect)
            row = OutboxRow(
                id=number, at=effect.at, ordinal=effect.ordinal, contact=str(draft.after), channel=str(channel),
                notice=notice_id(effect.at, effect.ordinal), place=draft.place, occasion=str(draft.axis),
                priority=priority, text=draft.text, state=Delivery.WAITING, attempts=0, next_try=effect.at,
                maybe_repeat=False, why="",
            )  # fmt: skip
            self._rows.append(row)

    def _tell_bare(self) -> None:
        """Tell everybody who has a channel that nothing can be stored, without an engine to choose whom."""
        settings, now = self._settings(), self._clock.now_ms()
        text = fault_letter(Alarm.DISK, self._why, settings, self._since, now).text
        for ordinal, (contact, known) in enumerate(settings.contacts.items()):
            values = {"channels": list(known.channels), "priority": URGENT.name.lower(), "keys": ["/disk"]}
            draft = Draft(
                place="", kind=EffectKind.NOTICE, axis=Occasion.NEW, before=None, after=contact, why="", since=self._since,
                reason="new", values=values, text=text,
            )  # fmt: skip
            self._to_rows(Effect(at=now, ordinal=ordinal, draft=draft))


class _Nothing:
    """A record in which nothing is found: what is late is not looked at here."""

    def readings(self, probes: Sequence[str], start: int, end: int) -> Iterable[Reading]:  # noqa: ARG002 (the seam's shape)
        """Return no readings."""
        return ()


def _keys(effect: Effect) -> tuple[str, ...]:
    return tuple(str(key) for key in effect.draft.values.get("keys", ()))


def _is_new(effect: Effect) -> bool:
    return effect.draft.kind is EffectKind.NOTICE and effect.draft.axis in (Occasion.NEW, Occasion.GROUP)
