"""What daemons, one broker and one time-series server take for many yards, for each yard and message.

Each yard has a session that is kept, and nodes that send with QoS 1. Beside the real daemons of a few yards, bare connections
stand for the others, since only the servers are measured then.
"""

import os
import random
import socket
import subprocess
import sys
import tempfile
import time
import urllib.request
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import paho.mqtt.client as mqtt

from monitor.mirror.line_protocol import reading_line, tagged
from monitor.mirror.source import MirroredReading
from tests.bench.yards import broker, config_text, free_port, message

DAEMONS, START_S, QUIET_S, READINGS = 4, 60, 60, 60
YARDS, NODES = 1_000, 200
MESSAGES = 20_000
DAYS, PROBES, EVERY_MS = 2, 10, 300_000
"""Of the points: a tenth of the yards, each with so many probes that read every five minutes."""


def main() -> None:
    """Print the figures."""
    for work in (_daemons, _broker, _server):
        with tempfile.TemporaryDirectory() as folder:
            work(Path(folder))


def _daemons(folder: Path) -> None:
    """Run several real daemons of small yards beside each other, first quiet, then with readings."""
    with broker() as port:
        running = []
        try:
            for number in range(DAEMONS):
                own = folder / f"yard{number}"
                own.mkdir()
                text = config_text(port, piles=1, bins=1, probes_each=5).replace('"bench"', f'"bench{number}"')
                (own / "heaptender.toml").write_text(
                    text.replace("nodes/+", f"yards/{number}/+") + "[page]\non = false\n"
                )
                words = [sys.executable, "-m", "monitor", "run", "--config", str(own / "heaptender.toml")]
                running.append(subprocess.Popen(words, stderr=subprocess.DEVNULL))
            time.sleep(START_S)
            pids = [one.pid for one in running]
            _send(port)  # the first readings load what is loaded once
            quiet = _cpu_of_all(pids, lambda: time.sleep(QUIET_S))
            busy = _cpu_of_all(pids, lambda: _send(port))
            more_ms = (busy - quiet / QUIET_S * READINGS) * 1000 / (READINGS * DAEMONS)
            print(f"{DAEMONS} daemons of 10 probes without a page: {sum(map(_rss_mb, pids)) / DAEMONS:.0f} MB resident each, "
                  f"{sum(map(_pss_mb, pids)) / DAEMONS:.0f} MB of their own share; {quiet / QUIET_S / DAEMONS:.2%} of a core "
                  f"each with nothing to do; {more_ms:.1f} ms more a reading")  # fmt: skip
        finally:
            for one in running:
                one.terminate()
            for one in running:
                one.wait(120)


def _send(port: int) -> None:
    """Have each yard hear a reading each second."""
    client = mqtt.Client(mqtt.CallbackAPIVersion.VERSION2, protocol=mqtt.MQTTv5)
    client.connect("127.0.0.1", port)
    client.loop_start()
    begun = time.monotonic()
    for number in range(READINGS):
        time.sleep(max(0.0, begun + number - time.monotonic()))
        for yard in range(DAEMONS):
            now = int(time.time() * 1000)
            client.publish(f"yards/{yard}/b0-0/senml", message("b0-0", now, 21.0 + number % 3), qos=1)
    time.sleep(max(0.0, begun + READINGS - time.monotonic()))
    client.disconnect()
    client.loop_stop()


def _cpu_of_all(pids: list[int], work: Callable[[], None]) -> float:
    before = sum(map(_cpu_s, pids))
    work()
    return sum(map(_cpu_s, pids)) - before


def _pss_mb(pid: int) -> float:
    """Return the memory of a process, with what it shares with others divided among them."""
    (line,) = (one for one in Path(f"/proc/{pid}/smaps_rollup").read_text().splitlines() if one.startswith("Pss:"))
    return int(line.split()[1]) * 1024 / 1e6


def _broker(folder: Path) -> None:
    port = free_port()
    (folder / "conf").write_text(
        f"listener {port} 127.0.0.1\nallow_anonymous true\nmax_queued_messages 0\nmax_inflight_messages 0\n"
        f"persistence true\npersistence_location {folder}/\n" + ("user root\n" if os.geteuid() == 0 else "")
    )
    with _running(["/usr/sbin/mosquitto", "-c", str(folder / "conf")], port) as pid:
        bare = _rss_mb(pid)
        yards = [_signed_in(port, f"yard{number}", f"yards/{number}/#") for number in range(YARDS)]
        full = _rss_mb(pid)
        print(
            f"broker: {bare:.1f} MB alone, {full:.1f} MB with {YARDS} yards: {(full - bare) * 1000 / YARDS:.1f} kB a yard"
        )
        nodes = [_signed_in(port, f"node{number}") for number in range(NODES)]
        used, begun = _cpu_s(pid), time.perf_counter()
        for number in range(MESSAGES):
            topic = f"yards/{number % YARDS}/nodes/shed/senml".encode()
            body = (
                len(topic).to_bytes(2, "big") + topic + b"\0\1" + b'[{"n":"p1-a","t":1790000000,"u":"Cel","v":55.0625}]'
            )
            node, yard = nodes[number % NODES], yards[number % YARDS]
            node.sendall(b"\x32" + bytes([len(body)]) + body)
            packet = _packet(yard)
            node_said = _packet(node)
            assert (packet[0] >> 4, node_said[0] >> 4) == (3, 4), "the broker did not hand it on"
            yard.sendall(b"\x40\x02" + _number(packet))
        used, took = _cpu_s(pid) - used, time.perf_counter() - begun
        print(
            f"broker: {used * 1e6 / MESSAGES:.0f} µs of the processor a message, {MESSAGES / took:.0f} messages/s one at a time"
        )
        for one in (*yards, *nodes):
            one.close()


