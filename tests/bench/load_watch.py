"""A daemon under load, and what can be seen of it from outside: memory, the page, single probes, and what it tells."""

import http.client
import json
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

import paho.mqtt.client as mqtt

from monitor.journal import open_reader
from monitor.journal.store import Store
from tests.bench.load_wire import BINS, EACH, PILES, SOLO, sending
from tests.bench.process_figures import memory_mib
from tests.bench.yards import broker_process, config_text, free_port, message, probe_names

TOKEN = "figures-for-the-benchmark"
LOOK_EVERY_S = 0.5
SETTLED_S = 600.0

LONE = probe_names(PILES, BINS, EACH)[-SOLO:]
"""Probes that speak once a second each, whatever the others do."""


@dataclass
class Seen:
    """What was measured while the load lasted.

    Attributes:
        page_s: How long each look at the yard's sheet took.
        failed: Looks that got no sheet.
        resident: Memory of the daemon and of the broker at each look, MiB.
    """

    page_s: list[float] = field(default_factory=list)
    failed: int = 0
    resident: list[tuple[float, float]] = field(default_factory=list)


class Loaded:
    """A yard's daemon in a process of its own, with its broker, its page and its lone probes."""

    def __init__(self, folder: Path, port: int, keeper: int, text: str) -> None:
        self.folder, self.port, self._keeper = folder, port, keeper
        self.page = free_port()
        config = folder / "heaptender.toml"
        config.write_text(f'{text}\n[page]\nport = {self.page}\nmetrics_token = "{TOKEN}"\n')
        self._log = folder / "daemon.log"
        with self._log.open("wb") as log:
            command = [sys.executable, "-m", "monitor", "run", "--config", str(config)]
            self.process = subprocess.Popen(command, stdout=log, stderr=log)
        self._ended = threading.Event()
        self.seen = Seen()
        self.spoken = 0

    def up(self) -> None:
        """Wait until it listens and shows its page, and has heard every probe twice."""
        self.shown()
        while "mqtt is up" not in self.log():
            time.sleep(0.05)
        self.settled(int(outcome(sending(self.port, "known", 500, 4.0, 1))["sent"]))

    def shown(self) -> None:
        """Wait until it shows its page."""
        while self._look() is None:
            if self.process.poll() is not None:
                raise RuntimeError(self.log())
            time.sleep(0.05)

    def log(self) -> str:
        return self._log.read_text("utf-8", "replace")

    def store(self) -> Store:
        return open_reader(self.folder / "data")

    @contextmanager
    def watched(self) -> Iterator[Seen]:
        """Watch memory and page, and let the lone probes speak, as long as the block lasts."""
        self._ended.clear()
        self.seen = Seen()
        threads = [threading.Thread(target=one, daemon=True) for one in (self._watch, self._speak)]
        for thread in threads:
            thread.start()
        try:
            yield self.seen
        finally:
            self._ended.set()
            for thread in threads:
                thread.join()

    def counted(self) -> tuple[int, int, int]:
        """Return readings stored, further values beside them, and what was set aside."""
        with self.store() as store, store.view():
            rows = store.connection.execute("SELECT count(*) FROM reading").fetchone()[0]
            rows += store.connection.execute("SELECT coalesce(sum(rows), 0) FROM block").fetchone()[0]
            further = store.connection.execute("SELECT count(*) FROM further").fetchone()[0]
            return rows, further, sum(one.total for one in store.set_aside())

    def settled(self, wanted: int, limit_s: float = SETTLED_S) -> float:
        """Wait until `wanted` readings and values have come, stored or set aside, or nothing more comes; return the seconds."""
        begun, last, still = time.monotonic(), -1, 0.0
        while time.monotonic() - begun < limit_s:
            came = sum(self.counted())
            if came >= wanted:
                break
            still = time.monotonic() if came != last else still
            last = came
            if time.monotonic() - still > 10.0:
                break
            time.sleep(0.5)
        return time.monotonic() - begun

    def lags_ms(self) -> list[int]:
        """Return how long after its own time each reading of a lone probe was stored, ms, in order."""
        with self.store() as store:
            rows = store.connection.execute(
                f"SELECT lag FROM reading JOIN series ON series.id = series WHERE probe IN ({','.join('?' * SOLO)})",
                LONE,
            )
            return sorted(lag for (lag,) in rows)

    def told(self) -> str:
        """Return what status, log and figures say of what was not taken in."""
        lines = [
            f"  status: {line}" for line in self._status() if "et aside" in line or "lost" in line or "Fault" in line
        ]
        figures = self.get("/metrics", {"authorization": f"Bearer {TOKEN}"}) or b""
        words = ("heaptender_set_aside", "heaptender_lost")
        lines += [f"  /metrics: {one}" for one in figures.decode().splitlines() if one.startswith(words)]
        lines += [f"  log: {one[:200]}" for one in self.log().splitlines()[-200:] if "WARN" in one or "ERROR" in one][
            -8:
        ]
        return "\n".join(lines)

    def _status(self) -> list[str]:
        command = [sys.executable, "-m", "monitor", "status", "--config", str(self.folder / "heaptender.toml")]
        return subprocess.run(command, capture_output=True, text=True, check=False).stdout.splitlines()

    def _watch(self) -> None:
        while not self._ended.is_set():
            took = self._look()
            if took is None:
                self.seen.failed += 1
            else:
                self.seen.page_s.append(took)
            self.seen.resident.append((memory_mib(self.process.pid, "VmRSS"), memory_mib(self._keeper, "VmRSS")))
            self._ended.wait(LOOK_EVERY_S)

    def _speak(self) -> None:
        client = mqtt.Client(mqtt.CallbackAPIVersion.VERSION2, protocol=mqtt.MQTTv5)
        client.connect("127.0.0.1", self.port)
        client.loop_start()
        begun, count = time.monotonic(), 0
        while not self._ended.wait(max(0.0, begun + count / SOLO - time.monotonic())):
            name = LONE[count % SOLO]
            client.publish(f"nodes/{name}/senml", message(name, int(time.time() * 1000), 21.0 + count % 7 / 16), qos=1)
            count += 1
        self.spoken += count
        client.disconnect()
        client.loop_stop()

    def _look(self) -> float | None:
        begun = time.monotonic()
        return None if self.get("/") is None else time.monotonic() - begun

    def get(self, path: str, headers: dict[str, str] | None = None) -> bytes | None:
        connection = http.client.HTTPConnection("127.0.0.1", self.page, timeout=60)
        try:
            connection.request("GET", path, headers=headers or {})
            answer = connection.getresponse()
            body = answer.read()
            return body if answer.status == 200 else None
        except OSError:
            return None
        finally:
            connection.close()

    def end(self) -> None:
        self.process.terminate()
        self.process.wait(30)


