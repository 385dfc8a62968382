"""Readings a second through the whole engine, from memory and from CSV, beside one numpy pass over the same values."""

import gzip
import io
import json
import tempfile
import time
from pathlib import Path

import numpy as np

from monitor.app.replaying import Recording, read_recording, replay
from monitor.configuration import canonical_settings, load_text
from monitor.model.events import Event, EventKind
from monitor.proof import rule_ids
from monitor.recordings import plan_commits, read_readings
from tests.bench.yards import config_text

DAYS = 20
PROBES = 20


def main() -> None:
    configuration = load_text(config_text(1, piles=2, bins=2, probes_each=5), None, {}, rules=rule_ids())
    names = list(configuration.settings.probes)
    rng = np.random.default_rng(1)
    steps = DAYS * 1440
    heat = {n: (58 if n.startswith("p") else 21) + np.cumsum(rng.normal(0, 0.02, steps)) for n in names}
    begun = time.perf_counter()
    for values in heat.values():
        np.count_nonzero(values > 55.0)
    floor = len(names) * steps / (time.perf_counter() - begun)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "readings.csv.gz"
        _write(path, heat, steps)
        begun = time.perf_counter()
        rows, _ = read_readings(path)
        read = time.perf_counter() - begun
        planned = list(plan_commits(rows, []))
        settings = {"settings": json.loads(canonical_settings(configuration.settings))}
        events = [Event(planned[0].at - 1, EventKind.SETTINGS, settings), *planned]
        begun = time.perf_counter()
        effects = replay(Recording(events))
        run = time.perf_counter() - begun
        begun = time.perf_counter()
        replay(read_recording([path], [], lambda: configuration))
        whole = time.perf_counter() - begun
    count = len(names) * steps
    print(f"{count:,} readings of {len(names)} probes, {DAYS} days, a minute apart; {len(effects)} effects")
    print(f"one numpy pass: {floor:,.0f}/s; CSV reader: {count / read:,.0f}/s")
    print(f"engine, one event at a time: {count / run:,.0f}/s; from CSV.gz, all in all: {count / whole:,.0f}/s")
    print(
        f"a year of 20 probes each minute (10.5 million) would take {10_512_000 / (count / run) / 60:.0f} min (goal 10 s)"
    )


def _write(path: Path, heat: dict[str, "np.ndarray"], steps: int) -> None:
    text = io.StringIO()
    text.write("time,probe,quantity,value,unit\n")
    base = np.datetime64("2026-05-01T00:00:00", "s")
    for step in range(steps):
        stamp = str(base + np.timedelta64(step * 60, "s")) + "Z"
        for name, values in heat.items():
            text.write(f"{stamp},{name},temperature,{values[step]:.4f},Cel\n")
    with gzip.open(path, "wt", compresslevel=1) as out:
        out.write(text.getvalue())
