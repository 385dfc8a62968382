"""Kills of the daemon mixed with stops of the broker: one that keeps its sessions loses nothing, one that does not is told."""

import signal
import time

import pytest
from brokers import wait_until
from daemon_process import DaemonProcess, toml
from senders import Sender

from monitor.journal import open_reader

pytestmark = [pytest.mark.io, pytest.mark.timeout(90)]


def stored(data):
    with open_reader(data) as store:
        return [(row.probe, row.time, row.micro) for row in store.readings(store.probes(), 0, 1 << 60)]


def test_with_a_broker_that_keeps_its_sessions_nothing_is_lost_in_the_mix(tmp_path, mosquitto):
    broker = mosquitto()
    text = toml(broker.port, bins=[("b1", 1)])
    daemon = DaemonProcess(tmp_path, text).start()
    sender = Sender(broker.port)
    past, number = int(time.time() * 1000) - 3_600_000, 0

    def send(count):
        nonlocal number
        for _ in range(count):
            sender.send("b1-0", 20.0 + number % 7 / 10, past + number)
            number += 1

    try:
        daemon.subscribed()
        for when in ("daemon first", "broker first", "both"):
            send(100)
            if when != "broker first":
                daemon.kill()
            send(100)
            broker.stop(signal.SIGTERM)
            if when == "broker first":
                daemon.kill()
            send(100)
            broker.start()
            send(100)
            daemon.start()
            send(100)
        sender.settle()
        wait_until(lambda: len(set(stored(daemon.data))) == number, "everything to be stored", 30)
        assert sorted(stored(daemon.data)) == sorted(sender.sent)
        assert "had forgotten" not in daemon.log
    finally:
        sender.close()
        daemon.close()


def test_a_broker_that_forgets_a_session_loses_what_came_meanwhile_and_is_told(tmp_path, mosquitto):
    broker = mosquitto(persistence=False)
    daemon = DaemonProcess(tmp_path, toml(broker.port, bins=[("b1", 1)])).start()
    sender = Sender(broker.port)
    past = int(time.time() * 1000) - 3_600_000
    try:
        daemon.subscribed()
        sender.send("b1-0", 20.0, past)
        wait_until(lambda: len(stored(daemon.data)) == 1, "the first reading")
        daemon.kill()
        sender.send("b1-0", 21.0, past + 1)
        sender.settle()
        # The broker has taken it, and forgets it with the session of the daemon that is away.
        broker.stop(signal.SIGTERM)
        broker.start()
        daemon.start()
        daemon.says("had forgotten this client's session")
        sender.send("b1-0", 22.0, past + 2)
        sender.settle()
        wait_until(lambda: len(stored(daemon.data)) == 2, "the third reading")
        assert [micro for _, _, micro in stored(daemon.data)] == [20_000_000, 22_000_000]
    finally:
        sender.close()
        daemon.close()
