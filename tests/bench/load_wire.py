"""Sends MQTT messages faster than a library would, from a process of its own, so that the measuring is not disturbed.

`python -m tests.bench.load_wire PORT KIND RATE SECONDS QOS` sends at RATE messages a second for SECONDS and prints, as JSON,
how many were sent, how many the broker acknowledged, and how long that took. KIND is a key of `KINDS`.
"""

import json
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Callable

from tests.bench.yards import message, probe_names

TICK_S = 0.01
UNACKNOWLEDGED_MAX = 50_000
"""Messages of QoS 1 on their way: packet ids have 16 bits."""

PILES, BINS, EACH = 50, 50, 10
"""The yard of a flood: 1,000 probes in 100 places."""

CRAMMED = 2_700
"""Values of unknown probes in a message that is just short enough to be read."""

SOLO = 12
"""The last so many probes take no part in floods: they speak once a second each, and how late that is stored is measured."""


def _known(names: list[str]) -> Callable[[int, int], tuple[str, bytes]]:
    def make(number: int, now_ms: int) -> tuple[str, bytes]:
        name = names[number % len(names)]
        heat = (60.0 if name.startswith("p") else 21.0) + (number * 7919 % 100) / 100
        return f"nodes/{name}/senml", message(name, now_ms, heat)

    return make


def _unknown(number: int, now_ms: int) -> tuple[str, bytes]:
    """Each message names a probe that nobody has named before."""
    return f"nodes/u{number}/senml", message(f"u{number}", now_ms, 20.0)


def _crammed(number: int, now_ms: int) -> tuple[str, bytes]:
    """A message just short enough to be read, full of values of unknown probes."""
    records = ",".join(f'{{"n":"u{number}-{one}","v":1}}' for one in range(CRAMMED))
    return "nodes/crammed/senml", f'[{{"bt":{now_ms / 1000:.3f},"n":"u","v":1}},{records}]'.encode()


def _enormous(number: int, now_ms: int) -> tuple[str, bytes]:
    """Far more than is read of a message: 200 MB."""
    return "nodes/enormous/senml", b"[" * 200_000_000


KINDS: dict[str, Callable[[int, int], tuple[str, bytes]]] = {
    "known": _known(probe_names(PILES, BINS, EACH)[:-SOLO]),
    "unknown": _unknown,
    "crammed": _crammed,
    "enormous": _enormous,
}


def publish_packet(topic: str, payload: bytes, packet_id: int) -> bytes:
    """A PUBLISH of MQTT 3.1.1, of QoS 1 if it has a packet id, else of QoS 0."""
    name = topic.encode()
    body = len(name).to_bytes(2, "big") + name + (packet_id.to_bytes(2, "big") if packet_id else b"") + payload
    head, left = bytearray([0x32 if packet_id else 0x30]), len(body)
    while left >= 128:
        head.append(left % 128 | 128)
        left //= 128
    return bytes([*head, left]) + body


class Wire:
    """One connection to a broker, for sending alone."""

    def __init__(self, port: int) -> None:
        self._socket = socket.create_connection(("127.0.0.1", port))
        self._socket.sendall(bytes([0x10, 12]) + b"\x00\x04MQTT\x04\x02\x00\x00\x00\x00")
        self._socket.recv(4)
        self.acknowledged = 0
        threading.Thread(target=self._count, daemon=True).start()

    def _count(self) -> None:
        held = 0
        while data := self._socket.recv(65_536):
            held += len(data)
            self.acknowledged, held = self.acknowledged + held // 4, held % 4

    def send(self, data: bytes) -> None:
        self._socket.sendall(data)

    def close(self) -> None:
        self._socket.sendall(b"\xe0\x00")
        self._socket.close()


def send(port: int, kind: str, rate: int, seconds: float, qos: int) -> dict[str, float]:
    """Send evenly, as far as the broker takes it; return what became of it."""
    wire, make = Wire(port), KINDS[kind]
    begun = time.monotonic()
    sent, wanted = 0, round(rate * seconds)
    while sent < wanted:
        due = min(wanted, int((time.monotonic() - begun) * rate) + 1)
        if due <= sent or (qos and sent - wire.acknowledged > UNACKNOWLEDGED_MAX):
            time.sleep(TICK_S)
            continue
        now_ms = int(time.time() * 1000)
        wire.send(
            b"".join(
                publish_packet(*make(number, now_ms + number % 10), number % 65_535 + 1 if qos else 0)
                for number in range(sent, min(due, sent + 500))
            )
        )
        sent = min(due, sent + 500)
    took = time.monotonic() - begun
    until = time.monotonic() + 60
    while qos and wire.acknowledged < sent and time.monotonic() < until:
        time.sleep(TICK_S)
    acknowledged = wire.acknowledged
    wire.close()
    return {"sent": sent, "acknowledged": acknowledged, "seconds": took}


def sending(port: int, kind: str, rate: int, seconds: float, qos: int) -> subprocess.Popen[str]:
    """Start `send` in a process of its own; its output is the JSON."""
    words = [str(port), kind, str(rate), str(seconds), str(qos)]
    command = [sys.executable, "-m", "tests.bench.load_wire", *words]
    return subprocess.Popen(command, stdout=subprocess.PIPE, text=True)


if __name__ == "__main__":
    print(json.dumps(send(int(sys.argv[1]), sys.argv[2], int(sys.argv[3]), float(sys.argv[4]), int(sys.argv[5]))))
