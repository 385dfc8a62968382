"""How long a start takes, with a short and a long history."""

import json
import random
import tempfile
import time
from pathlib import Path

from monitor.configuration import canonical_settings, load_text
from monitor.engine import Engine
from monitor.journal import open_writer
from monitor.model.events import EventKind
from monitor.model.readings import Reading
from monitor.proof.rules import rule_ids
from tests.bench.yards import config_text

START = 1_780_000_000_000


def main() -> None:
    for rows in (2_000, 300_000):
        with tempfile.TemporaryDirectory() as name:
            folder = Path(name)
            _fill(folder, rows)
            took = []
            for _ in range(5):
                begun = time.perf_counter()
                with open_writer(folder, Engine, Engine.restore):
                    took.append(time.perf_counter() - begun)
            print(f"journal of {rows:,} readings: opened and restored in {sorted(took)[2] * 1000:.0f} ms (median of 5)")


def _fill(folder: Path, rows: int) -> None:
    rng = random.Random(1)
    configuration = load_text(config_text(1, piles=2, bins=2, probes_each=5), None, {}, rules=rule_ids())
    names = list(configuration.settings.probes)
    with open_writer(folder, Engine, Engine.restore) as writer:
        with writer.turn(START - 1000) as turn:
            turn.event(EventKind.STARTED, {"down_since": None})
            turn.event(EventKind.SETTINGS, {"settings": json.loads(canonical_settings(configuration.settings))})
        for first in range(0, rows, 2_000):
            batch = [
                Reading(
                    START + n // 20 * 60_000 + n % 20, names[n % 20], 50_000_000 + rng.randrange(16) * 62_500, "Cel"
                )
                for n in range(first, first + 2_000)
            ]
            with writer.turn(batch[-1].time) as turn:
                turn.readings(batch)
