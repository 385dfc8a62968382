"""How long the page takes from a record of ten million readings, beside a static file from the same server."""

import http.client
import json
import random
import re
import tempfile
import time
from pathlib import Path

import numpy as np

from monitor.app.daemon.daemon import Daemon
from monitor.app.loop.clock import ScaledClock
from monitor.configuration import canonical_settings, load_text
from monitor.engine import Engine
from monitor.journal import open_writer
from monitor.journal.blocks import BLOCK_ROWS, Columns, pack
from monitor.model.events import EventKind
from monitor.model.readings import Reading
from monitor.proof.rules import rule_ids
from tests.bench.yards import config_text

START = 1_780_000_000_000
MINUTE = 60_000
PROBES = 20
ROWS = 500_000
"""A probe: nearly a year, one reading a minute; ten million in all."""


def main() -> None:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        text = config_text(1, piles=2, bins=2, probes_each=5)
        begun = time.perf_counter()
        end = _fill(folder, text)
        size = (folder / "data" / "journal.db").stat().st_size
        print(f"{PROBES * ROWS:,} readings in {size / 1e6:.0f} MB, made in {time.perf_counter() - begun:.0f} s")
        configuration = load_text(text, folder / "heaptender.toml", {}, rules=rule_ids())
        daemon = Daemon(configuration, ScaledClock(end + MINUTE, 1.0), any_port=True)
        import threading

        running = threading.Thread(target=daemon.run, daemon=True)
        running.start()
        while not daemon.page.address:
            time.sleep(0.05)
        port = int(daemon.page.address.rsplit(":", 1)[1])
        try:
            _measure(port)
        finally:
            daemon.stop.set()
            daemon.hub.wake()
            running.join(10)


def _measure(port: int) -> None:
    css = _get(port, "/")[1].decode().split('rel="stylesheet" href="')[1].split('"')[0]
    floor, css_bytes, _ = _median(port, css)
    print(f"a static file ({css_bytes / 1e3:.0f} KB): {floor:.1f} ms")
    for what, path in (
        ("the yard", "/"),
        ("a pile, 3 days", "/place/p0?span=3days"),
        ("a pile, since it was built 347 days ago", "/place/p0?span=built"),
        ("a bin, 2 weeks", "/place/b0?span=2weeks"),
    ):
        took, plain, packed = _median(port, path)
        files = re.findall(r'"(/static/[^"]+\.(?:css|js)[^"]*)"', _get(port, path)[1].decode())
        whole = plain + sum(len(_get(port, one)[1]) for one in files)
        print(
            f"{what}: {took:.0f} ms ({took / floor:.0f} x a static file), {plain / 1e3:.0f} KB "
            f"({packed / 1e3:.0f} KB packed), with stylesheets and scripts {whole / 1e3:.0f} KB"
        )


def _median(port: int, path: str, tries: int = 7) -> tuple[float, int, int]:
    took = []
    for _ in range(tries):
        begun = time.perf_counter()
        plain = len(_get(port, path)[1])
        took.append((time.perf_counter() - begun) * 1000)
    return sorted(took)[tries // 2], plain, len(_get(port, path, packed=True)[1])


def _get(port: int, path: str, *, packed: bool = False) -> tuple[int, bytes]:
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
    connection.request("GET", path, headers={"accept-encoding": "gzip" if packed else "identity"})
    answer = connection.getresponse()
    body = answer.read()
    connection.close()
    assert answer.status == 200, (path, answer.status)
    return answer.status, body


def _fill(folder: Path, text: str) -> int:
    """Put the readings straight into blocks: the page is measured, not the way there."""
    (folder / "heaptender.toml").write_text(text)
    configuration = load_text(text, folder / "heaptender.toml", {}, rules=rule_ids())
    configuration.data.mkdir(parents=True, exist_ok=True)
    rng = np.random.default_rng(1)
    names = list(configuration.settings.probes)[:PROBES]
    with open_writer(configuration.data, Engine, Engine.restore) as writer:
        with writer.turn(START - 1000) as turn:
            turn.event(EventKind.STARTED, {"down_since": None})
            turn.event(EventKind.SETTINGS, {"settings": json.loads(canonical_settings(configuration.settings))})
        last = START + ROWS * MINUTE
        with writer.turn(last + 1000) as turn:
            turn.event(EventKind.WORK, {"time": START, "place": "p0", "kind": "built"})
            quick = random.Random(1)
            turn.readings([Reading(last, one, 25_000_000 + quick.randrange(16) * 62_500, "Cel") for one in names])
        connection = writer.store.connection
        connection.execute("BEGIN IMMEDIATE")
        for one in names:
            series = writer.store.book.number[one, "Cel"]
            times = START + np.arange(ROWS, dtype=np.int64) * MINUTE
            micro = 25_000_000 + (rng.integers(-1, 2, ROWS).cumsum() % 320) * 62_500
            lag = np.full(ROWS, 500, np.int64)
            for first in range(0, ROWS, BLOCK_ROWS):
                part = slice(first, min(first + BLOCK_ROWS, ROWS))
                columns = Columns(times[part], micro[part].astype(np.int64), lag[part])
                connection.execute(
                    "INSERT INTO block (series, first, last, rows, at_min, at_max, data) VALUES (?, ?, ?, ?, ?, ?, ?)",
                    (series, int(columns.time[0]), int(columns.time[-1]), len(columns.time),
                     int(columns.time[0]) + 500, int(columns.time[-1]) + 500, pack(columns)),
                )  # fmt: skip
        connection.execute("COMMIT")
    return last
