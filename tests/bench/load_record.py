"""A record of very many readings: how long everything takes that people wait for, how much memory, how large the file.

`BENCH_READINGS` says how many (20 million unless it is set; 200 million take some minutes to make, and 1 GB), `BENCH_FOLDER`
where the record is made or, if it is there already, found.

The record is a true one (its blocks, spans and hashes are those that the writer would have written) but for one thing: no
engine saw the readings of the past, so no decisions stand beside them, up to the last heap of each pile.
"""

import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from monitor.engine import Engine
from monitor.journal import Kept, backup, journal_path, open_writer
from monitor.model.times import DAY_MS
from tests.bench.load_history import EACH, START, make_day, make_history
from tests.bench.load_watch import Loaded
from tests.bench.process_figures import cpu_s, memory_mib
from tests.bench.yards import config_text

READINGS = int(os.environ.get("BENCH_READINGS", "20000000"))
PLACES = 10


def main() -> None:
    with tempfile.TemporaryDirectory(dir="/var/tmp") as name:
        folder = Path(os.environ.get("BENCH_FOLDER", name))
        text = config_text(1, piles=PLACES, bins=PLACES, probes_each=EACH)
        begun = time.monotonic()
        if not journal_path(folder / "data").exists():
            make_history(folder, text, READINGS)
            print(f"  made in {time.monotonic() - begun:.0f} s", flush=True)
        size = journal_path(folder / "data").stat().st_size
        print(f"  {READINGS:,} readings: {size / 1e6:,.0f} MB, {size / READINGS:.2f} bytes each", flush=True)
        _daemon(folder, text)
        for words in (["status"], ["certify", "--batch", "p9"], ["certify", "--batch", "p0"], ["check"], ["report"]):
            _command(folder, words)
        _upkeep(folder)


def _daemon(folder: Path, text: str) -> None:
    begun = time.monotonic()
    one = Loaded(folder, 1, os.getpid(), text)
    try:
        one.shown()
        print(f"  from its start to the first sheet: {time.monotonic() - begun:.1f} s")
        for path in ("/", "/place/p0?span=3days", "/place/p0?span=built", "/place/b0?span=2weeks", "/diary", "/season"):
            took = []
            for _ in range(3):
                begun = time.monotonic()
                body = one.get(path)
                took.append(time.monotonic() - begun)
            print(f"  {path}: first {took[0]:.2f} s, then {min(took[1:]):.2f} s, {len(body or b'') / 1e3:.0f} KB")
        print(f"  resident {memory_mib(one.process.pid):.0f} MiB, peak {memory_mib(one.process.pid, 'VmHWM'):.0f} MiB")
    finally:
        one.end()


def _command(folder: Path, words: list[str]) -> None:
    command = [sys.executable, "-m", "monitor", *words, "--config", str(folder / "heaptender.toml")]
    begun, peak, used = time.monotonic(), 0.0, 0.0
    with (folder / "said.txt").open("w+") as said:
        child = subprocess.Popen(command, stdout=said, stderr=subprocess.STDOUT)
        while child.poll() is None:
            peak, used = max(peak, memory_mib(child.pid, "VmHWM")), max(used, cpu_s(child.pid))
            time.sleep(0.02)
        said.seek(0)
        first = said.readline().strip()[:150]
    print(f"  {' '.join(words)}: {time.monotonic() - begun:.1f} s ({used:.1f} s of the processor), peak {peak:.0f} MiB, "
          f"ends with {child.returncode}: {first}", flush=True)  # fmt: skip


def _upkeep(folder: Path) -> None:
    """A day's readings, packed; the oldest day, dropped; a copy."""
    with open_writer(folder / "data", Engine, Engine.restore) as writer:
        day = make_day(writer)
        last = writer.engine.last
        begun = time.monotonic()
        moved = writer.pack_closed_hours(last + 2 * DAY_MS)
        print(f"  {day:,} readings of a day packed ({moved:,} moved): {time.monotonic() - begun:.1f} s")
        begun = time.monotonic()
        kept = Kept(now=last, days=(last - START) // DAY_MS - 1)
        pruned = writer.prune(kept)
        print(
            f"  the oldest days dropped ({len(pruned.days)}, {pruned.rows:,} readings): {time.monotonic() - begun:.1f} s"
        )
    begun = time.monotonic()
    backup(folder / "data", folder / "copy.db")
    print(f"  a copy: {time.monotonic() - begun:.1f} s")
    (folder / "copy.db").unlink()
