"""The whole daemon between real ends: broker or port in, mail or web hook out, and people's words through the inbox."""

import json
import os
import resource
import signal
import socket
import subprocess
import sys
import threading
import time
import tty
from collections import Counter
from pathlib import Path

import pytest
from brokers import wait_until
from daemon_process import DaemonProcess, toml
from senders import Sender
from sinks import Mailbox, WebHook

from monitor.app.connections.deliveries import publisher
from monitor.codec import encode_line
from monitor.intake import MqttConnection
from monitor.journal import Inbox, open_reader, verify_chain
from monitor.model.events import EventKind
from monitor.outbox import DeliveryError

pytestmark = [pytest.mark.io, pytest.mark.timeout(120)]


@pytest.fixture
def hook():
    hook = WebHook()
    yield hook
    hook.close()


@pytest.fixture
def run(tmp_path):
    """Start a daemon on a configuration; keywords as `DaemonProcess`."""
    started = []

    def start(text, **more):
        folder = tmp_path / f"yard{len(started)}"
        folder.mkdir()
        started.append(DaemonProcess(folder, text, **more))
        return started[-1].start()

    yield start
    for daemon in started:
        daemon.close()


def stored(data):
    """Every stored reading as (probe, time, micro), as often as it is stored."""
    with open_reader(data) as store:
        return Counter((row.probe, row.time, row.micro) for row in store.readings(store.probes(), 0, 1 << 60))


def kinds(data):
    with open_reader(data) as store:
        return [event.kind.value for event in store.events()]


def alarms(data, axis):
    with open_reader(data) as store:
        return [effect.draft.after for effect in store.effects() if effect.draft.axis == axis]


def test_a_reading_from_the_broker_becomes_a_mail(run, mosquitto, free_port):
    broker, mail = mosquitto(), Mailbox(free_port())
    daemon = run(toml(broker.port, bins=[("b1", 1)], channel=mail.url))
    assert daemon.subscribed() < 20
    sender = Sender(broker.port)
    try:
        sender.send("b1-0", 21.0)
        sender.send("b1-0", 36.5, int(time.time() * 1000) + 10)
        sender.send("b1-0", 36.6, int(time.time() * 1000) + 20)
        wait_until(lambda: mail.letters, "a mail")
        subject, text = mail.letters[0]
        assert "Place b1" in subject
        assert "WORMS IN DANGER" in text
        assert "36 °C" in text or "37 °C" in text
        assert "Tern Hollow allotments, notice" in text
        daemon.says("was accepted.")
        assert " UTC WARNING Alarm b1/worms-in-danger: new." in daemon.log
        daemon.end()
        assert "Ended by SIGTERM" in daemon.log
    finally:
        sender.close()
        mail.close()


def test_asked_to_read_its_file_again_while_it_starts_it_goes_on(run):
    daemon = run(toml(None, bins=[("b1", 1)]))

    def minds():
        lines = Path(f"/proc/{daemon.process.pid}/status").read_text().splitlines()
        masks = [int(line.split()[1], 16) for line in lines if line.startswith(("SigIgn", "SigCgt"))]
        return any(mask >> (signal.SIGHUP - 1) & 1 for mask in masks)

    wait_until(minds, "it to mind the signal")
    while "The new configuration is in force" not in daemon.log:
        daemon.process.send_signal(signal.SIGHUP)
        time.sleep(0.1)
        assert daemon.process.poll() is None, daemon.log
    assert daemon.end()[0] == 0


