"""The writer's loop takes arrivals in, has the engine decide, commits, acknowledges and hands notices on, all on one thread.

1. A turn gathers messages until the queue is empty, 500 messages wait, or 50 ms have passed. During a stream of messages the
   queue counts as empty only after a short pause, because a commit costs as much as many messages. If nothing came,
   nothing is due and nobody asks, there is no transaction; yet the watermark moves at least once a minute.
2. A broker's message is acknowledged only after the commit. If the disk fails, the same turn is tried again after pauses.
   Meanwhile arrivals wait in memory, and sources are held back so that memory stays bounded.
3. Input that this program cannot handle stops nothing: it is found piece by piece and set aside, and the rest goes on.
"""

import logging
import queue
import threading
import time
from collections.abc import Callable, Iterable
from typing import Protocol

from monitor.app.entries.lots_changed import ReadsBoth
from monitor.app.entries.questioning import judge
from monitor.app.loop.clock import Clock
from monitor.app.loop.clock_events import clock_events
from monitor.app.loop.daemon_log import log_outcome, log_request
from monitor.app.loop.flood import Flood
from monitor.app.loop.forecasts_heard import ForecastNews
from monitor.app.loop.gathering import Gathered, Gatherer
from monitor.app.loop.intray import Intray, Item, Task
from monitor.app.loop.loop_faults import stands
from monitor.app.loop.meanwhile import Meanwhile
from monitor.app.loop.outage import Outage
from monitor.app.loop.turns import RELEASED, FedEvent, Turns
from monitor.engine import YardSizes
from monitor.intake import Arrival, LinkChange, Token
from monitor.journal import WAITING_MAX, Judged, Outcome, Request, Tally, Writer
from monitor.model.alarm_kinds import Alarm
from monitor.model.errors import UnavailableError
from monitor.model.events import EventKind
from monitor.model.notice_rows import NoticeRow
from monitor.model.quarantine import SetAside
from monitor.model.settings import Settings
from monitor.model.times import MINUTE_MS
from monitor.outbox import Deliverer

TURN_MESSAGES = 500
TURN_S = 0.05
STREAM_MESSAGES = 8
"""This many messages in one turn are a stream, for which a short wait pays."""
STREAM_S = 0.02
INBOX_EVERY_S = 0.25
LOOK_EVERY_S = 1.0
LONGEST_WAIT_S = 0.25
WATERMARK_EVERY_MS = MINUTE_MS
STUCK_S = 60.0
"""After so many seconds without a turn the daemon does not count as alive (common practice, no published source)."""

log = logging.getLogger("heaptender")


class Acknowledging(Protocol):
    """A source as the hub needs it."""

    name: str

    def acknowledge(self, tokens: Iterable[Token]) -> int:
        """Acknowledge committed messages."""


