"""What is away is told once, and once when it is back; the mirror misses nothing over it. The daemon runs in this process."""

import threading
import time
from collections import Counter

import pytest
from brokers import wait_until
from daemon_process import DaemonProcess, toml
from metrics_server import MetricsServer
from senders import Sender

from monitor.app.console.options import load_configuration
from monitor.app.daemon.daemon import Daemon
from monitor.app.loop.clock import ScaledClock
from monitor.journal import Inbox, open_reader
from monitor.model.events import EventKind
from monitor.model.times import MINUTE_MS

pytestmark = [pytest.mark.io, pytest.mark.timeout(120), pytest.mark.filterwarnings("ignore::DeprecationWarning")]


class InProcess:
    """A daemon on a thread, under a clock that runs `scale` times as fast."""

    def __init__(self, folder, text, scale):
        config = folder / "heaptender.toml"
        config.write_text(text)
        self.daemon = Daemon(load_configuration(config), ScaledClock(int(time.time() * 1000), scale))
        self.data = folder / "data"
        self._thread = threading.Thread(target=self.daemon.run)
        self._thread.start()

    def effects(self, axis):
        with open_reader(self.data) as store:
            return [(effect.at, effect.draft) for effect in store.effects() if effect.draft.axis == axis]

    def events(self, kind):
        with open_reader(self.data) as store:
            return [event for event in store.events() if event.kind.value == kind]

    def end(self):
        self.daemon.stop.set()
        self.daemon.hub.wake()
        self._thread.join(20)
        assert not self._thread.is_alive()


def test_a_broker_that_goes_is_told_once_and_once_when_it_is_back(tmp_path, mosquitto):
    broker = mosquitto()
    yard = InProcess(tmp_path, toml(broker.port, bins=[("b1", 1)]), 200)
    try:
        wait_until(lambda: [one.payload["up"] for one in yard.events("link")] == [True], "the first connection")
        broker.stop()
        wait_until(lambda: len(yard.effects("link")) == 1, "the alarm")
        went = yard.events("link")[1]
        assert went.payload["up"] is False
        at, alarm = yard.effects("link")[0]
        assert at == went.at + 5 * MINUTE_MS
        assert (alarm.after, alarm.probe, alarm.since) == ("unacknowledged", "mqtt", went.at)
        # Ten more minutes of trying to connect tell nothing new.
        wait_until(lambda: yard.daemon.clock.now_ms() > at + 10 * MINUTE_MS, "time to pass")
        assert len(yard.events("link")) == 2
        assert len(yard.effects("link")) == 1
        broker.start()
        wait_until(lambda: len(yard.effects("link")) == 2, "the end of the alarm")
        assert [one.payload["up"] for one in yard.events("link")] == [True, False, True]
        assert yard.effects("link")[1][1].after in ("returned unacknowledged", "normal")
    finally:
        yard.end()


def test_a_broker_away_for_a_moment_is_told_nobody(tmp_path, mosquitto):
    broker = mosquitto()
    yard = InProcess(tmp_path, toml(broker.port, bins=[("b1", 1)]), 20)
    try:
        wait_until(lambda: len(yard.events("link")) == 1, "the first connection")
        broker.stop()
        wait_until(lambda: len(yard.events("link")) == 2, "the loss")
        broker.start()
        wait_until(lambda: len(yard.events("link")) == 3, "the return")
        back = yard.events("link")[2].at
        assert back < yard.events("link")[1].at + 5 * MINUTE_MS
        wait_until(lambda: yard.daemon.clock.now_ms() > back + 6 * MINUTE_MS, "time to pass", 40)
        assert yard.effects("link") == []
    finally:
        yard.end()


def test_the_mirror_has_everything_once_after_an_outage(tmp_path, mosquitto):
    broker, server = mosquitto(), MetricsServer(tmp_path / "metrics").start()
    more = f'[mirror]\nurl = "{server.url}"'
    daemon = DaemonProcess(tmp_path, toml(broker.port, bins=[("b1", 1), ("b2", 1)], more=more)).start()
    sender = Sender(broker.port)
    now = int(time.time() * 1000) - 3_600_000

    def send(first, count):
        for number in range(first, first + count):
            sender.send(f"b{number % 2 + 1}-0", 20.0 + number % 9 / 10, now + number * 1000)

    def mirrored():
        return Counter((probe, when, round(value * 1_000_000)) for probe, when, value in server.points("raw"))

    try:
        daemon.subscribed()
        send(0, 200)
        wait_until(lambda: mirrored().keys() == set(sender.sent), "the first readings in the mirror")
        server.stop()
        send(200, 400)
        sender.settle()

        def told():
            with open_reader(daemon.data) as store:
                links = [event.payload for event in store.events() if event.kind.value == "link"]
            return [one["up"] for one in links if one["what"] == "mirror"]

        wait_until(lambda: told() == [False], "the outage to be recorded")
        # It is killed while the server is away, and knows from its record where the mirror was.
        daemon.kill()
        daemon.start().subscribed()
        send(600, 100)
        server.start()
        wait_until(lambda: mirrored().keys() == set(sender.sent), "everything in the mirror", 60)
        wait_until(lambda: told() == [False, True], "the return to be recorded", 40)
        assert max(mirrored().values()) == 1
        values = {(probe, when, round(value * 1_000_000)) for probe, when, value in server.points("value")}
        assert values == set(sender.sent)
        assert {flag for _, _, flag in server.points("flag")} == {1}
        assert daemon.end()[0] == 0
    finally:
        sender.close()
        daemon.close()
        server.stop()


def test_a_channel_that_refuses_is_told_and_its_return_after_a_restart_too(tmp_path):
    text = toml(None, bins=[("b1", 1)], channel="json://127.0.0.1:9/")
    folder = tmp_path
    yard = InProcess(folder, text, 400)
    try:
        rows = [[yard.daemon.clock.now_ms() + n, "b1-0", c * 1_000_000, "Cel"] for n, c in enumerate((21, 36, 36))]
        inbox = Inbox(yard.data)
        assert inbox.await_answer(inbox.submit(EventKind.READINGS, {"rows": rows, "ahead": []}), 10).at
        wait_until(lambda: [one.payload["up"] for one in yard.events("link")] == [False], "the channel to be down")
    finally:
        yard.end()
    # It is no longer configured at the next start: its alarm must not stay for ever.
    yard = InProcess(folder, toml(None, bins=[("b1", 1)]), 400)
    try:
        wait_until(lambda: [one.payload["up"] for one in yard.events("link")] == [False, True], "its end")
        assert yard.events("link")[1].payload["why"] == "no longer configured"
    finally:
        yard.end()
