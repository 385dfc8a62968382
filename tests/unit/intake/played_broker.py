"""A broker that a test plays by hand on loopback, packet by packet. Source: MQTT 3.1.1 and MQTT 5.0, chapters 2 and 3."""

import queue
import socket
from typing import Any, NamedTuple

from monitor.intake import LinkChange

CONNECT, PUBACK, SUBSCRIBE, UNSUBSCRIBE, DISCONNECT = 1, 4, 8, 10, 14
PATIENCE_S = 10.0


class Packet(NamedTuple):
    kind: int
    body: bytes


class Greeting(NamedTuple):
    """What a client says of itself as it connects; `properties` by their numbers, of version 5 alone."""

    level: int
    flags: int
    keepalive_s: int
    properties: dict[int, int]
    texts: list[str]


class PlayedBroker:
    """Takes one connection after another; nothing is said that the test does not say."""

    def __init__(self, version):
        self.version = version
        self._server = socket.create_server(("127.0.0.1", 0))
        self._server.settimeout(PATIENCE_S)
        self._link: Any = None

    @property
    def port(self):
        return self._server.getsockname()[1]

    @property
    def _no_properties(self):
        return b"\0" if self.version == "5" else b""

    def accept(self):
        """Take the next connection and return what the client says of itself."""
        self._link, _ = self._server.accept()
        self._link.settimeout(PATIENCE_S)
        return self._greeting(self.next(CONNECT).body)

    def _greeting(self, body):
        level, flags, keepalive_s, body = body[6], body[7], int.from_bytes(body[8:10], "big"), body[10:]
        properties = {}
        if level == 5:
            block, body = body[1 : 1 + body[0]], body[1 + body[0] :]
            while block:
                size = {17: 4, 33: 2, 39: 4}[block[0]]
                properties[block[0]] = int.from_bytes(block[1 : 1 + size], "big")
                block = block[1 + size :]
        return Greeting(level, flags, keepalive_s, properties, texts_of(body))

    def welcome(self, session_present=False):
        """Accept the connection; return the filters that it asks for, each with its options."""
        self.say(0x20, bytes([session_present, 0]) + self._no_properties)
        asked = self.next(SUBSCRIBE).body
        filters, rest = [], asked[2 + len(self._no_properties) :]
        while rest:
            size = int.from_bytes(rest[:2], "big")
            filters.append((rest[2 : 2 + size].decode(), rest[2 + size]))
            rest = rest[3 + size :]
        self.say(0x90, asked[:2] + self._no_properties + bytes([1] * len(filters)))
        return filters

    def begin(self, session_present=False):
        self.accept()
        self.welcome(session_present)
        return self

    def publish(self, topic, payload, mid, *, more=b""):
        """Send a message of QoS 1, and what follows it in the same breath."""
        body = len(topic).to_bytes(2, "big") + topic.encode() + mid.to_bytes(2, "big") + self._no_properties + payload
        self._link.sendall(packet(0x32, body) + more)

    def say(self, head, body):
        self._link.sendall(packet(head, body))

    def next(self, kind=None):
        """Return the next packet, which must be of this kind."""
        head = self._read(1)[0]
        length = shift = 0
        while True:
            byte = self._read(1)[0]
            length |= (byte & 127) << shift
            shift += 7
            if byte < 128:
                break
        found = Packet(head >> 4, self._read(length))
        assert kind in (None, found.kind), found
        return found

    def _read(self, size):
        found = b""
        while len(found) < size:
            part = self._link.recv(size - len(found))
            if not part:
                raise EOFError
            found += part
        return found

    def raw(self, size):
        """Return so many bytes as they come."""
        return self._read(size)

    def hang_up(self):
        if self._link is not None:
            self._link.close()

    def close(self):
        self.hang_up()
        self._server.close()


class Ears:
    """A sink that a test can wait on."""

    def __init__(self):
        self._items = queue.Queue()

    def offer(self, item):
        self._items.put(item)

    def next(self):
        return self._items.get(timeout=PATIENCE_S)

    def rest(self):
        """Return what nobody has looked at yet."""
        return [self._items.get() for _ in range(self._items.qsize())]

    def next_arrival(self):
        item = self.next()
        while isinstance(item, LinkChange):
            item = self.next()
        return item


def packet(head, body):
    length, sized = len(body), b""
    while True:
        length, low = divmod(length, 128)
        sized += bytes([low | (128 if length else 0)])
        if not length:
            return bytes([head]) + sized + body


def texts_of(body):
    found = []
    while body:
        size = int.from_bytes(body[:2], "big")
        found.append(body[2 : 2 + size].decode())
        body = body[2 + size :]
    return found
