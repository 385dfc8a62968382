"""The MQTT source against a real broker: every trap that once lost data, and what counts as untimed."""

import json
import socket
import subprocess
import sys
import textwrap
import threading

import pytest
from arrivals import Collector, PushedClock
from brokers import program, wait_until
from paho.mqtt import publish
from paho.mqtt.enums import CallbackAPIVersion  # noqa: F401 - tells at once that paho 2 is there
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.reasoncodes import ReasonCode

from monitor.intake import MqttConnection, MqttSource, Subscription
from monitor.model.errors import UnavailableError
from monitor.model.quarantine import SetAside

pytestmark = pytest.mark.io

SUBSCRIPTIONS = (
    Subscription(topic="nodes/+/senml"),
    Subscription(topic="nodes/{probe}/now/{quantity}", form="number"),
)
T0 = 1_795_600_000


class Yard:
    """A broker and the sources that listen to it."""

    def __init__(self, broker):
        self.broker = broker
        self.clock = PushedClock()
        self.sources = []

    def listen(self, sink=None, *, wait=True, **more):
        sink = sink or Collector()
        settings = MqttConnection(
            **{"port": self.broker.port, "subscriptions": SUBSCRIPTIONS, "backoff_max_s": 1, **more}
        )
        source = MqttSource(settings, sink, self.clock)
        self.sources.append(source)
        source.start()
        if wait:
            wait_until(lambda: sink.links and sink.links[-1].up, "the link")
        return source, sink

    def send(self, *payloads, topic="nodes/7/senml", retain=False, qos=1):
        messages = [{"topic": topic, "payload": payload, "qos": qos, "retain": retain} for payload in payloads]
        publish.multiple(messages, hostname="127.0.0.1", port=self.broker.port)

    def close(self):
        for source in self.sources:
            source.stop()


def timed(value):
    return json.dumps([{"n": "p1-a", "u": "Cel", "v": value, "t": T0 + value}])


@pytest.fixture
def yard(mosquitto):
    yard = Yard(mosquitto())
    yield yard
    yard.close()


def tokens(sink):
    return [arrival.token for arrival in sink.arrivals]


@pytest.mark.parametrize("version", ["5", "3.1.1"])
def test_messages_come_and_acknowledged_ones_do_not_come_again(yard, version):
    source, sink = yard.listen(version=version)
    yard.send(timed(1), timed(2))
    first, second = sink.wait_for(2)
    assert first.heard == (("p1-a", "temperature", 1_000_000, "Cel", (T0 + 1) * 1000),)
    assert (first.source, first.origin, first.raw) == ("mqtt", "nodes/7/senml", timed(1).encode())
    assert source.acknowledge([first.token, second.token]) == 2
    source.stop()
    yard.send(timed(3))
    _, sink = yard.listen(version=version)
    sink.wait_for(1)
    assert sink.values == [3]


def test_message_of_qos_0_has_nothing_to_acknowledge(yard):
    _, sink = yard.listen()
    yard.send(timed(1), qos=0)
    assert sink.wait_for(1)[0].token is None


def test_acknowledging_may_leave_gaps(yard):
    source, sink = yard.listen()
    yard.send(timed(1), timed(2), timed(3))
    sink.wait_for(3)
    source.acknowledge([tokens(sink)[1]])
    source.stop()
    _, sink = yard.listen()
    sink.wait_for(2)
    assert sorted(sink.values) == [1, 3]


def test_backlog_comes_whole_and_in_order_and_is_acknowledged_in_batches(yard):
    source, _ = yard.listen()
    source.stop()
    yard.send(*(timed(value) for value in range(3000)))
    source, sink = yard.listen(receive_maximum=1000)
    done = 0
    while done < 3000:
        arrivals = sink.wait_for(done + 1)
        assert source.acknowledge(arrival.token for arrival in arrivals[done:]) == len(arrivals) - done
        done = len(arrivals)
    assert sink.values == list(range(3000))
    source.stop()
    yard.send(timed(5000))
    _, sink = yard.listen()
    sink.wait_for(1)
    assert sink.values == [5000]


