"""What the MQTT source says to a broker, byte for byte, and how it takes what a broker sends."""

import socket
import threading
from contextlib import suppress
from pathlib import Path

import pytest
from played_broker import DISCONNECT, PUBACK, UNSUBSCRIBE, Ears, PlayedBroker, packet

from monitor.codec import LIMIT_BYTES
from monitor.intake import MqttConnection, MqttSource, Subscription, broker_client
from monitor.model.quarantine import SetAside

NOW = 1_795_600_000_000
BOTH = pytest.mark.parametrize("version", ["3.1.1", "5"])
SUBSCRIPTIONS = (Subscription(topic="n/{probe}/{quantity}", form="number"), Subscription(topic="nodes/+/senml"))

EXPIRY, WINDOW, LARGEST = 17, 33, 39
"""Numbers of the properties of a connection. Source: MQTT 5.0, 3.1.2.11."""


class Clock:
    def now_ms(self):
        return NOW

    def monotonic_s(self):
        return 100.0


@pytest.fixture
def yard(monkeypatch):
    """A function that starts a source at a played broker; returns (broker, source, sink)."""
    monkeypatch.setattr(broker_client, "SETTLING_S", 0.05)
    made = []

    def start(version, **more):
        broker, sink = PlayedBroker(version), Ears()
        settings = {"port": broker.port, "version": version, "subscriptions": SUBSCRIPTIONS} | more
        source = MqttSource(MqttConnection(**settings), sink, Clock())
        made.append((source, broker))
        source.start()
        return broker, source, sink

    yield start
    for source, broker in made:
        source.stop()
        broker.close()


@BOTH
@pytest.mark.parametrize("keep", [True, False])
def test_a_client_introduces_itself_and_says_whether_its_session_is_to_be_kept(yard, version, keep):
    broker, _, _ = yard(
        version, client_id="shed", username="yard", password="rhubarb", keepalive_s=45, keep_session=keep,
        session_expiry_s=7_200, receive_maximum=3_000,
    )  # fmt: skip
    said = broker.accept()
    assert (said.level, said.keepalive_s) == ({"3.1.1": 4, "5": 5}[version], 45)
    assert said.texts == ["shed", "yard", "rhubarb"]
    assert bool(said.flags & 2) is not keep, "a clean session is asked for where none is kept"
    if version == "5":
        assert said.properties == {EXPIRY: 7_200 if keep else 0, WINDOW: 3_000, LARGEST: 1 << 20}


@BOTH
def test_without_a_name_no_login_is_sent(yard, version):
    broker, _, _ = yard(version, client_id="shed")
    said = broker.accept()
    assert (said.texts, said.flags & 0xC0) == (["shed"], 0)


@BOTH
def test_all_filters_are_asked_for_at_once_and_kept_messages_only_the_first_time(yard, version):
    broker, _, sink = yard(version)
    broker.accept()
    only_if_new = 16 if version == "5" else 0
    assert broker.welcome() == [("n/+/+", 1 | only_if_new), ("nodes/+/senml", 1 | only_if_new)]
    link = sink.next()
    assert (link.up, link.why) == (True, f"connected to 127.0.0.1:{broker.port}")


@BOTH
def test_what_is_committed_is_acknowledged_in_its_order_and_nothing_else(yard, version):
    broker, source, sink = yard(version)
    broker.begin()
    for mid in (7, 300, 9):
        broker.publish("n/7/moisture", b"60", mid)
    arrivals = [sink.next_arrival() for _ in range(3)]
    assert [one.heard[0].micro for one in arrivals] == [60_000_000] * 3
    assert source.acknowledge([arrivals[1].token, arrivals[0].token, (99, 9)]) == 2
    assert broker.raw(8) == bytes([PUBACK << 4, 2, 1, 44, PUBACK << 4, 2, 0, 7])


def test_of_a_message_that_is_far_too_long_the_beginning_is_set_aside_and_the_next_is_heard(yard):
    broker, source, sink = yard("3.1.1")
    broker.begin()
    topic = b"n/7/moisture"
    after = packet(0x32, len(topic).to_bytes(2, "big") + topic + (12).to_bytes(2, "big") + b"61")
    broker.publish("n/7/moisture", b" " * (1 << 20) + b"5" * 100_000, 11, more=after)
    long, next_one = sink.next_arrival(), sink.next_arrival()
    assert ([one.reason for one in long.rejects], len(long.raw)) == ([SetAside.OVERSIZED], LIMIT_BYTES)
    assert (long.token[1], next_one.token[1], next_one.heard[0].micro) == (11, 12, 61_000_000)
    assert source.acknowledge([long.token, next_one.token]) == 2


