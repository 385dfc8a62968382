"""A tap on the line between the daemon and its broker: it sees what is acknowledged, loses acknowledgements, and cuts.

It reads MQTT's packets (MQTT Version 5.0, section 2) of connections of version 5 and passes them on whole.
"""

import contextlib
import socket
import threading

PUBLISH, PUBACK = 3, 4
_AGAIN, _QOS = 0x08, 0x06


class Tap:
    """Listens on `port`; `acknowledged` hears the payload of each message that the daemon acknowledged."""

    def __init__(self, broker_port, acknowledged, counts):
        self._broker_port = broker_port
        self._acknowledged = acknowledged
        self._counts = counts
        self._lock = threading.Lock()
        self._open = []
        self.loses = 0
        """So many of the next acknowledgements do not reach the broker; after the last of them the line is cut."""
        self._listener = socket.create_server(("127.0.0.1", 0))
        self.port = self._listener.getsockname()[1]
        threading.Thread(target=self._accept, daemon=True).start()

    def cut(self):
        """Cut every connection."""
        with self._lock:
            cut, self._open = self._open, []
        for one in cut:
            with contextlib.suppress(OSError):
                one.shutdown(socket.SHUT_RDWR)

    def close(self):
        self._listener.close()
        self.cut()

    def _accept(self):
        while True:
            try:
                daemon, _ = self._listener.accept()
            except OSError:
                return
            try:
                broker = socket.create_connection(("127.0.0.1", self._broker_port), timeout=2)
                broker.settimeout(None)
            except OSError:
                daemon.close()
                continue
            with self._lock:
                self._open += [daemon, broker]
            threading.Thread(target=self._carry, args=(daemon, broker), daemon=True).start()

    def _carry(self, daemon, broker):
        """Pass on both ways until either side ends, and close both."""
        payloads = {}
        with daemon, broker:
            up = threading.Thread(target=self._guarded, args=(self._up, daemon, broker, payloads), daemon=True)
            up.start()
            self._guarded(self._down, daemon, broker, payloads)
            up.join()
            with self._lock:
                self._open = [one for one in self._open if one not in (daemon, broker)]

    def _guarded(self, work, daemon, broker, payloads):
        with contextlib.suppress(OSError):
            work(daemon, broker, payloads)
        for one in (daemon, broker):
            with contextlib.suppress(OSError):
                one.shutdown(socket.SHUT_RDWR)

    def _down(self, daemon, broker, payloads):
        for packet, body in packets(broker):
            if packet[0] >> 4 == PUBLISH and packet[0] & _QOS:
                number, payload = published(packet, body)
                payloads[number] = payload
                if packet[0] & _AGAIN:
                    self._counts.note("messages delivered again")
            daemon.sendall(packet)

    def _up(self, daemon, broker, payloads):
        for packet, body in packets(daemon):
            if packet[0] >> 4 != PUBACK:
                broker.sendall(packet)
                continue
            self._acknowledged(payloads.pop(int.from_bytes(packet[body : body + 2], "big")))
            if self.loses <= 0:
                broker.sendall(packet)
                continue
            self.loses -= 1
            self._counts.note("acknowledgements lost on the way")
            if self.loses == 0:
                self.cut()


def packets(connection):
    """Yield (packet, where its body begins) of what comes over a connection, until it ends."""
    buffer = b""
    while True:
        found = _head(buffer)
        if found is None or found[0] + found[1] > len(buffer):
            piece = connection.recv(65_536)
            if not piece:
                return
            buffer += piece
            continue
        body, length = found
        yield buffer[: body + length], body
        buffer = buffer[body + length :]


def _head(buffer):
    """Return (where the body begins, its length), or None if too little has come."""
    found = _number(buffer, 1)
    return None if found is None else (found[1], found[0])


def _number(buffer, at):
    """Return (a variable byte integer, where it ends), or None if it is not all there."""
    value, shift = 0, 0
    while at < len(buffer):
        value |= (buffer[at] & 0x7F) << shift
        at, shift = at + 1, shift + 7
        if not buffer[at - 1] & 0x80:
            return value, at
    return None


def published(packet, body):
    """Return (packet identifier, payload) of a PUBLISH of version 5 with QoS 1."""
    at = body + 2 + int.from_bytes(packet[body : body + 2], "big")
    number = int.from_bytes(packet[at : at + 2], "big")
    length, at = _number(packet, at + 2)
    return number, packet[at + length :]
