"""The demo: simulates a made-up yard and sends it line by line through a pseudo-terminal into the real serial source.

From the serial port on everything is real, under a scaled clock: the source, the writer and its journal, the engine, the
outbox. The time before the weekend is imported first, so that the batches have their ages and material its past.
"""

import json
import os
import threading
import time
import tty
from collections import deque
from collections.abc import Callable, Iterator
from functools import partial
from itertools import groupby
from pathlib import Path

from monitor.app.daemon.daemon import Daemon
from monitor.app.loop.clock import ScaledClock
from monitor.configuration import Configuration, canonical_settings, load_text
from monitor.journal import Outcome
from monitor.model.events import EventKind
from monitor.model.readings import Reading
from monitor.model.times import DAY_MS, MINUTE_MS
from monitor.model.units import to_micro
from monitor.proof.rules import rule_names
from monitor.recordings import work_payload
from monitor.simulate import (
    ANSWERS,
    HISTORY_START,
    KEEPER,
    WEEKEND_END,
    WEEKEND_START,
    Sample,
    Yard,
    rounds_by_hand,
    whole_log,
    wire_line,
)

HISTORY_STEP_S = 1_800
WEEKEND_STEP_S = 600
WEEKEND_STEP_MS = WEEKEND_STEP_S * 1000
ALMOST_STILL = 0.001
"""The pace of the clock until the weekend begins."""
LINE_OPENS_S = 20.0
"""The longest wait, in seconds, for the serial line to open."""
STEPS_BEHIND = 3
"""How many steps of samples the daemon may have to take in yet before the next is sent: a busy computer slows the pace."""
AHEAD_MS = 15 * MINUTE_MS
"""How far time runs past the sample that is due, at most: together with those steps, less than a probe may be silent."""
BEHIND_S = 5.0
"""The longest wait, in seconds, for the daemon to take in the samples sent so far."""
STAY_SCALE = 600
"""The pace of a yard that lives on after the weekend: ten minutes in a second, a day in less than three minutes."""
STAY_END = WEEKEND_END + 365 * DAY_MS
"""When a yard that lives on ends at the latest, UTC ms."""

Progress = Callable[[int, int], None]