def test_unacknowledged_messages_come_again_after_a_kill(yard):
    code = textwrap.dedent("""
        import sys, time
        from monitor.intake import Arrival, MqttConnection, MqttSource, Subscription
        class Clock:
            now_ms = staticmethod(lambda: int(time.time() * 1000))
            monotonic_s = staticmethod(time.monotonic)
        class Sink:
            def offer(self, item):
                print("arrival" if isinstance(item, Arrival) else "link", flush=True)
        settings = MqttConnection(port=int(sys.argv[1]), subscriptions=(Subscription(topic="nodes/+/senml"),))
        MqttSource(settings, Sink(), Clock()).start()
        time.sleep(60)
    """)
    victim = subprocess.Popen([sys.executable, "-c", code, str(yard.broker.port)], stdout=subprocess.PIPE, text=True)
    try:
        assert victim.stdout.readline() == "link\n"
        yard.send(timed(1), timed(2))
        assert [victim.stdout.readline() for _ in range(2)] == ["arrival\n"] * 2
    finally:
        victim.kill()
        victim.wait()
        victim.stdout.close()
    yard.send(timed(3))
    source, sink = yard.listen(subscriptions=(Subscription(topic="nodes/+/senml"),))
    sink.wait_for(3)
    assert sink.values == [1, 2, 3]
    assert source.acknowledge(tokens(sink)) == 3


def test_stale_token_acknowledges_nothing(yard):
    source, sink = yard.listen()
    yard.send(timed(1))
    sink.wait_for(1)
    yard.broker.kill()
    wait_until(lambda: not sink.links[-1].up, "the link to go down")
    (yard.broker.folder / "mosquitto.db").unlink(missing_ok=True)  # the session is lost: packet ids start again
    yard.broker.start()
    wait_until(lambda: sink.links[-1].up, "the link to come up")
    yard.send(timed(2))
    sink.wait_for(2)
    (old, packet_id), (new, again) = tokens(sink)
    assert (new > old, packet_id) == (True, again), "the same packet id now names another message"
    assert source.acknowledge([(old, packet_id)]) == 0
    source.stop()
    _, sink = yard.listen()
    sink.wait_for(1)
    assert sink.values == [2]


def test_nothing_is_acknowledged_while_the_link_is_down(yard):
    source, sink = yard.listen()
    yard.send(timed(1))
    sink.wait_for(1)
    yard.broker.stop()
    wait_until(lambda: not sink.links[-1].up, "the link to go down")
    assert source.acknowledge(tokens(sink)) == 0


def test_bad_message_is_set_aside_and_can_be_acknowledged(yard):
    source, sink = yard.listen()
    yard.send(b"\xff\x00", b"{", b"", timed(1))
    sink.wait_for(4)
    assert sink.reasons == [SetAside.NOT_UTF8, SetAside.MALFORMED, SetAside.MALFORMED]
    assert sink.values == [1]
    assert source.acknowledge(tokens(sink)) == 4
    source.stop()
    yard.send(timed(2))
    _, sink = yard.listen()
    sink.wait_for(1)
    assert sink.values == [2]


def test_oversized_message_is_set_aside_and_cut(yard):
    _, sink = yard.listen()
    yard.send(b"[" + b" " * 100_000 + b"]")
    (arrival,) = sink.wait_for(1)
    assert sink.reasons == [SetAside.OVERSIZED]
    assert len(arrival.raw) == 65_536


def test_sink_that_raises_loses_nothing_and_stops_nothing(yard):
    sink = Collector()
    source, _ = yard.listen(sink)
    sink.refuse = lambda item: True
    yard.send(timed(1))
    wait_until(lambda: source.faults == 1, "the fault")
    sink.refuse = lambda item: False
    yard.send(timed(2))
    sink.wait_for(1)
    assert (sink.values, source.last_fault) == ([2], "RuntimeError: the sink refuses")
    source.acknowledge(tokens(sink))
    source.stop()
    _, sink = yard.listen()
    sink.wait_for(1)
    assert sink.values == [1]


def test_decoder_that_raises_still_gives_an_arrival(yard):
    source, sink = yard.listen()

    def broken(*_):
        raise ZeroDivisionError

    source._table.known["nodes/7/senml"] = broken
    yard.send(timed(1))
    (arrival,) = sink.wait_for(1)
    assert (arrival.heard, sink.reasons, source.faults) == ((), [SetAside.MALFORMED], 1)
    assert source.acknowledge([arrival.token]) == 1


