"""Listens to an MQTT broker with QoS 1 and a persistent session; nothing is acknowledged before it is committed.

Rules: 1. A token is (connection generation, packet id). When a session is lost, packet ids start again, so a token of
an earlier connection would acknowledge another, uncommitted message: such tokens are dropped, and the broker sends
those messages again. 2. No content of a message raises on the network thread: bad content becomes an arrival with a reject,
and is acknowledged like any other, or it would return for ever. 3. A retained message, and a message that may have waited in
the queue, is read as stale: values without a time of their own are rejected. 4. A redelivered untimed message that was taken
before is handed on empty, so that it is acknowledged behind the commit of the first. 5. The link is up when the broker
has granted every subscription.
"""

import threading
from collections.abc import Iterable
from typing import Any

from paho.mqtt import client as mqtt
from paho.mqtt.properties import Properties
from paho.mqtt.reasoncodes import ReasonCode

from monitor.codec import LIMIT_BYTES, Decoded, Decoder, Reject, excerpt
from monitor.intake.broker_client import begin_connecting, make_client, subscribe_all
from monitor.intake.broker_faults import STEADY_S, THROWN_OFF, WITHIN_S, ended, not_reached, refused
from monitor.intake.freshness import Backlog, Taken
from monitor.intake.inbound import Arrival, Clock, Link, Sink, Token
from monitor.intake.publish_packets import Published
from monitor.intake.topics import TopicTable
from monitor.model.connections import MqttConnection
from monitor.model.quarantine import SetAside

_QOS = 1

SLOWER_MAX_S = 30.0
"""Longest pause while another program takes the connection over again and again (our choice)."""


FORGOTTEN = (
    "the broker had forgotten this client's session, so what nodes sent while it was away is lost; "
    "let it keep sessions (docs/broker.md)"
)


