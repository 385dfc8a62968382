"""Tuning and reports of one yard and of several, by processes of this computer and by workers of a real Dask scheduler.

Whole commands are run, as a person would type them; each line has seconds by the clock, seconds of the processor (scheduler and
workers counted in), and how many times the clock of the first line that is.
"""

import gzip
import os
import re
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from monitor.model.times import show_time
from monitor.model.units import Quantity, to_micro
from monitor.recordings import (
    About,
    Label,
    LabelKind,
    ReadingRow,
    read_readings,
    write_labels,
    write_readings,
    write_readings_parquet,
    write_work,
)
from tests.bench.tuning_worth import YARD
from tests.bench.yards import free_port
from tests.worlds.bin_year import bin_year, own_limits

ROOT = Path(__file__).parents[2]
YARDS, SETS = 2, 60
VARY = (
    "--place",
    "b1",
    "--vary",
    "overheating=26..32 degC:0.5",
    "--vary",
    "near_freezing=2..7 degC:0.5",
    "--sets",
    str(SETS),
)


def main(step_s: int = 1_800) -> None:
    """Print the figures."""
    print(f"{os.cpu_count()} cores: more than that many processes at work wait for each other")
    with tempfile.TemporaryDirectory() as name:
        folders = [_yard(Path(name) / f"yard{number}", number, step_s) for number in range(1, YARDS + 1)]
        _files(folders[0])
        _tuning(folders, Path(name))
        for folder in folders:
            _heaptender(folder, "import", "readings.parquet", "--work", "work.csv", "--again")
        _reports(folders, Path(name))


def _yard(folder: Path, seed: int, step_s: int) -> Path:
    """Make a yard with a recorded year of a bin, its work and its labels."""
    folder.mkdir()
    year = bin_year(seed, step_s=step_s, limits=own_limits(seed))
    (folder / "heaptender.toml").write_text(YARD)
    rows = [
        ReadingRow(one.time, one.probe, Quantity(one.quantity), to_micro(one.value), one.unit) for one in year.samples
    ]
    with (folder / "readings.parquet").open("wb") as raw:
        write_readings_parquet(rows, raw, About(folder.name, "UTC"))
    with gzip.open(folder / "readings.csv.gz", "wt", newline="") as text:
        write_readings(rows, text)
    with (folder / "work.csv").open("w", newline="") as text:
        write_work(year.works, text)
    labels = [
        Label(place=one.place, start=one.start, end=one.end, kind=LabelKind(one.kind), note=one.note)
        for one in year.labels
    ]
    with (folder / "labels.csv").open("w", newline="") as text:
        write_labels(labels, text)
    return folder


def _files(folder: Path) -> None:
    for name in ("readings.csv.gz", "readings.parquet"):
        begun = time.process_time()
        rows, _ = read_readings(folder / name)
        used = time.process_time() - begun
        size = (folder / name).stat().st_size
        print(
            f"{name}: {len(rows)} readings in {size / 1e6:.2f} MB, {size / len(rows):.1f} bytes each; read in {used:.2f} s"
        )


def _tuning(folders: list[Path], work: Path) -> None:
    words = ("tune", "readings.parquet", "work.csv", "labels.csv", *VARY, "--json")
    print(f"tune, {SETS} sets, a year of one bin:")
    line = _Lines()
    first = line.of("one yard, --workers 1", lambda: _heaptender(folders[0], *words, "--workers", "1"))
    assert first == line.of("one yard, --workers 2", lambda: _heaptender(folders[0], *words, "--workers", "2"))
    for count in (1, 2):
        with _dask(work / f"one{count}", count) as (address, pids):
            there = (*words, "--cluster", address)
            again = line.of(f"one yard, cluster of {count}", lambda there=there: _heaptender(folders[0], *there), pids)
            assert again == first, "the cluster's answer is another"
    print(f"tune of {len(folders)} yards:")
    line = _Lines()
    alone = line.of(
        "after one another, --workers 2", lambda: [_heaptender(one, *words, "--workers", "2") for one in folders]
    )
    for count in (1, 2):
        with _dask(work / f"all{count}", count) as (address, pids):
            there = (*words, "--cluster", address)
            again = line.of(f"at once, cluster of {count}", lambda there=there: _at_once(folders, *there), pids)
            assert again == alone, "the cluster's answers are others"