def _number(packet: bytes) -> bytes:
    """Return the number of a message that was handed on, behind its topic."""
    length = int.from_bytes(packet[1:3], "big")
    return packet[3 + length : 5 + length]


def _signed_in(port: int, name: str, topic: str = "") -> socket.socket:
    """Return a connection with a session that is kept (MQTT 3.1.1), subscribed with QoS 1 if a topic is given."""
    one = socket.create_connection(("127.0.0.1", port))
    one.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
    body = b"\0\4MQTT\4\0\0\0" + len(name).to_bytes(2, "big") + name.encode()
    one.sendall(b"\x10" + bytes([len(body)]) + body)
    assert _packet(one)[0] >> 4 == 2
    if topic:
        body = b"\0\1" + len(topic).to_bytes(2, "big") + topic.encode() + b"\1"
        one.sendall(b"\x82" + bytes([len(body)]) + body)
        assert _packet(one)[0] >> 4 == 9
    return one


def _packet(one: socket.socket) -> bytes:
    """Return a packet without its length; all of these are shorter than 128 bytes."""
    head = one.recv(2, socket.MSG_WAITALL)
    return head[:1] + one.recv(head[1], socket.MSG_WAITALL)


def _server(folder: Path) -> None:
    port, yards = free_port(), YARDS // 10
    words = ["victoria-metrics", f"-httpListenAddr=127.0.0.1:{port}", f"-storageDataPath={folder}", "-retentionPeriod=10y",
             "-dedup.minScrapeInterval=1ms", "-loggerLevel=ERROR"]  # fmt: skip
    with _running(words, port) as pid:
        time.sleep(1)
        bare, empty = _rss_mb(pid), _bytes_of(folder)
        used, begun, count = _cpu_s(pid), time.perf_counter(), 0
        draws, heat = random.Random(1), [20 * 16 + number % 640 for number in range(yards * PROBES)]
        first = time.time_ns() // 1_000_000 - DAYS * 86_400_000
        for at in range(first, first + DAYS * 86_400_000, EVERY_MS):
            for number in range(len(heat)):
                heat[number] += draws.choice((-2, -1, 0, 0, 1, 2))
            lines = [_line(number // PROBES, number % PROBES, at, one) for number, one in enumerate(heat)]
            request = urllib.request.Request(
                f"http://127.0.0.1:{port}/api/v2/write?precision=ms", data="\n".join(lines).encode(), method="POST"
            )
            urllib.request.urlopen(request, timeout=60).close()
            count += len(lines)
        urllib.request.urlopen(f"http://127.0.0.1:{port}/internal/force_flush", timeout=60).close()
        urllib.request.urlopen(f"http://127.0.0.1:{port}/internal/force_merge", timeout=60).close()
        time.sleep(5)
        used, took = _cpu_s(pid) - used, time.perf_counter() - begun
        size = _bytes_of(folder) - empty
        print(f"time-series server: {count} readings of {yards * PROBES} probes (raw value, value, flag) in {took:.0f} s: "
              f"{used * 1e6 / count:.0f} µs of the processor and {size / count:.1f} bytes a reading; "
              f"{_rss_mb(pid):.0f} MB resident ({bare:.0f} MB empty)")  # fmt: skip


def _line(yard: int, probe: int, at: int, sixteenths: int) -> str:
    """Return the point of a reading, in sixteenths of a degree as a probe gives it."""
    row = MirroredReading(at, f"p{probe}-a", "temperature", "Cel", sixteenths * 62_500, round(sixteenths * 62.5), 1)
    return tagged(reading_line(row), f"yard{yard}")


@contextmanager
def _running(words: list[str], port: int) -> Iterator[int]:
    process = subprocess.Popen(words, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    try:
        for _ in range(300):
            with socket.socket() as one:
                if one.connect_ex(("127.0.0.1", port)) == 0:
                    break
            time.sleep(0.1)
        yield process.pid
    finally:
        process.terminate()
        process.wait()


def _bytes_of(folder: Path) -> int:
    return sum(path.stat().st_size for path in folder.rglob("*") if path.is_file())


def _cpu_s(pid: int) -> float:
    fields = Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def _rss_mb(pid: int) -> float:
    (line,) = (one for one in Path(f"/proc/{pid}/status").read_text().splitlines() if one.startswith("VmRSS"))
    return int(line.split()[1]) * 1024 / 1e6