def test_a_reading_from_a_port_becomes_a_message_and_a_person_answers(run, hook):
    end, other = os.openpty()
    tty.setraw(other)
    more = f'[serial.shed]\nurl = "{os.ttyname(other)}"\nform = "lines"'
    daemon = run(toml(None, bins=[("b1", 1)], piles=[("p1", 1)], channel=hook.url, more=more))
    daemon.says("shed is up")
    now = int(time.time() * 1000)
    for number, celsius in enumerate((21, 36, 36)):
        os.write(end, encode_line("b1-0", "temperature", celsius * 1_000_000, "Cel", now + number * 10))
    wait_until(lambda: hook.got, "a message")
    assert "WORMS IN DANGER" in hook.got[0][3]

    inbox = Inbox(daemon.data)
    hand = {"rows": [[now, "hand:p1", 57_000_000, "Cel"]], "ahead": []}
    answer = {"alarm": "b1/worms-in-danger", "answer": "seen", "by": "Ann"}
    done = [inbox.submit(EventKind.READINGS, hand), inbox.submit(EventKind.ANSWER, answer)]
    refused = inbox.submit(EventKind.WORK, {"time": now, "place": "nowhere", "kind": "turned"})
    # What this program cannot take in at all is refused by itself, and stops neither the others nor the daemon.
    broken = [
        inbox.submit(EventKind.CLOCK, {}),
        inbox.submit(EventKind.SETTINGS, {"settings": 7}),
        inbox.submit(EventKind.CORRECTION, {"of": 1, "work": 7}),
    ]
    later = inbox.submit(EventKind.WORK, {"time": now, "place": "p1", "kind": "turned", "by": "Ann"}, again=True)
    assert all(inbox.await_answer(one, 10).at for one in done)
    assert "nowhere" in inbox.await_answer(refused, 10).refusal
    assert all("not understood" in inbox.await_answer(one, 10).refusal for one in broken)
    assert inbox.await_answer(later, 10).at
    wait_until(lambda: alarms(daemon.data, "worms-in-danger")[-1] == "acknowledged", "the answer to count")
    assert ("hand:p1", now, 57_000_000) in stored(daemon.data)
    assert daemon.end()[0] == 0
    with open_reader(daemon.data) as store:
        assert verify_chain(store) == []
    os.close(end)
    os.close(other)


def test_the_end_takes_everything_in_and_is_recorded(run, mosquitto):
    broker = mosquitto()
    daemon = run(toml(broker.port, bins=[("b1", 1)]))
    daemon.subscribed()
    sender, stop = Sender(broker.port), threading.Event()
    now = int(time.time() * 1000)

    def publish():
        number = 0
        while not stop.is_set():
            sender.send("b1-0", 20.0, now + number)
            number += 1
            time.sleep(0.002)

    thread = threading.Thread(target=publish)
    thread.start()
    time.sleep(1.0)
    code, seconds = daemon.end()
    stop.set()
    thread.join()
    assert code == 0, daemon.log
    print(f"ended within {seconds:.2f} s")
    assert kinds(daemon.data)[-1] == "stopped"
    before = sum(stored(daemon.data).values())
    assert before > 100
    daemon.start().subscribed()
    sender.settle()
    wait_until(lambda: stored(daemon.data).keys() >= set(sender.sent), "the rest")
    assert max(stored(daemon.data).values()) == 1
    # What was committed before the end was acknowledged: the broker did not send it again.
    with open_reader(daemon.data) as store:
        at = next(event.at for event in store.events() if event.kind is EventKind.STOPPED)
        again = sum(len(event.payload["rows"]) for event in store.events(at) if event.kind is EventKind.READINGS)
    assert again == len(sender.sent) - before
    sender.close()


def test_a_good_file_is_taken_while_running_and_a_bad_one_is_refused(run, mosquitto):
    broker = mosquitto()
    daemon = run(toml(broker.port, bins=[("b1", 1)]))
    daemon.subscribed()
    daemon.config.write_text("[site]\nnmae = 7\n")
    daemon.process.send_signal(1)
    daemon.says("The new configuration is refused; the old one stays in force.")
    assert "nmae" in daemon.log
    sender = Sender(broker.port)
    now = int(time.time() * 1000)
    sender.send("b1-0", 20.0, now)
    wait_until(lambda: ("b1-0", now, 20_000_000) in stored(daemon.data), "a reading under the old file")
    daemon.config.write_text(toml(broker.port, bins=[("b1", 1), ("b2", 1)], client="other"))
    daemon.process.send_signal(1)
    daemon.says("The new configuration is in force.")
    wait_until(lambda: daemon.log.count("mqtt is up") == 2, "the broker under another name")
    sender.send("b2-0", 20.0, now)
    wait_until(lambda: ("b2-0", now, 20_000_000) in stored(daemon.data), "a reading under the new file")
    assert kinds(daemon.data).count("settings") == 2
    sender.close()
    assert daemon.end()[0] == 0


