"""A wrong clock, the computer's or one node's, between a real broker and the journal: all is taken in and acknowledged."""

import threading
import time

import pytest
from brokers import wait_until
from daemon_process import toml
from senders import Sender

from monitor.app.console.options import load_configuration
from monitor.app.daemon.daemon import Daemon
from monitor.app.loop.clock import YardClock
from monitor.app.loop.witnesses import Timing
from monitor.journal import open_reader
from monitor.model.times import DAY_MS, MINUTE_MS

pytestmark = [pytest.mark.io, pytest.mark.timeout(60)]

QUICK = Timing(settle_s=1.0, lone_s=3.0, apart_s=0.5)
"""As in a yard, but for waiting a minute."""


class Yard:
    """A daemon on a thread whose computer's clock is off."""

    def __init__(self, folder, text, wrong_ms):
        config = folder / "heaptender.toml"
        config.write_text(text)
        clock = YardClock(lambda: time.time_ns() // 1_000_000 + wrong_ms, synchronised=lambda: None, timing=QUICK)
        self.daemon = Daemon(load_configuration(config), clock)
        self.data = folder / "data"
        self._thread = threading.Thread(target=self.daemon.run)
        self._thread.start()

    def look(self, what):
        with open_reader(self.data) as store:
            return what(store)

    def stored(self):
        return self.look(lambda store: {(row.probe, row.time) for row in store.readings(store.probes(), 0, 1 << 60)})

    def alarms(self, axis):
        found = self.look(lambda store: list(store.effects()))
        return [effect.draft.after for effect in found if effect.draft.axis == axis]

    def end(self):
        self.daemon.stop.set()
        self.daemon.hub.wake()
        self._thread.join(20)
        assert not self._thread.is_alive()


@pytest.fixture
def make(tmp_path, mosquitto):
    made = []

    def yard(version, wrong_ms=0):
        # The window that a broker has unless it is told otherwise.
        broker = mosquitto(inflight=20)
        text = toml(broker.port, piles=[("p1", 3)], bins=[("b1", 1)])
        text = text.replace('client_id = "test"', f'client_id = "test"\nversion = "{version}"')
        one = Yard(tmp_path, text, wrong_ms)
        sender = Sender(broker.port)
        made.extend((sender.close, one.end))
        wait_until(lambda: any(link.up for link in one.daemon.engine().state.links.values()), "the connection")
        return one, sender

    yield yard
    for end in made:
        end()


def send_for(sender, seconds, *nodes):
    """Let nodes send now and then: (probe, value, how far its clock is off)."""
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        for probe, value, off in nodes:
            sender.send(probe, value, int(time.time() * 1000) + off)
        time.sleep(0.1)


@pytest.mark.parametrize("version", ["3.1.1", "5"])
@pytest.mark.parametrize("wrong_ms", [-DAY_MS, DAY_MS])
def test_a_day_behind_or_ahead_loses_no_reading_and_silences_no_fire(make, version, wrong_ms):
    yard, sender = make(version, wrong_ms)
    send_for(sender, 0.5, ("p1-0", 88, 0), ("b1-0", 21, 0))
    wait_until(lambda: yard.alarms("fire")[:1] == ["unacknowledged"], "the fire to be told at once", 3)
    send_for(sender, 2.5, ("p1-0", 88, 0), ("b1-0", 21, 0))
    sender.settle()
    wait_until(lambda: len(yard.stored()) == len(sender.sent), "every reading", 5)
    assert yard.alarms("clock")[:1] == ["unacknowledged"]
    assert yard.look(lambda store: store.waiting_readings()) == 0


@pytest.mark.parametrize("version", ["3.1.1", "5"])
@pytest.mark.parametrize("fast_ms", [10 * MINUTE_MS, 365 * DAY_MS])
def test_a_node_that_is_ahead_never_shuts_out_the_others(make, version, fast_ms):
    yard, sender = make(version)
    # More than the broker's window, before anybody else says a word.
    for _ in range(60):
        sender.send("p1-2", 50, int(time.time() * 1000) + fast_ms)
        time.sleep(0.002)
    send_for(sender, 2.0, ("p1-2", 50, fast_ms), ("p1-0", 50, 0), ("p1-1", 50, 0), ("b1-0", 21, 0))
    sender.settle()
    honest = {(probe, time) for probe, time, _ in sender.sent if probe != "p1-2"}
    wait_until(lambda: yard.stored() >= honest, "the others' readings", 5)
    wait_until(lambda: yard.look(lambda store: store.waiting_readings()) == 0, "the clock to settle", 5)
    assert yard.stored() == honest
    assert sum(one.total for one in yard.look(lambda store: store.set_aside())) == len(sender.sent) - len(honest)