class Hub:
    """Owns the writer while it runs. Any thread may call `offer`, `call` and `wake`."""

    def __init__(self, writer: Writer, clock: Clock, settings: Settings, stop: threading.Event | None = None) -> None:
        self.writer = writer
        self.clock = clock
        self.gatherer = Gatherer(settings, clock)
        self.deliverer: Deliverer | None = None
        self.sources: dict[str, Acknowledging] = {}
        self.committed: list[Callable[[Outcome], None]] = []
        self.clock_changed: list[Callable[[], None]] = []
        self.starved: Callable[[], None] = lambda: None
        """Called when the disk works again, if messages were turned away and wait at their brokers."""
        self.came_round: Callable[[], None] = lambda: None
        """Called on the writer's thread each time it comes round, also while it waits for a failing disk."""
        self.sizes: Callable[[], YardSizes] = YardSizes
        """Returns the sizes of the yard, with which questions compare figures; the settings do not have them."""
        self.reads_both: ReadsBoth | None = None
        """Reads the material with and without an entry that is put right, for the questions about lots."""
        self.pending_events: list[FedEvent] = []
        self._forecasts = ForecastNews()
        self._delivered_s, self._delivered_ms = clock.monotonic_s(), 0
        self._outage = Outage(writer, clock, lambda: self.gatherer.settings, lambda: self.deliverer, self.delivery_ms)
        self._doubtful = False
        self._may_wait, self._kept = True, 0
        """Whether readings may be waiting for the clock in the journal, and how many were put there since the last release."""
        self._intray = Intray()
        self.meanwhile = Meanwhile(
            self._outage,
            self._intray,
            self.gatherer.understood,
            self._is_ending,
            self._feed_later,
            self._tell_round,
        )
        self._turns = Turns(writer, self._now_ms, stop if stop is not None else threading.Event(), self.meanwhile)
        self._looked_s = self._asked_s = self._stepped_s = clock.monotonic_s()
        self._flood = Flood(self._looked_s)
        self._asks = True
        self._deliver_after_s = 0.0
        self._deliver_pause_s = 0.0

    def offer(self, item: Arrival | LinkChange) -> None:
        """Take one item from a source; if very much waits, hold the source back for a moment.

        Raises:
            UnavailableError: Far too much waits (the disk has been full for long); a broker keeps the message.
        """
        self._intray.offer(item)

    def call(self, task: Task) -> None:
        """Have a task done on the writer's thread, between two turns."""
        self._intray.put(task)

    def wake(self) -> None:
        """Make the loop look for work now."""
        self._intray.put(None)

    def stuck_s(self) -> float:
        """Return how long ago, in seconds, the loop last came round: long if the disk fails. Any thread may call it."""
        return self.clock.monotonic_s() - self._stepped_s

    def run(self, stop: threading.Event) -> None:
        """Work until `stop` is set.

        Raises:
            UnavailableError: `stop` was set while the disk failed; uncommitted messages are not acknowledged.
        """
        self._turns.stop = stop
        while not stop.is_set():
            self.step(self._wait_s())

    def flush(self, limit_s: float = 1.0) -> None:
        """Take in everything that waits, for at most `limit_s` seconds; for the writer's thread, also within a task."""
        until = self.clock.monotonic_s() + limit_s
        self.step(0.0)
        while self._intray.waiting() and self.clock.monotonic_s() < until:
            self.step(0.0)

    def step(self, wait_s: float) -> None:
        """Wait at most `wait_s` seconds for something to do, and do it."""
        try:
            first = self._intray.next(wait_s)
        except queue.Empty:
            first = None
        tasks, gathered = self._gather(first)
        self._turn(gathered)
        self._intray.make_room()
        self._release()
        self._answer_inbox()
        for task in tasks:
            self._do(task)
        self.deliver()
        self._stepped_s = self.clock.monotonic_s()
        self.came_round()

    def deliver(self) -> None:
        """Hand over letters that are due and settle the answers of channels; if that fails, try again after a pause."""
        now_s = self.clock.monotonic_s()
        if self.deliverer is None or now_s < self._deliver_after_s:
            return
        told = len(self.pending_events)
        try:
            self.deliverer.step(self.writer.dispatch, self.delivery_ms(), self.writer.transaction)
            self._deliver_pause_s = 0.0
        except Exception as fault:  # noqa: BLE001 - readings must go on being taken in, whatever fails here
            # The next try reports the same changes of links again.
            del self.pending_events[told:]
            # If the disk is at fault, the next turn will find out and tell people.
            self._doubtful = self._doubtful or isinstance(fault, UnavailableError)
            self._deliver_pause_s = min(60.0, max(0.5, self._deliver_pause_s * 2))
            self._deliver_after_s = now_s + self._deliver_pause_s
            log.error("Notices wait: %s", _said(fault))

    def delivery_ms(self) -> int:
        """Return the time by which letters go out and are tried again, UTC ms; for the writer's thread.

        After a wrong clock was put back, the record is ahead, and its instants stand until the clock has caught up. Letters
        must not stand with them: so this time begins where the record is, and runs on.
        """
        now_s, before_s = self.clock.monotonic_s(), self._delivered_s
        ran = self._delivered_ms + int((now_s - before_s) * 1000)
        self._delivered_s = now_s
        self._delivered_ms = max(self.clock.now_ms(), self.writer.engine.last, ran)
        return self._delivered_ms

    def told(self, row: NoticeRow) -> None:
        """Note that a message was accepted by its channel."""
        self._outage.told(row)

    def event(self, kind: EventKind, payload: dict[str, object]) -> None:
        """Have an event fed in the next turn; for the writer's thread."""
        self.pending_events.append((kind, payload))

    def forecast(self, entry: dict[str, object]) -> None:
        """Have a forecast of the air fed as an entry of the log, if it is news; for the writer's thread."""
        if self._forecasts.is_news(entry):
            self.event(EventKind.WORK, entry)

    def use(self, settings: Settings) -> None:
        """Admit readings by new settings from now on."""
        self.gatherer.use(settings)

    def _now_ms(self) -> int:
        # Read anew each time, because the demo changes its clock between the import and the show.
        return self.clock.now_ms()

    def _wait_s(self) -> float:
        if self.pending_events or self._asks:
            return 0.0
        due = self.writer.next_deadline()
        if due is None or due <= self.writer.engine.last:
            return LONGEST_WAIT_S
        return max(0.001, min(LONGEST_WAIT_S, self.clock.seconds_until(due)))

    def _gather(self, item: Item) -> tuple[list[Task], Gathered]:
        gathered = Gathered()
        tasks: list[Task] = []
        until = self.clock.monotonic_s() + TURN_S
        lingered = False
        while True:
            if isinstance(item, Arrival):
                self.gatherer.take(item, gathered)
            elif isinstance(item, LinkChange):
                gathered.links.append(item)
            elif item is not None:
                tasks.append(item)
            if gathered.messages >= TURN_MESSAGES or tasks or self.clock.monotonic_s() >= until:
                break
            try:
                item = self._intray.next(0.0)
            except queue.Empty:
                if gathered.messages < STREAM_MESSAGES or lingered:
                    break
                lingered = True
                time.sleep(STREAM_S)
                item = None
        for lost in self._intray.take_lost():
            gathered.count_aside(Tally(lost.source, SetAside.NO_ROOM, lost.many, lost.latest))
        return tasks, gathered

    def _turn(self, gathered: Gathered) -> None:
        events, self.pending_events = self.pending_events, []
        if all(kind is not EventKind.STARTED for kind, _ in events):
            # The clock's events come first, because time may have leapt forward.
            events = self._look() + events + self._flood_news(gathered)
        events += [(EventKind.WORK, one) for one in gathered.forecasts if self._forecasts.is_news(one)]
        if not events and not gathered and not self._doubtful and not self._is_due():
            return
        self._doubtful = False
        self._kept += len(gathered.waiting)
        self._may_wait = self._may_wait or bool(gathered.waiting)
        for outcome in self._turns.take(gathered, events):
            self._tell(outcome)
        for link in gathered.links:
            level = logging.INFO if link.up else logging.WARNING
            log.log(level, "%s is %s: %s", link.source, "up" if link.up else "down", link.why)
        for name, tokens in gathered.tokens.items():
            source = self.sources.get(name)
            if source is not None:
                source.acknowledge(tokens)
        if self._intray.turned_away and not self._intray.waiting():
            self._intray.turned_away = False
            self._do(self.starved)

    def _flood_news(self, gathered: Gathered) -> list[FedEvent]:
        lost = sum(one.total for one in gathered.counted_aside.values() if one.reason is SetAside.NO_ROOM)
        aside = len(gathered.set_aside) + sum(one.total for one in gathered.counted_aside.values()) - lost
        if self._outage.explains_losses():
            lost = 0
        told = stands(self.writer.engine, Alarm.FLOOD)
        many = self._flood.total
        news = self._flood.look(self.clock.monotonic_s(), aside, lost, told=told)
        for _, payload in news:
            if payload["up"]:
                log.info("The flood of messages is over; %d were set aside or lost.", many)
            else:
                log.warning("Messages flood in: %s.", payload["why"])
        return news

    def _answer_inbox(self) -> None:
        now_s = self.clock.monotonic_s()
        if not self._asks and now_s - self._asked_s < INBOX_EVERY_S:
            return
        self._asked_s = now_s
        try:
            self._asks = self.writer.requests.may_wait() or self._asks
        except UnavailableError as fault:
            log.error("Requests wait: %s", fault)
            self._doubtful = True  # the next turn finds out whether the disk fails, and tells people
            return
        if self._asks:
            outcome, more = self._turns.answer(self._judge)
            self._asks = more
            self._tell(outcome)

    def _is_ending(self) -> bool:
        return self._turns.stop.is_set()

    def _tell_round(self) -> None:
        # Looked up at each call: whoever listens comes after this hub was made.
        self.came_round()

    def _feed_later(self, events: list[FedEvent]) -> None:
        self.pending_events += events

    def _judge(self, request: Request) -> Judged:
        settings, now = self.gatherer.settings, self.clock.now_ms()
        sizes, again = self.sizes(), request.again
        judged = judge(
            self.writer, settings, now, request.kind, request.payload, again=again, sizes=sizes,
            reads_both=self.reads_both,
        )  # fmt: skip
        log_request(request, judged.refusal, judged.question)
        return judged

    def _is_due(self) -> bool:
        now, engine = self.clock.now_ms(), self.writer.engine
        due = self.writer.next_deadline()
        return (due is not None and engine.last < due <= now) or now - engine.last >= WATERMARK_EVERY_MS

    def _look(self) -> list[FedEvent]:
        now_s = self.clock.monotonic_s()
        if now_s - self._looked_s < LOOK_EVERY_S:
            return []
        self._looked_s = now_s
        before, news = self.writer.engine.last, self.clock.look()
        if news:
            for tell in self.clock_changed:
                self._do(tell)
        return clock_events(news, self.writer.engine, self.clock, before)

    def _release(self) -> None:
        """Take in the readings that wait for the clock, once it is known or too many wait."""
        if not self._may_wait or not (self.clock.confirmed or self._kept > WAITING_MAX):
            return
        outcomes, more = self._turns.release(lambda waited: self.gatherer.judged(waited, self.clock.now_ms()))
        for outcome in outcomes:
            self._tell(outcome)
        self._may_wait = more or not self.clock.confirmed
        self._kept = max(0, self._kept - RELEASED) if more else 0

    def _tell(self, outcome: Outcome) -> None:
        log_outcome(outcome)
        try:
            self._outage.not_again(outcome)
        except UnavailableError as fault:
            log.error("Some are told again what they know: %s", fault)
        for tell in self.committed:
            try:
                tell(outcome)
            except Exception as fault:  # noqa: BLE001 - a listener must not stop the writer
                log.error("A listener failed: %s", _said(fault))

    def _do(self, task: Task) -> None:
        try:
            task()
        except UnavailableError as fault:
            log.error("%s", fault)
        except Exception as fault:  # noqa: BLE001 - a side task must not stop the readings
            log.error("A task failed: %s", _said(fault))


def _said(fault: Exception) -> str:
    return str(fault) if isinstance(fault, UnavailableError) else f"{type(fault).__name__}: {fault}"