def test_fault_on_the_network_thread_does_not_end_it(yard, monkeypatch):
    source, sink = yard.listen()
    handle = source._client._packet_handle
    left = [1]

    def faulty():
        if source._client._in_packet["command"] & 0xF0 == 0x30 and left:
            left.pop()
            raise ZeroDivisionError("a fault inside the library")
        return handle()

    monkeypatch.setattr(source._client, "_packet_handle", faulty)
    yard.send(timed(1))
    sink.wait_for(1)
    assert sink.values == [1]
    assert source.faults == 1


def test_retained_message_counts_only_with_a_time_of_its_own(yard):
    yard.send("21.5", topic="nodes/7/now/temperature", retain=True)
    yard.send(timed(1), retain=True)
    source, sink = yard.listen()
    sink.wait_for(2)
    assert sink.values == [1]
    assert sink.reasons == [SetAside.NO_TIME]
    yard.send("22.5", topic="nodes/7/now/temperature", retain=True)
    sink.wait_for(3)
    assert sink.values == [1, 22.5], "a message that is only passed on as it is retained is live"
    assert source.acknowledge(tokens(sink)) == 3


def test_untimed_messages_from_the_queue_are_set_aside_until_a_quiet_second(yard):
    source, sink = yard.listen()
    yard.send("20", topic="nodes/7/now/temperature")
    sink.wait_for(1)
    assert sink.values == [20]
    source.acknowledge(tokens(sink))
    source.stop()
    relative = json.dumps([{"n": "p1-a", "u": "Cel", "v": 3, "t": -60}])
    yard.send("21", topic="nodes/7/now/temperature")
    yard.send(relative, timed(1))
    source, sink = yard.listen()
    sink.wait_for(3)
    assert sink.values == [1]
    assert sink.reasons == [SetAside.NO_TIME] * 2
    assert source.acknowledge(tokens(sink)) == 3
    yard.clock.push(1.5)
    yard.send("22", topic="nodes/7/now/temperature")
    sink.wait_for(4)
    assert sink.values == [1, 22]


def lose_connection(source):
    source._client.socket().shutdown(socket.SHUT_RDWR)


@pytest.mark.parametrize("version", ["5", "3.1.1"])
def test_redelivered_untimed_message_is_taken_once(yard, version):
    source, sink = yard.listen(version=version)
    yard.send("21.5", topic="nodes/7/now/temperature")
    yard.send(timed(1))
    sink.wait_for(2)
    lose_connection(source)
    sink.wait_for(4)
    again, timed_again = sink.arrivals[2:]
    assert (again.heard, again.rejects) == ((), ())
    assert timed_again.heard == sink.arrivals[1].heard
    assert source.acknowledge(tokens(sink)) == 2, "only the second connection's tokens count"
    source.stop()
    yard.send(timed(2))
    _, sink = yard.listen(version=version)
    sink.wait_for(1)
    assert sink.values == [2]


def test_broker_restart_is_told_once_and_survived(yard):
    _, sink = yard.listen()
    yard.broker.stop()
    sink.wait_for_links(True, False)
    assert str(yard.broker.port) in sink.links[-1].why
    yard.broker.start()
    sink.wait_for_links(True, False, True)
    yard.send(timed(1))
    sink.wait_for(1)
    assert sink.values == [1]


def test_no_broker_is_told_once_and_waited_for(mosquitto, free_port):
    port = free_port()
    sink = Collector()
    source = MqttSource(MqttConnection(port=port, subscriptions=SUBSCRIPTIONS, backoff_max_s=1), sink, PushedClock())
    attempts = []
    on_fail = source._client.on_connect_fail
    source._client.on_connect_fail = lambda *more: (attempts.append(1), on_fail(*more))
    source.start()
    try:
        wait_until(lambda: len(attempts) >= 3, "three attempts")
        sink.wait_for_links(False)
        mosquitto(port)
        sink.wait_for_links(False, True)
    finally:
        source.stop()


