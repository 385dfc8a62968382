"""The writer's loop: what arrives is taken in, decided, committed, acknowledged, and handed on; all on one thread.

A turn gathers what has come until the queue is empty, 500 messages wait, or 50 ms have passed. A broker's message is
acknowledged only after the commit. When disk or journal fail, nothing is lost: the same turn is tried again, with pauses.
"""

import logging
import queue
import threading
from collections.abc import Callable, Iterable
from typing import Protocol

from monitor.app.clock import Clock, ClockNews
from monitor.app.gathering import Gathered, Gatherer
from monitor.engine import Engine
from monitor.intake import Arrival, LinkChange, Token
from monitor.journal import Outcome, Turn, Writer
from monitor.model.errors import UnavailableError
from monitor.model.events import EventKind
from monitor.model.settings import Settings
from monitor.outbox import Deliverer

TURN_MESSAGES = 500
TURN_S = 0.05
INBOX_EVERY_S = 0.25
LOOK_EVERY_S = 1.0
LONGEST_WAIT_S = 0.25
_FULL = 20_000

log = logging.getLogger("heaptender")

Task = Callable[[], None]


class Acknowledging(Protocol):
    """A source as the hub needs it."""

    name: str

    def acknowledge(self, tokens: Iterable[Token]) -> int:
        """Acknowledge committed messages."""


class LookingClock(Clock, Protocol):
    """A clock that can be compared with the world."""

    confirmed: bool

    def look(self) -> list[ClockNews]:
        """Return what is to be recorded of it."""

    def probe_says(self, time_ms: int) -> None:
        """Note a probe's own time."""


class Hub:
    """Owns the writer while it runs; `offer` and `call` may be called from any thread."""

    def __init__(self, writer: Writer, clock: LookingClock, settings: Settings) -> None:
        self.writer = writer
        self.clock = clock
        self.gatherer = Gatherer(settings, clock)
        self.deliverer: Deliverer | None = None
        self.sources: dict[str, Acknowledging] = {}
        self.committed: list[Callable[[Outcome], None]] = []
        self.pending_events: list[tuple[EventKind, dict[str, object]]] = []
        self._queue: queue.SimpleQueue[Arrival | LinkChange | Task | None] = queue.SimpleQueue()
        self._looked_s = self._asked_s = clock.monotonic_s()
        self._room = threading.Event()
        self._room.set()

    def offer(self, item: Arrival | LinkChange) -> None:
        """Take one item from a source; holds the source back for a moment where very much waits."""
        if self._queue.qsize() > _FULL:
            self._room.clear()
            self._room.wait(2.0)
        self._queue.put(item)

    def call(self, task: Task) -> None:
        """Have something done on the writer's thread, between two turns."""
        self._queue.put(task)

    def wake(self) -> None:
        """Let the loop look around now."""
        self._queue.put(None)

    def run(self, stop: threading.Event) -> None:
        """Work until told to stop, and then until the queue is empty."""
        while not stop.is_set():
            self.step(self._wait_s())
        self.step(0.0)

    def step(self, wait_s: float) -> None:
        """Wait for something to do, at most so long, and do it."""
        try:
            first = self._queue.get(timeout=wait_s) if wait_s > 0 else self._queue.get_nowait()
        except queue.Empty:
            first = None
        tasks, gathered = self._gather(first)
        self._room.set()
        self._turn(gathered)
        for task in tasks:
            task()
        self.deliver()

    def deliver(self) -> None:
        """Hand over what is due, and settle what came back."""
        if self.deliverer is None:
            return
        try:
            self.deliverer.step(self.writer.dispatch, self.clock.now_ms(), self.writer.transaction)
        except UnavailableError as fault:
            log.error("notices wait: %s", fault)

    def event(self, kind: EventKind, payload: dict[str, object]) -> None:
        """Have an event fed in the next turn (on the writer's thread)."""
        self.pending_events.append((kind, payload))

    def use(self, settings: Settings) -> None:
        """Admit readings by new settings from now on."""
        self.gatherer.use(settings)

    def protected_spans(self, now: int, after_closing_ms: int) -> list[tuple[int, int]]:
        """Return the spans of batches that lie somewhere now or were used up not longer ago than so (writer's thread)."""
        engine = self.writer.engine
        if not isinstance(engine, Engine):
            return []
        return [
            (batch.built, batch.ended if batch.ended is not None else now)
            for batch in engine.state.batches.batches.values()
            if batch.ended is None or batch.ended > now - after_closing_ms
        ]

    def _wait_s(self) -> float:
        due = self.writer.next_deadline()
        wait = LONGEST_WAIT_S if due is None else min(LONGEST_WAIT_S, self.clock.seconds_until(due))
        return max(wait, 0.001)

    def _gather(self, item: Arrival | LinkChange | Task | None) -> tuple[list[Task], Gathered]:
        gathered = Gathered()
        tasks: list[Task] = []
        until = self.clock.monotonic_s() + TURN_S
        while True:
            if isinstance(item, Arrival):
                self.gatherer.take(item, gathered)
            elif isinstance(item, LinkChange):
                gathered.links.append(item)
            elif item is not None:
                tasks.append(item)
            if gathered.messages >= TURN_MESSAGES or (tasks or self.clock.monotonic_s() >= until):
                break
            try:
                item = self._queue.get_nowait()
            except queue.Empty:
                break
        return tasks, gathered

    def _turn(self, gathered: Gathered) -> None:
        events, self.pending_events = self.pending_events, []
        events += [(EventKind.CLOCK, {"state": news.state, "by_ms": news.by_ms}) for news in self._look()]
        pause_s = 0.5
        while True:
            try:
                with self.writer.turn(self.clock.now_ms()) as turn:
                    self._feed(turn, gathered, events)
                break
            except UnavailableError as fault:
                # What came waits in memory, unacknowledged; it is fed again when the disk is back.
                log.error("%s Tried again in %.0f s.", fault, pause_s)
                threading.Event().wait(pause_s)
                pause_s = min(60.0, pause_s * 2)
        for name, tokens in gathered.tokens.items():
            source = self.sources.get(name)
            if source is not None:
                source.acknowledge(tokens)
        for tell in self.committed:
            tell(turn.outcome)

    def _feed(self, turn: Turn, gathered: Gathered, events: list[tuple[EventKind, dict[str, object]]]) -> None:
        for kind, payload in events:
            turn.event(kind, payload)
        for link in gathered.links:
            turn.event(EventKind.LINK, {"what": "source", "name": link.source, "up": link.up, "why": link.why})
        for one in gathered.set_aside:
            turn.quarantine(one.source, one.reason, one.detail, one.excerpt, one.received)
        if gathered.readings or gathered.ahead:
            turn.readings(gathered.readings, gathered.ahead)
        now_s = self.clock.monotonic_s()
        if now_s - self._asked_s >= INBOX_EVERY_S:
            self._asked_s = now_s
            if self.writer.requests.may_wait():
                turn.drain(self.gatherer.judge)
        turn.advance(self.clock.now_ms())

    def _look(self) -> list[ClockNews]:
        now_s = self.clock.monotonic_s()
        if now_s - self._looked_s < LOOK_EVERY_S:
            return []
        self._looked_s = now_s
        news = self.clock.look()
        if any(one.state == "confirmed" for one in news):
            for waiting in self.gatherer.released():
                self._queue.put(waiting)
        return news
