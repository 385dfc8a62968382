"""The simulated broker: one persistent session, QoS 1, redelivery of what was not acknowledged, outages and forgetting.

It talks to the real source by the calls of the MQTT library; `SimClient` stands for the library's client.
"""

from collections import deque

from paho.mqtt.client import ConnectFlags, DisconnectFlags, MQTTMessage
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.reasoncodes import ReasonCode

WINDOW = 40
"""Most messages that are on their way and not acknowledged."""


class Message:
    """A message of a node, and the readings in it: (probe, time, micro)."""

    __slots__ = ("payload", "readings", "topic")

    def __init__(self, topic, payload, readings):
        self.topic, self.payload, self.readings = topic, payload, readings


class SimClient:
    """The library's client, as far as the source uses it."""

    def __init__(self, broker):
        self.broker = broker
        self.messages = 0
        self.refused = None
        self.on_connect = self.on_disconnect = self.on_message = self.on_subscribe = None
        self.on_pre_connect = self.on_connect_fail = None
        self.wanted = 0

    def loop_start(self):
        self.broker.attach(self)

    def loop_stop(self):
        self.broker.detach(self)

    def disconnect(self):
        self.broker.detach(self)

    def close(self):
        self.broker.detach(self)

    def settle(self):
        return True

    def ack_all(self, packet_ids):
        self.broker.acknowledged(self, list(packet_ids))

    def subscribe(self, filters):
        self.wanted = len(filters)


class Broker:
    """The broker. `took` hears each message that the program acknowledged, `offered` each that it was given."""

    def __init__(self, time, chance, counts, *, took, offered):
        self.time, self.chance, self.counts = time, chance, counts
        self._took, self._offered = took, offered
        self.up = True
        self.client = None
        self.connected = False
        self.session = False
        self.queue = deque()
        self.inflight = {}
        self._next = 0
        self._delivering = False
        self.loses_acknowledgements = 0.02
        self.dies_with = None
        """The client of a program that has ended: nothing of it is heard any more."""

    def publish(self, message):
        """Take a message of a node; False if the broker is away, and the node keeps it."""
        if not self.up:
            return False
        self.queue.append(message)
        self._pump()
        return True

    def attach(self, client):
        self.client = client
        self._later(0.05)

    def detach(self, client):
        if self.client is client:
            self.client, self.connected = None, False

    def program_ended(self):
        """Close the connection of a program that has ended."""
        self.client, self.connected = None, False

    def goes_away(self):
        self.up = False
        self._drop("Keep alive timeout")

    def comes_back(self, *, forgot):
        """Come back, with the session and its queue or without."""
        self.up = True
        if forgot:
            self.session = False
            self.counts.note("messages that the broker lost", len(self.queue) + len(self.inflight))
            self.queue.clear()
            self.inflight.clear()
        self._later(self.chance.uniform(1, 30))

    def drop(self):
        """Close the connection; the client connects again."""
        self._drop("Unspecified error")
        self._later(self.chance.uniform(1, 20))

    def _drop(self, why):
        client, was, self.connected = self.client, self.connected, False
        if client is not None and was:
            client.on_disconnect(client, None, DisconnectFlags(False), ReasonCode(PacketTypes.DISCONNECT, why), None)

    def _later(self, wait_s):
        self.time.after(wait_s, self._connect)

    def _connect(self):
        client = self.client
        if client is None or self.connected:
            return
        client.on_pre_connect(client, None)
        if not self.up:
            client.on_connect_fail(client, None)
            return
        present, self.session, self.connected = self.session, True, True
        client.on_connect(client, None, ConnectFlags(present), ReasonCode(PacketTypes.CONNACK, "Success"), None)
        granted = [ReasonCode(PacketTypes.SUBACK, "Granted QoS 1")] * client.wanted
        client.on_subscribe(client, None, 1, granted, None)
        for mid, message in list(self.inflight.items()):
            self.counts.note("messages delivered again")
            self._deliver(mid, message, dup=True)
        self._pump()

    def _pump(self):
        if self._delivering:
            return
        self._delivering = True
        try:
            while self.connected and self.queue and len(self.inflight) < WINDOW:
                self._next = self._next % 65_535 + 1
                if self._next in self.inflight:
                    continue
                self.inflight[self._next] = self.queue.popleft()
                self._deliver(self._next, self.inflight[self._next], dup=False)
        finally:
            self._delivering = False

    def _deliver(self, mid, message, *, dup):
        if not self.connected:
            return
        one = MQTTMessage(mid, message.topic.encode())
        one.payload, one.qos, one.dup = message.payload, 1, dup
        self._offered(message)
        self.client.on_message(self.client, None, one)

    def acknowledged(self, client, mids):
        if client is not self.client:
            return
        for mid in mids:
            message = self.inflight.get(mid)
            if message is None:
                raise AssertionError(f"packet {mid} was acknowledged twice, or never sent")
            self._took(message)
            if self.chance.random() < self.loses_acknowledgements:
                self.counts.note("acknowledgements lost on the way")
            else:
                del self.inflight[mid]
        # A client whose acknowledgements were lost is dropped some time, and gets those messages again.
        if len(self.inflight) >= WINDOW - 1:
            # Not at once: the source holds a lock of its own while it acknowledges.
            self.time.after(0.01, self.drop)
        self.time.after(0.0, self._pump)
