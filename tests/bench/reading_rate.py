"""Readings a second out of CSV, gzipped CSV and the store's blocks into commits, and on to effects, beside their floors.

Processor time is measured, not the clock. The files lie in a temporary folder; a year of 20 probes takes 850 MB there.
"""

import csv
import gzip
import shutil
import tempfile
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path
from types import SimpleNamespace
from typing import Any, cast

import numpy as np

from monitor.app.replay.replaying import Recording, read_recording, replay
from monitor.configuration import Configuration
from monitor.engine import Engine
from monitor.engine.stretch import Commits, replay_pieces
from monitor.journal import Store, open_reader, open_writer
from monitor.journal.blocks import BLOCK_ROWS, Columns, unpack
from monitor.journal.columns import read_pieces
from monitor.journal.engine_port import Machine
from monitor.journal.packing import replace_block
from monitor.model.events import Event, EventKind
from monitor.model.settings import Bin, Probe, Settings
from monitor.model.times import show_time
from monitor.model.units import Quantity
from monitor.model.words import Role
from monitor.recordings import Problems, joined, plan_pieces, show_micro, stream_columns
from tests.bench.replay_rate import DAYS, START_MS, _columns, _yard


def main() -> None:
    """Measure a year of bins and the quiet year of `replay`."""
    for name, (settings, commits) in (("bins", _bins(DAYS)), ("quiet yard", _yard(DAYS, noisy=False)[:2])):
        print(f"{name}: {len(commits.time):,} readings of {len(commits.names)} probes, {DAYS} days")
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "readings.csv"
            _write_csv(commits, path)
            _of_files(path, settings, len(commits.time))
            path.unlink()
        with tempfile.TemporaryDirectory() as folder:
            _write_store(commits, Path(folder))
            with open_reader(Path(folder)) as store, store.view():
                _of_store(store, settings, len(commits.time))


def _of_files(path: Path, settings: Settings, count: int) -> None:
    packed = path.with_suffix(".csv.gz")
    with path.open("rb") as plain, gzip.open(packed, "wb", compresslevel=1) as out:
        shutil.copyfileobj(plain, out, 1 << 20)
    floor = _rate(count, lambda: _through_csv_reader(path))
    unzip = _rate(count, lambda: _through_gzip(packed))
    read, of_packed = (_rate(count, partial(_commits_of, file)) for file in (path, packed))
    packed.unlink()
    print(f"  CSV into commits: {read:,.0f}/s, {read / floor:.1f} of csv.reader alone ({floor:,.0f}/s)")
    print(f"  CSV.gz into commits: {of_packed:,.0f}/s, {of_packed / unzip:.2f} of unpacking alone ({unzip:,.0f}/s)")
    _end_to_end(
        "CSV",
        count,
        lambda: read_recording([path], [], lambda: cast("Configuration", SimpleNamespace(settings=settings))),
    )


def _of_store(store: Store, settings: Settings, count: int) -> None:
    floor = _rate(count, lambda: _unpacked(store))
    read = _rate(count, lambda: read_pieces(store))
    print(f"  blocks into commits: {read:,.0f}/s, {read / floor:.2f} of unpacking alone ({floor:,.0f}/s)")
    first = Event(START_MS - 1, EventKind.SETTINGS, {"settings": settings})
    _end_to_end("blocks", count, lambda: Recording([first, *read_pieces(store)]))


def _end_to_end(name: str, count: int, read: Callable[[], Recording]) -> None:
    begun = time.process_time()
    recording = read()
    effects = replay(recording)
    whole = count / (time.process_time() - begun)
    begun = time.process_time()
    replay_pieces(Engine(), recording.pieces)
    alone = count / (time.process_time() - begun)
    print(
        f"  {name} to effects: {whole:,.0f}/s ({len(effects)} effects), {whole / alone:.2f} of replay alone ({alone:,.0f}/s)"
    )


def _rate(count: int, work: Callable[[], Any]) -> float:
    begun = time.process_time()
    work()
    return count / (time.process_time() - begun)


def _columns_of(path: Path) -> Any:
    return joined(stream_columns(path, Problems()))


def _commits_of(path: Path) -> None:
    plan_pieces(_columns_of(path), [])


def _through_csv_reader(path: Path) -> None:
    with path.open(newline="") as file:
        for _ in csv.reader(file):
            pass


def _through_gzip(path: Path) -> None:
    with gzip.open(path) as file:
        while file.read(1 << 18):
            pass


def _unpacked(store: Store) -> None:
    for (data,) in store.connection.execute("SELECT data FROM block"):
        unpack(data)


def _bins(days: int) -> tuple[Settings, Commits]:
    """Five bins of four probes, each minute."""
    bins = {f"b{n}": Bin(name=f"Bin {n}") for n in range(5)}
    probes = {f"{b}-{n}": Probe(place=b, role=Role.BEDDING, address="") for b in bins for n in range(3)}
    probes |= {f"{b}-m": Probe(place=b, role=Role.BEDDING, address="", quantity=Quantity.MOISTURE) for b in bins}
    day = np.arange(days * 1440) / 1440
    heat = 8 * np.maximum(0, np.sin(day / 7)) ** 30
    warm = 18 + 5 * np.sin((day - 100) / 58) + 2 * np.sin(day * 2 * np.pi) + heat
    moist = 73 + 6 * np.sin(day / 19)
    values = {name: moist if name.endswith("m") else warm + number / 9 for number, name in enumerate(sorted(probes))}
    return Settings(bins=bins, probes=probes), _columns(values)


def _write_csv(commits: Commits, path: Path) -> None:
    """Write the file that `export readings` would write."""
    names = [f",{name},{'moisture' if name.endswith('m') else 'temperature'}," for name in commits.names]
    units = [f",{unit}," for unit in commits.units]
    texts: dict[int, str] = {}
    step = 10_000
    with path.open("w") as out:
        out.write("time,probe,quantity,value,unit,received,quality\n")
        for begin in range(0, len(commits), step):
            part = commits.part(begin, min(begin + step, len(commits)))
            shown = [show_time(at) for at in part.at.tolist()]
            owner = np.repeat(np.arange(len(part)), np.diff(part.first)).tolist()
            lines = []
            for at, probe, micro, unit in zip(
                owner, part.probe.tolist(), part.micro.tolist(), part.unit.tolist(), strict=True
            ):
                text = texts.get(micro) or texts.setdefault(micro, show_micro(micro))
                lines.append(f"{shown[at]}{names[probe]}{text}{units[unit]}{shown[at]},1\n")
            out.writelines(lines)


class _NoEngine:
    """Decides nothing: the store is filled beside it."""

    def __getattr__(self, name: str) -> Callable[..., Any]:
        return lambda *_: b"" if name == "snapshot" else []


def _write_store(commits: Commits, folder: Path) -> None:
    """Fill a store with packed blocks, as a daemon's hours leave them behind."""
    none = cast("Machine", _NoEngine())
    with open_writer(folder, lambda: none, lambda _: none) as writer:
        store = writer.store
        store.connection.execute("BEGIN IMMEDIATE")
        for code, name in enumerate(commits.names):
            rows = np.flatnonzero(commits.probe == code)
            number = store.book.add(name, commits.units[commits.unit[rows[0]]])
            for begin in range(0, len(rows), BLOCK_ROWS):
                mine = rows[begin : begin + BLOCK_ROWS]
                columns = Columns(commits.time[mine], commits.micro[mine], np.full(len(mine), 0))
                replace_block(store.connection, number, None, columns)
        store.connection.execute("COMMIT")