def _reports(folders: list[Path], work: Path) -> None:
    several = [str(one) for one in folders * 4]
    year = re.sub(r"-.*", "", show_time(bin_year(1, step_s=3_600, days=2).samples[0].time))
    words = ("report", "--season", year, "--json")
    print(f"report of a season of {len(several)} yards:")
    line = _Lines()
    first = line.of("--workers 1", lambda: _heaptender(work, *words, *several, "--workers", "1"))
    assert first == line.of("--workers 2", lambda: _heaptender(work, *words, *several, "--workers", "2"))
    with _dask(work / "report", 2) as (address, pids):
        assert first == line.of("cluster of 2", lambda: _heaptender(work, *words, *several, "--cluster", address), pids)
    for folder in folders:
        _heaptender(folder, "report", "--season", year, "--parquet", str(folder / "season.parquet"))
    rows = [str(folder / "season.parquet") for folder in folders * 250]
    line.of(f"{len(rows)} rows from as many Parquet files", lambda: _heaptender(work, *words, *rows, "--workers", "1"))


class _Lines:
    """Prints lines, each held against the first."""

    def __init__(self) -> None:
        self._first = 0.0

    def of(self, name, work, pids=()):  # type: ignore[no-untyped-def]
        """Do some work, print what it took, and return what it brought."""
        before, begun = _used(pids), time.perf_counter()
        brought = work()
        took, used = time.perf_counter() - begun, _used(pids) - before
        self._first = self._first or took
        print(
            f"  {name:34} {took:6.1f} s, {used:6.1f} s of the processor, {took / self._first:5.2f} times the first",
            flush=True,
        )
        return brought


def _used(pids: tuple[int, ...] | list[int]) -> float:
    """Return the processor's seconds of all commands that ended, and of some that run."""
    there = os.times()
    found = there.children_user + there.children_system
    for pid in pids:
        fields = Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()
        found += (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")
    return found


def _command(words: tuple[str, ...]) -> list[str]:
    return [sys.executable, "-m", "monitor", *words]


def _environment() -> dict[str, str]:
    return os.environ | {"PYTHONPATH": str(ROOT)}


def _heaptender(folder: Path, *words: str) -> str:
    """Run a command in a yard's folder and return what it prints."""
    config = () if words[0] == "report" and len(words) > 6 else ("--config", str(folder / "heaptender.toml"))
    run = subprocess.run(_command((*words, *config)), cwd=folder, env=_environment(), capture_output=True, text=True)
    if run.returncode:
        sys.exit(f"{words[0]} ended with {run.returncode}: {run.stderr}")
    return run.stdout


def _at_once(folders: list[Path], *words: str) -> list[str]:
    """Run a command in several folders at the same time."""
    running = [
        subprocess.Popen(
            _command((*words, "--config", "heaptender.toml")), cwd=one, env=_environment(), stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL, text=True,
        )
        for one in folders
    ]  # fmt: skip
    return [one.communicate()[0] for one in running]


@contextmanager
def _dask(folder: Path, count: int) -> Iterator[tuple[str, list[int]]]:
    """A scheduler with so many workers; yields its address and the processes."""
    folder.mkdir()
    address = f"tcp://127.0.0.1:{free_port()}"
    started: list[subprocess.Popen[bytes]] = []

    def start(program: str, *words: str) -> None:
        with (folder / "log").open("ab") as log:
            command = [sys.executable, "-m", f"distributed.cli.{program}", *words, "--no-dashboard"]
            started.append(subprocess.Popen(command, stdout=log, stderr=log, cwd=folder, env=_environment()))

    try:
        start("dask_scheduler", "--host", "127.0.0.1", "--port", address.rpartition(":")[2])
        for _ in range(count):
            start("dask_worker", address, "--no-nanny", "--nthreads", "1", "--local-directory", str(folder))
        for _ in range(600):
            if (folder / "log").read_text().count("Registered to:") == count:
                break
            time.sleep(0.1)
        yield address, [one.pid for one in started]
    finally:
        for one in reversed(started):
            one.kill()  # a worker that is asked to end waits for a scheduler that may be gone
            one.wait()
        shutil.rmtree(folder)