@contextmanager
def loaded(*, version: str = "5") -> Iterator[Loaded]:
    """A yard of 1,000 probes in 100 places, with its daemon and a broker that drops nothing."""
    with broker_process(keeps=True) as (port, keeper), tempfile.TemporaryDirectory(dir="/var/tmp") as name:
        text = config_text(port, piles=PILES, bins=BINS, probes_each=EACH)
        text = text.replace('client_id = "bench"', f'client_id = "bench"\nversion = "{version}"')
        one = Loaded(Path(name), port, keeper, text)
        try:
            one.up()
            yield one
        finally:
            one.end()


def report(one: Loaded, seen: Seen, sent: int, before: tuple[int, int, int]) -> None:
    """Print what became of `sent` messages of the load beside those of the lone probes."""
    rows, further, aside = (now - then for now, then in zip(one.counted(), before, strict=True))
    print(f"  sent {sent:,} and {one.spoken:,} of the lone probes: {rows:,} readings stored, {further:,} further values, "
          f"{aside:,} set aside")  # fmt: skip
    lags = one.lags_ms()
    if lags:
        middle, late = lags[len(lags) // 2], lags[int(len(lags) * 0.99)]
        print(f"  {len(lags):,} readings of the lone probes were stored after: median {middle} ms, p99 {late} ms, "
              f"longest {lags[-1]} ms")  # fmt: skip
    looks = sorted(seen.page_s)
    if looks:
        print(f"  the yard's sheet, {len(looks)} looks: median {looks[len(looks) // 2] * 1000:.0f} ms, "
              f"slowest {looks[-1] * 1000:.0f} ms, {seen.failed} without an answer")  # fmt: skip
    first, peak = seen.resident[0], [max(part) for part in zip(*seen.resident, strict=True)]
    print(f"  resident: daemon {first[0]:.0f} to {peak[0]:.0f} MiB (peak {memory_mib(one.process.pid, 'VmHWM'):.0f}), "
          f"broker {first[1]:.0f} to {peak[1]:.0f} MiB")  # fmt: skip
    print(one.told(), flush=True)


def outcome(child: "subprocess.Popen[str]") -> dict[str, float]:
    """Wait for a sender and return what it printed."""
    found: dict[str, float] = json.loads(child.communicate()[0])
    return found