def test_held_source_takes_nothing_more_but_still_acknowledges(yard):
    source, sink = yard.listen()
    yard.send(timed(1))
    sink.wait_for(1)
    source.hold()
    yard.send(timed(2))
    assert source.acknowledge(tokens(sink)) == 1
    source.stop()
    assert sink.values == [1]
    _, sink = yard.listen()
    sink.wait_for(1)
    assert sink.values == [2]


def test_stop_is_not_told_as_a_failure(yard):
    source, sink = yard.listen()
    source.stop()
    assert [link.up for link in sink.links] == [True]


def test_refused_subscription_is_told(yard):
    source, sink = yard.listen()
    granted, refused = (ReasonCode(PacketTypes.SUBACK, identifier=code) for code in (1, 0x87))
    source._on_subscribe(source._client, None, 1, [granted, refused], None)
    assert sink.links[-1].up is False
    assert sink.links[-1].why.startswith("the broker refuses the subscription nodes/+/now/+ (")


def test_password(mosquitto, tmp_path):
    accounts = tmp_path / "accounts"
    subprocess.run([program("mosquitto_passwd"), "-b", "-c", str(accounts), "yard", "rhubarb"], check=True)
    accounts.chmod(0o644)
    yard = Yard(mosquitto(anonymous=False, lines=[f"password_file {accounts}"]))
    try:
        _, sink = yard.listen(wait=False, username="yard", password="parsnip")
        (link,) = sink.wait_for_links(False)
        assert "refuses the login" in link.why
        assert "parsnip" not in link.why
        yard.listen(username="yard", password="rhubarb", client_id="other")
    finally:
        yard.close()


def make_certificates(folder):
    """Make an authority, and a certificate signed by it for the broker and for a client."""
    openssl = program("openssl")

    def run(*words):
        subprocess.run([openssl, *words], cwd=folder, check=True, capture_output=True)

    key = ["-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:P-256", "-nodes"]
    run("req", "-x509", *key, "-keyout", "ca.key", "-out", "ca.pem", "-subj", "/CN=Tern Hollow test", "-days", "2")
    (folder / "names").write_text("subjectAltName=IP:127.0.0.1\n")
    for name in ("broker", "client"):
        run("req", *key, "-keyout", f"{name}.key", "-out", f"{name}.csr", "-subj", f"/CN={name}")
        run(
            "x509", "-req", "-in", f"{name}.csr", "-CA", "ca.pem", "-CAkey", "ca.key", "-CAcreateserial",
            "-out", f"{name}.pem", "-days", "2", "-extfile", "names",
        )  # fmt: skip
        (folder / f"{name}.key").chmod(0o644)


def test_tls_with_a_client_certificate(mosquitto, tmp_path):
    make_certificates(tmp_path)
    files = [f"cafile {tmp_path}/ca.pem", f"certfile {tmp_path}/broker.pem", f"keyfile {tmp_path}/broker.key"]
    yard = Yard(mosquitto(lines=[*files, "require_certificate true"]))
    try:
        yard.listen(
            tls=True,
            ca_file=f"{tmp_path}/ca.pem",
            cert_file=f"{tmp_path}/client.pem",
            key_file=f"{tmp_path}/client.key",
        )
        _, sink = yard.listen(wait=False, tls=True, client_id="stranger")
        sink.wait_for_links(False)
    finally:
        yard.close()


def test_missing_certificate_is_told_before_the_start(tmp_path):
    settings = MqttConnection(tls=True, ca_file=str(tmp_path / "none.pem"))
    with pytest.raises(UnavailableError, match=r"^TLS cannot be set up from .*none\.pem"):
        MqttSource(settings, Collector(), PushedClock())


def test_broker_that_answers_late_still_reads_what_was_acknowledged_before_the_stop(yard):
    source, sink = yard.listen()
    yard.send(timed(1))
    sink.wait_for(1)
    yard.broker.pause()
    # Its answer to this request finds no one to read it, unless the stop waits until the broker is past it.
    source._client.unsubscribe("nodes/none")
    assert source.acknowledge(tokens(sink)) == 1
    threading.Timer(0.3, yard.broker.resume).start()
    source.stop()
    yard.broker.resume()
    yard.send(timed(2))
    _, sink = yard.listen()
    sink.wait_for(1)
    assert sink.values == [2]