def test_a_second_daemon_is_refused_in_one_sentence(run, mosquitto):
    daemon = run(toml(mosquitto().port, bins=[("b1", 1)]))
    daemon.subscribed()
    command = [sys.executable, "-m", "monitor", "run", "--config", str(daemon.config)]
    second = subprocess.run(command, capture_output=True, text=True, timeout=30)
    assert second.returncode == 3
    assert second.stderr.count("\n") == 1
    assert f"(process {daemon.process.pid}) already holds the data folder" in second.stderr
    assert daemon.process.poll() is None


def test_nothing_that_is_away_stops_it_nor_its_end(run, free_port, hook):
    # A broker that takes the connection and says nothing; a port that is not there; a mirror and a hook that refuse.
    with socket.create_server(("127.0.0.1", 0)) as silent:
        away = f"http://127.0.0.1:{free_port()}"
        more = (
            f'[serial.shed]\nurl = "/dev/nowhere"\n[mirror]\nurl = "{away}"\n[heartbeat]\nurl = "{away}"\nevery = "10s"'
        )
        text = toml(silent.getsockname()[1], bins=[("b1", 1)], channel=f"json://127.0.0.1:{free_port()}/", more=more)
        daemon = run(text)
        daemon.says("shed is down")
        inbox = Inbox(daemon.data)
        now = int(time.time() * 1000)
        rows = [[now + n * 10, "b1-0", celsius * 1_000_000, "Cel"] for n, celsius in enumerate((21, 36, 36))]
        assert inbox.await_answer(inbox.submit(EventKind.READINGS, {"rows": rows, "ahead": []}), 10).at
        wait_until(lambda: alarms(daemon.data, "worms-in-danger") == ["unacknowledged"], "the alarm")
        with open_reader(daemon.data) as store:
            wait_until(lambda: [row.why for row in store.notices() if row.why], "the hook's refusal to be noted")
        daemon.says("heartbeat")
        code, seconds = daemon.end()
        assert code == 0, daemon.log
        print(f"ended within {seconds:.2f} s")
        assert "Traceback" not in daemon.log


def test_a_full_disk_loses_nothing(run, mosquitto):
    broker = mosquitto()
    # No file may grow beyond this: to the journal it is a disk that is full.
    daemon = run(toml(broker.port, bins=[("b1", 1)]), file_limit=400_000)
    daemon.subscribed()
    sender = Sender(broker.port)
    now, number = int(time.time() * 1000) - 600_000, 0
    while "Tried again in" not in daemon.log:
        assert number < 100_000, "the limit was never reached"
        for _ in range(50):
            sender.send("b1-0", 20.0 + number % 7 / 10, now + number)
            number += 1
        time.sleep(0.02)
    for _ in range(500):
        sender.send("b1-0", 20.0, now + number)
        number += 1
    sender.settle()
    assert daemon.process.poll() is None
    assert len(stored(daemon.data)) < number
    unlimited = (resource.RLIM_INFINITY, resource.RLIM_INFINITY)
    resource.prlimit(daemon.process.pid, resource.RLIMIT_FSIZE, unlimited)
    wait_until(lambda: len(stored(daemon.data)) == number, "everything to be stored", 60)
    assert set(stored(daemon.data)) == set(sender.sent)
    assert max(stored(daemon.data).values()) == 1
    assert daemon.end()[0] == 0
    with open_reader(daemon.data) as store:
        assert verify_chain(store) == []
    sender.close()