def test_a_message_just_as_long_as_a_packet_may_be_is_no_exception(yard):
    broker, _, sink = yard("3.1.1")
    broker.begin()
    for mid, more in ((1, -1), (2, 0), (3, 1)):
        broker.publish("n/7/moisture", b"5" * ((1 << 20) - 16 + more), mid)
    broker.publish("n/7/moisture", b"62", 4)
    assert [sink.next_arrival().token[1] for _ in range(3)] == [1, 2, 3]
    assert sink.next_arrival().heard[0].micro == 62_000_000


@BOTH
def test_at_the_end_the_broker_has_read_all_before_it_is_left(yard, monkeypatch, version):
    monkeypatch.setattr(broker_client, "SETTLING_S", 10.0)
    broker, source, sink = yard(version)
    broker.begin()
    sink.next()
    leaving = threading.Thread(target=source.stop)
    leaving.start()
    asked = broker.next(UNSUBSCRIBE).body
    leaving.join(0.1)
    assert leaving.is_alive(), "it waits for the answer"
    broker.say(0xB0, asked[:2] + (b"\0\x11" if version == "5" else b""))
    broker.next(DISCONNECT)
    leaving.join(10)
    assert not leaving.is_alive()


def test_a_broker_that_never_answers_holds_the_end_up_only_so_long(yard, monkeypatch):
    monkeypatch.setattr(broker_client, "SETTLING_S", 0.1)
    broker, source, sink = yard("5")
    broker.begin()
    sink.next()
    source.stop()
    assert broker.next(UNSUBSCRIBE).kind == UNSUBSCRIBE
    broker.next(DISCONNECT)


def test_a_source_that_is_held_takes_nothing_and_acknowledges_what_it_took(yard):
    broker, source, sink = yard("5")
    broker.begin()
    broker.publish("n/7/moisture", b"60", 1)
    taken = sink.next_arrival()
    source.hold()
    broker.publish("n/7/moisture", b"61", 2)
    assert source.acknowledge([taken.token]) == 1
    assert broker.next(PUBACK).body == b"\0\x01"
    source.stop()
    assert sink.rest() == []


def test_a_source_that_has_ended_leaves_no_socket_open(yard):
    def sockets():
        links = (str(one.readlink()) for one in Path("/proc/self/fd").iterdir() if one.is_symlink())
        return sorted(link for link in links if link.startswith("socket:"))

    before = sockets()
    broker, source, sink = yard("5")
    broker.begin()
    sink.next()
    assert len(sockets()) > len(before)
    source.stop()
    broker.close()
    assert sockets() == before


def tls(**more):
    return {"tls": True, "host": "127.0.0.1", **more}


def test_a_port_that_hangs_up_at_the_handshake_does_not_speak_tls(yard):
    broker, _, sink = yard("5", **tls())
    link, _ = broker._server.accept()
    link.settimeout(10)
    assert link.recv(1) == b"\x16", "a handshake begins"
    link.sendall(b"220 tern.example ready\r\n")
    why = sink.next().why
    assert "does not speak TLS there" in why
    read_to_the_end(link)


def read_to_the_end(link):
    """Return once the other side has closed."""
    with link, suppress(ConnectionResetError):
        while link.recv(4_096):
            pass


def test_a_port_that_is_silent_at_the_handshake_is_given_up(monkeypatch):
    with socket.create_server(("127.0.0.1", 0)) as server:
        sink = Ears()
        settings = MqttConnection(port=server.getsockname()[1], tls=True, subscriptions=SUBSCRIPTIONS)
        source = MqttSource(settings, sink, Clock())
        source._client.connect_timeout = 0.1
        source.start()
        try:
            link, _ = server.accept()
            assert "gives no answer in time" in sink.next().why
            link.settimeout(10)
            read_to_the_end(link)
        finally:
            source.stop()


def test_attempts_to_connect_come_at_growing_pauses_from_the_least_to_the_most(monkeypatch):
    asked = []
    monkeypatch.setattr(broker_client.UnendingClient, "reconnect_delay_set", lambda _, *pauses: asked.append(pauses))
    settings = MqttConnection(subscriptions=SUBSCRIPTIONS, backoff_min_s=3, backoff_max_s=40)
    client = broker_client.make_client(settings, threading.Event(), print)
    assert asked == [(3, 40)]
    assert client.pause_s == 3