class Demo:
    """One run of the demo, in its own folder."""

    def __init__(self, folder: Path, seconds: float, shown: Callable[[Outcome], None], seed: int = 1) -> None:
        """Write the configuration and set up the yard.

        Args:
            folder: An existing folder for configuration and journal.
            seconds: How long the weekend takes, in real seconds.
            shown: Called with every commit, on the writer's thread.
            seed: Seed of the made-up world.
        """
        self._master, slave = os.openpty()
        tty.setraw(slave)
        # The demo keeps the slave end open too, so that the line does not hang up when the source opens and closes it.
        self._slave = slave
        text = Yard.settings(url=os.ttyname(slave), data="data")
        self.file = folder / "heaptender.toml"
        self.file.write_text(text, encoding="utf-8")
        self.configuration: Configuration = load_text(text, self.file, {}, rules=rule_names())
        self.yard = Yard(seed)
        self._scale = (WEEKEND_END - WEEKEND_START) / 1000 / seconds
        self._shown = shown
        self._stay: Callable[[str], None] | None = None
        self._sent = self._taken = 0
        """Samples sent down the line, and taken in by the daemon."""
        self.daemon: Daemon | None = None
        self.away = ""
        self.opened: Callable[[str], None] = lambda _address: None
        """Called with the page's address when it is served, or with "" if it could not be."""

    def prepare(self, progress: Progress) -> None:
        """Simulate and import the time before the weekend."""
        daemon = self.daemon = Daemon(self.configuration, ScaledClock(HISTORY_START - 1, 1e-9), any_port=True)
        writer = daemon.writer
        settings = json.loads(canonical_settings(self.configuration.settings))
        total = WEEKEND_START - HISTORY_START
        samples = self.yard.stream(HISTORY_START, WEEKEND_START, HISTORY_STEP_S)
        rows: list[Reading] = []
        for day, some in groupby(samples, key=lambda sample: sample.time // DAY_MS):
            rows += [_reading(sample) for sample in some]
            progress(day * DAY_MS - HISTORY_START, total)
        works, by_hand = whole_log(self.yard.work(HISTORY_START, WEEKEND_START)), list(rounds_by_hand())
        early = [work for work in works if work.time <= by_hand[-1].time]
        with writer.turn(WEEKEND_START - 60_000) as turn:
            turn.event(EventKind.STARTED, {"down_since": None})
            # In the order in which it happened: the autumn's heap was read by hand, and had gone when the probes came.
            turn.event(EventKind.SETTINGS, {"settings": {**settings, "probes": {}}})
            turn.event(EventKind.IMPORTED, {"work": [work_payload(work) for work in early]})
            turn.event(EventKind.IMPORTED, {"rows": by_hand, "by": KEEPER})
            turn.event(EventKind.SETTINGS, {"settings": settings})
            turn.event(EventKind.IMPORTED, {"work": [work_payload(work) for work in works[len(early) :]]})
            turn.event(EventKind.IMPORTED, {"rows": rows})
        progress(total, total)

    def run(self, stay: Callable[[str], None] | None = None) -> None:
        """Live through the weekend; afterwards `away` holds the text *while you were away*.

        Args:
            stay: If given, it is called with that text when the weekend is over, and the yard lives on until it is stopped.
        """
        self._stay = stay
        daemon = self.daemon
        assert daemon is not None
        clock = daemon.clock = daemon.hub.clock = ScaledClock(WEEKEND_START - 1000, ALMOST_STILL)
        daemon.hub.committed += [self._shown, self._count]
        feeder = threading.Thread(target=self._feed, args=(daemon, clock), name="nodes", daemon=True)
        try:
            daemon.begin()
            self.opened(daemon.page.address)
            feeder.start()
            daemon.hub.run(daemon.stop)
            self.away = daemon.engine().while_you_were_away(WEEKEND_END, WEEKEND_START)
        finally:
            daemon.stop.set()
            daemon.end()
            feeder.join(2.0)
            os.close(self._master)
            os.close(self._slave)

    def _set_off(self, daemon: Daemon, clock: ScaledClock) -> None:
        """Let time pass once the serial line is open; otherwise a slow computer would miss the first hours."""
        latest = time.monotonic() + LINE_OPENS_S
        while time.monotonic() < latest and not any(one.up for one in list(daemon.engine().state.links.values())):
            if daemon.stop.wait(0.02):
                return
        clock.go_on(self._scale)
        daemon.hub.wake()

    def _feed(self, daemon: Daemon, clock: ScaledClock) -> None:
        """Send the nodes' samples when they are due, and log the work that people did."""
        self._set_off(daemon, clock)
        doings = iter(self._doings())
        doing = next(doings, None)
        over = False
        step, sent = 0, deque([0], maxlen=STEPS_BEHIND)
        for sample in self._samples():
            if sample.time >= WEEKEND_END and not over:
                over = True
                self._sleep_until(daemon, WEEKEND_END)
                daemon.hub.call(partial(self._tell_away, daemon))
            if sample.time // WEEKEND_STEP_MS > step:
                self._wait_for_daemon(daemon, sent[0])
                step = sample.time // WEEKEND_STEP_MS
                sent.append(self._sent)
            while doing is not None and doing[0] <= sample.time:
                at, kind, payload = doing
                self._sleep_until(daemon, at)
                daemon.hub.call(partial(daemon.hub.event, kind, payload))
                daemon.hub.wake()
                doing = next(doings, None)
            self._sleep_until(daemon, sample.time)
            if daemon.stop.is_set():
                return
            os.write(self._master, wire_line(sample))
            self._sent += 1
        self._sleep_until(daemon, STAY_END if self._stay is not None else WEEKEND_END)
        daemon.stop.set()
        daemon.hub.wake()

    def _doings(self) -> list[tuple[int, EventKind, dict[str, object]]]:
        """Return the entries and answers of the weekend, in the order of time (UTC ms)."""
        found: list[tuple[int, EventKind, dict[str, object]]] = [
            (work.time, EventKind.WORK, work_payload(work)) for work in self.yard.work(WEEKEND_START, WEEKEND_END)
        ]
        for at, alarm, answer, by in ANSWERS:
            found.append((at, EventKind.ANSWER, {"alarm": alarm, "answer": answer, "by": by}))
        return sorted(found, key=lambda one: one[0])

    def _count(self, outcome: Outcome) -> None:
        self._taken += sum(outcome.counts())

    def _wait_for_daemon(self, daemon: Daemon, sent: int) -> None:
        latest = time.monotonic() + BEHIND_S
        while self._taken < sent and time.monotonic() < latest and not daemon.stop.is_set():
            daemon.stop.wait(0.005)

    def _samples(self) -> Iterator[Sample]:
        end = STAY_END if self._stay is not None else WEEKEND_END
        return self.yard.stream(WEEKEND_START, end, WEEKEND_STEP_S)

    def _tell_away(self, daemon: Daemon) -> None:
        if self._stay is not None:
            # A person looks around now, and days that pass in a second would be of no use.
            if isinstance(daemon.clock, ScaledClock):
                daemon.clock.go_on(min(self._scale, STAY_SCALE))
            self._stay(daemon.engine().while_you_were_away(WEEKEND_END, WEEKEND_START))

    def _sleep_until(self, daemon: Daemon, instant_ms: int) -> None:
        if isinstance(daemon.clock, ScaledClock):
            daemon.clock.hold_at(instant_ms + AHEAD_MS)
        # In short steps, because the pace may change meanwhile.
        while (wait_s := daemon.clock.seconds_until(instant_ms)) > 0 and not daemon.stop.is_set():
            daemon.stop.wait(min(wait_s, 0.2))


def _reading(sample: Sample) -> Reading:
    return Reading(sample.time, sample.probe, to_micro(sample.value), sample.unit)