def test_a_full_disk_is_told_at_once_with_what_is_in_danger_and_status_says_so(run, mosquitto, hook):
    broker = mosquitto()
    daemon = run(toml(broker.port, bins=[("b1", 1), ("b2", 1)], channel=hook.url), file_limit=400_000)
    daemon.subscribed()
    sender = Sender(broker.port)
    past, number = int(time.time() * 1000) - 600_000, 0
    while "Tried again in" not in daemon.log:
        assert number < 100_000, "the limit was never reached"
        for _ in range(50):
            sender.send("b1-0", 20.0 + number % 7 / 10, past + number)
            number += 1
        time.sleep(0.02)
    for value in (36.5, 36.6, 36.7):
        sender.send("b2-0", value)
        time.sleep(0.01)
    wait_until(lambda: len(hook.got) >= 2, "two messages past the record", 20)

    said = " ".join(text for _, _, _, text in hook.got)
    assert "nothing has been stored" in said
    assert "WORMS IN DANGER" in said
    assert "b2" in said
    resource.prlimit(daemon.process.pid, resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY, resource.RLIM_INFINITY))
    sender.settle()
    wait_until(lambda: len(stored(daemon.data)) == number + 3, "everything to be stored", 60)
    assert alarms(daemon.data, "disk") == ["unacknowledged", "returned unacknowledged"]
    assert len([text for _, _, _, text in hook.got if "WORMS IN DANGER" in text]) == 1
    assert daemon.end()[0] == 0
    sender.close()


def test_with_a_full_disk_it_still_ends(run, mosquitto):
    broker = mosquitto()
    daemon = run(toml(broker.port, bins=[("b1", 1)]), file_limit=300_000)
    daemon.subscribed()
    sender = Sender(broker.port)
    now, number = int(time.time() * 1000) - 600_000, 0
    while "Tried again in" not in daemon.log:
        assert number < 100_000, "the limit was never reached"
        sender.send("b1-0", 20.0, now + number)
        number += 1
    code, seconds = daemon.end()
    assert code == 3, daemon.log
    print(f"ended within {seconds:.2f} s")
    assert "Traceback" not in daemon.log
    sender.settle()
    daemon.file_limit = None
    daemon.start().subscribed()
    wait_until(lambda: len(stored(daemon.data)) == number, "what was not acknowledged to come again")
    sender.close()


def test_a_message_to_a_broker_arrives_or_fails_in_time(mosquitto, free_port):
    broker, got = mosquitto(), []
    import paho.mqtt.client as mqtt

    listener = mqtt.Client(mqtt.CallbackAPIVersion.VERSION2, protocol=mqtt.MQTTv5)
    listener.on_subscribe = lambda *_: got.append("ready")
    listener.on_message = lambda _client, _userdata, message: got.append(json.loads(message.payload))
    listener.connect("127.0.0.1", broker.port)
    listener.loop_start()
    listener.subscribe("notices", qos=1)
    wait_until(lambda: got, "the listener")
    for version in ("5", "3.1.1"):
        publisher(MqttConnection(port=broker.port, version=version))("notices", b'{"a":1}')
    wait_until(lambda: got == ["ready", {"a": 1}, {"a": 1}], "both messages")
    listener.disconnect()
    listener.loop_stop()
    with pytest.raises(DeliveryError, match="nobody listens"):
        publisher(MqttConnection(port=free_port()))("notices", b"{}")
    with socket.create_server(("127.0.0.1", 0)) as silent, pytest.raises(TimeoutError):
        publisher(MqttConnection(port=silent.getsockname()[1]), limit_s=0.3)("notices", b"{}")
    closed = mosquitto(anonymous=False)
    with pytest.raises(DeliveryError, match="refuses"):
        publisher(MqttConnection(port=closed.port))("notices", b"{}")