class MqttSource:
    """One broker's messages (see `Source`)."""

    def __init__(self, settings: MqttConnection, sink: Sink, clock: Clock, *, known: bool = False) -> None:
        """Prepare; nothing connects before `start`. `known`: the broker should have a session of ours from before.

        Raises:
            UnavailableError: A certificate or key file cannot be read.
        """
        self.name = settings.name
        self.faults = 0
        """Number of exceptions on the network thread: a sink that refused, or a fault of this program."""
        self.last_fault = ""
        self._settings = settings
        self._sink = sink
        self._clock = clock
        self._link = Link(settings.name, sink, clock)
        self._table = TopicTable(settings.subscriptions)
        self._backlog = Backlog()
        self._taken = Taken()
        self._ended = threading.Event()
        self._held = False
        # Guards `_generation` and `_live`: no acknowledgement may slip from one connection into the next.
        self._gate = threading.Lock()
        self._generation = 0
        self._live = False
        self._had_session = known
        self._forgotten = False
        self._answered_s: float | None = None
        self._refused = False
        self._thrown_off: list[float] = []
        self._telling = threading.Lock()
        self._client = make_client(settings, self._ended, self._note)
        self._client.on_pre_connect = self._on_pre_connect
        self._client.on_connect = self._on_connect
        self._client.on_connect_fail = self._on_connect_fail
        self._client.on_disconnect = self._on_disconnect
        self._client.on_subscribe = self._on_subscribe
        self._client.on_message = self._on_message

    def start(self) -> None:
        """Begin to connect; the attempts never end."""
        begin_connecting(self._client, self._settings)
        self._client.loop_start()

    def hold(self) -> None:
        """Offer nothing more; further messages stay unacknowledged and come again."""
        self._held = True

    def stop(self) -> None:
        """End the connection, keep the session, and wait until the thread is gone."""
        self._ended.set()
        with self._gate:
            live, self._live = self._live, False
        if live:
            self._client.settle()
        self._client.disconnect()
        self._client.loop_stop()
        self._client.close()

    def acknowledge(self, tokens: Iterable[Token]) -> int:
        """Acknowledge committed messages; tokens of an earlier connection are dropped. Safe from any thread."""
        with self._gate:
            if not self._live:
                return 0
            mine = [packet_id for generation, packet_id in tokens if generation == self._generation]
            if mine:
                self._client.ack_all(mine)
        return len(mine)

    def _on_message(self, _client: mqtt.Client, _userdata: Any, message: mqtt.MQTTMessage | Published) -> None:
        self._client.messages += 1
        if self._held:
            return
        try:
            self._take(message)
        except Exception as fault:  # noqa: BLE001 - one message stops nothing; unacknowledged, it comes again
            self._note(fault)
        if self._backlog.draining:
            self._backlog.handled(self._clock.monotonic_s())

    def _take(self, message: mqtt.MQTTMessage | Published) -> None:
        received = self._clock.now_ms()
        payload = bytes(message.payload)
        token = (self._generation, message.mid) if message.qos else None
        stale = message.retain
        if self._backlog.draining and self._backlog.arriving(self._clock.monotonic_s()):
            stale = True
        try:
            topic = message.topic
        except UnicodeDecodeError:
            reject = Reject(SetAside.NOT_UTF8, "the topic is not UTF-8", excerpt(payload))
            self._sink.offer(Arrival(self.name, received, (), (reject,), token, "", payload[:LIMIT_BYTES]))
            return
        if message.dup and token is not None and self._taken.was_taken(message.mid, topic, payload):
            self._sink.offer(Arrival(self.name, received, (), (), token, topic, payload))
            return
        decoder = self._table.known.get(topic) or self._table.decoder(topic)
        heard, rejects, untimed = self._decode(decoder, payload, received, stale)
        self._sink.offer(Arrival(self.name, received, heard, rejects, token, topic, payload[:LIMIT_BYTES]))
        if token is not None:
            self._taken.take(message.mid, topic, payload, untimed=untimed)

    def _decode(self, decoder: Decoder, payload: bytes, received: int, stale: bool) -> Decoded:
        try:
            return decoder(payload, received, stale)
        except Exception as fault:  # noqa: BLE001 - decoders do not raise; if one does, the message must not return for ever
            self._note(fault)
            return Decoded((), (Reject(SetAside.MALFORMED, "this program could not read it", excerpt(payload)),))

    def _on_pre_connect(self, _client: mqtt.Client, _userdata: Any) -> None:
        with self._gate:
            self._live = False

    def _on_connect(
        self, client: mqtt.Client, _userdata: Any, flags: mqtt.ConnectFlags, reason: ReasonCode, _: Properties | None
    ) -> None:
        if reason.is_failure:
            self._refused = True
            self._tell(False, *refused(self._settings, str(reason)))
            return
        with self._gate:
            self._generation += 1
            self._live = True
        self._answered_s = self._clock.monotonic_s()
        self._forgotten = self._settings.keep_session and self._had_session and not flags.session_present
        self._had_session = True
        if not flags.session_present:
            self._taken.forget_all()
        self._backlog.connected(flags.session_present, self._clock.monotonic_s())
        if self._table.filters:
            subscribe_all(client, self._settings, self._table.filters)
        else:
            self._tell(True, f"connected to {self._where()}, no subscriptions")

    def _on_subscribe(
        self, _client: mqtt.Client, _userdata: Any, _mid: int, reasons: list[ReasonCode], _: Properties | None
    ) -> None:
        denied = [
            f"{wanted} ({reason})"
            for wanted, reason in zip(self._table.filters, reasons, strict=False)
            if reason.is_failure
        ]
        if denied:
            self._tell(False, f"the broker refuses the subscription {', '.join(denied)}", lasts=True)
        else:
            self._up()

    def _up(self) -> None:
        """Report the link as up: at once, or, if others close it again and again, once it has lived a while."""
        if len(self._thrown_off) < THROWN_OFF:
            lost = f"; {FORGOTTEN}" if self._forgotten else ""
            self._tell(True, f"connected to {self._where()}{lost}", lasts=self._forgotten)
            return
        generation = self._generation

        def still() -> None:
            if self._live and self._generation == generation:
                self._thrown_off.clear()
                self._tell(True, f"connected to {self._where()}")

        waiting = threading.Timer(STEADY_S, still)
        waiting.daemon = True
        waiting.start()

    def _on_connect_fail(self, _client: mqtt.Client, _userdata: Any) -> None:
        # A broker that cannot be reached did not close the connections on purpose, so start counting anew.
        self._thrown_off.clear()
        self._tell(False, *not_reached(self._settings, self._client.refused))

    def _on_disconnect(
        self,
        _client: mqtt.Client,
        _userdata: Any,
        _flags: mqtt.DisconnectFlags,
        reason: ReasonCode,
        _: Properties | None,
    ) -> None:
        with self._gate:
            self._live = False
        answered, self._answered_s = self._answered_s, None
        said, self._refused = self._refused, False
        if self._ended.is_set() or said:
            return
        now_s = self._clock.monotonic_s()
        lately = [when for when in self._thrown_off if now_s - when < WITHIN_S]
        self._thrown_off = [*lately, now_s] if answered is not None else []
        thrown_off = len(self._thrown_off)
        self._tell(False, *ended(self._settings, str(reason), answered=answered is not None, thrown_off=thrown_off))
        if thrown_off >= THROWN_OFF:
            # Two clients that take over from each other each second keep both from work; slower attempts let more through.
            self._ended.wait(min(SLOWER_MAX_S, 2.0 ** (thrown_off - THROWN_OFF)))

    def _where(self) -> str:
        return f"{self._settings.host}:{self._settings.port}"

    def _tell(self, up: bool, why: str, lasts: bool = False) -> None:
        try:
            with self._telling:
                self._link.tell(up, why, anew=lasts)
        except Exception as fault:  # noqa: BLE001 - a sink that refuses must not end the network thread
            self._note(fault)

    def _note(self, fault: Exception) -> None:
        self.faults += 1
        self.last_fault = f"{type(fault).__name__}: {fault}"
