"""Bytes that a yard of 20 probes, one reading a minute each, has written to a disk in a day.

`python -m tests.bench card` lets the real daemon run for some minutes, and then the journal's writer alone for some days, as
fast as it goes; each probe speaks at a moment of its own (*each*), or all in one message (*together*). `BENCH_CARD` names a
folder for the files: on a disk of its own (a file that is mounted will do), whose own count then holds the file system's
book-keeping too. `BENCH_MINUTES` and `BENCH_DAYS` say how long, `BENCH_EVERY` how many minutes apart the probes of the second
part speak. A folder in memory, as /tmp may be, counts nothing.
"""

import json
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import paho.mqtt.client as mqtt

from monitor.configuration import canonical_settings, load_text
from monitor.engine import Engine
from monitor.journal import Writer, backup, journal_path, open_writer
from monitor.model.events import EventKind
from monitor.model.readings import Reading
from monitor.model.times import DAY_MS, HOUR_MS, MINUTE_MS
from monitor.proof.rules import rule_ids
from tests.bench.yards import START_MS, broker_process, config_text, message, probe_names

PROBES = probe_names(2, 2, 5)
A_DAY = 24 * 60
PACK_AFTER_MS = 2 * DAY_MS


def main() -> None:
    minutes, days = int(os.environ.get("BENCH_MINUTES", "3")), int(os.environ.get("BENCH_DAYS", "3"))
    with tempfile.TemporaryDirectory(dir=os.environ.get("BENCH_CARD")) as folder:
        if minutes:
            for way in ("each", "together"):
                _daemon(Path(folder) / way, minutes, way)
        for way in ("each", "together") if days else ():
            _writer(Path(folder) / f"writer-{way}", days, way)


def _daemon(folder: Path, minutes: int, way: str) -> None:
    """Let the daemon live in real time: each probe speaks at a moment of its own, or all in one message."""
    folder.mkdir()
    with broker_process(keeps=True) as (port, keeper):
        config = folder / "heaptender.toml"
        config.write_text(f"{config_text(port, piles=2, bins=2, probes_each=5)}\n[page]\non = false\n")
        command = [sys.executable, "-m", "monitor", "run", "--config", str(config)]
        daemon = subprocess.Popen(command, stderr=subprocess.DEVNULL)
        try:
            client = mqtt.Client(mqtt.CallbackAPIVersion.VERSION2, protocol=mqtt.MQTTv5)
            client.connect("127.0.0.1", port)
            client.loop_start()
            time.sleep(8)
            with (
                _counted(f"broker, {way}, {minutes} min", None, keeper, minutes),
                _counted(f"daemon, {way}, {minutes} min", folder, daemon.pid, minutes),
            ):
                start = time.monotonic()
                for step in range(minutes * len(PROBES)):
                    minute, number = divmod(step, len(PROBES))
                    if way == "each":
                        due = start + (minute + number / len(PROBES)) * 60
                        time.sleep(max(0.0, due - time.monotonic()))
                        pack = message(PROBES[number], int(time.time() * 1000), _heat(PROBES[number], minute))
                        client.publish(f"nodes/{PROBES[number]}/senml", pack, qos=1)
                    elif number == 0:
                        time.sleep(max(0.0, start + minute * 60 - time.monotonic()))
                        records = ",".join(
                            f'{{"n":"{name}","u":"Cel","v":{_heat(name, minute):.4f}}}' for name in PROBES
                        )
                        client.publish("nodes/all/senml", f"[{records}]", qos=1)
                time.sleep(max(0.0, start + minutes * 60 - time.monotonic()))
            client.disconnect()
            client.loop_stop()
        finally:
            daemon.terminate()
            daemon.wait(10)


def _writer(folder: Path, days: int, way: str) -> None:
    """Feed the writer days of the same yard by its own times, with packing each hour and a copy each day."""
    text = config_text(1883, piles=2, bins=2, probes_each=5)
    settings = load_text(text, Path("heaptender.toml"), {}, rules=rule_ids()).settings
    folder.mkdir()
    with open_writer(folder, Engine, Engine.restore) as writer:
        with writer.turn(START_MS - HOUR_MS) as turn:
            turn.event(EventKind.STARTED, {"down_since": None})
            turn.event(EventKind.SETTINGS, {"settings": json.loads(canonical_settings(settings))})
        for day in range(days):
            with _counted(f"writer, {way}, day {day + 1}", folder, os.getpid(), A_DAY):
                _day(writer, day, way)
            size = journal_path(folder).stat().st_size
            copy = folder / f"copy-{day}.sqlite"
            with _counted("  its copy", folder, os.getpid(), A_DAY):
                backup(folder, copy)
            print(f"  journal {size:,} bytes, copy {copy.stat().st_size:,}")
            copy.unlink()


def _day(writer: Writer, day: int, way: str) -> None:
    packed = -1
    for minute in range(day * A_DAY, (day + 1) * A_DAY, int(os.environ.get("BENCH_EVERY", "1"))):
        at = START_MS + minute * MINUTE_MS
        rows = [
            Reading(at + number * (MINUTE_MS // len(PROBES)), name, round(_heat(name, minute) * 1000) * 1000, "Cel")
            for number, name in enumerate(PROBES)
        ]
        for part in [[row] for row in rows] if way == "each" else [rows]:
            now = part[-1].time + 200
            with writer.turn(now) as turn:
                turn.readings(part)
                turn.advance(now)
        if minute // 60 != packed:
            packed = minute // 60
            writer.pack_closed_hours(at - PACK_AFTER_MS, limit_rows=100_000)


def _heat(probe: str, minute: int) -> float:
    """Return a temperature that moves by sixteenths of a degree, as probes of the usual chip do."""
    sixteenths = (minute * 7919 + len(PROBES) * sum(probe.encode())) % 13 - 6
    return (60.0 if probe.startswith("p") else 21.0) + (sixteenths + minute % 97 // 8) / 16


@contextmanager
def _counted(what: str, folder: Path | None, pid: int, minutes: int) -> Iterator[None]:
    before = _process(pid), _disk(folder)
    yield
    os.sync()
    after = _process(pid), _disk(folder)
    spans = [(later - earlier) * A_DAY / minutes / 1e6 for earlier, later in zip(before, after, strict=True)]
    disk = f", {spans[1]:.1f} MB a day by the disk" if spans[1] else ""
    print(f"{what}: {spans[0]:.1f} MB a day by the process{disk}", flush=True)


def _process(pid: int) -> int:
    """Return the bytes that a process had sent to a disk (`write_bytes` of proc(5))."""
    for line in Path(f"/proc/{pid}/io").read_text().splitlines():
        if line.startswith("write_bytes"):
            return int(line.split()[1])
    return 0


def _disk(folder: Path | None) -> int:
    """Return the bytes written to the disk that a folder lies on, by whomever."""
    if folder is None:
        return 0
    device = folder.stat().st_dev
    counts = Path(f"/sys/dev/block/{os.major(device)}:{os.minor(device)}/stat")
    return int(counts.read_text().split()[6]) * 512 if counts.exists() else 0
