"""Bytes a reading: as fresh rows, and in blocks."""

import random
import tempfile
from pathlib import Path

from monitor.engine import Engine
from monitor.journal import JOURNAL_FILE, open_writer
from monitor.model.readings import Reading
from monitor.model.times import HOUR_MS

ROWS = 400_000
PROBES = 20
START = 1_780_000_000_000


def main() -> None:
    rng = random.Random(1)
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        with open_writer(folder, Engine, Engine.restore) as writer:
            _settle(writer)
            before = _size(folder)
            values = [55.0 + n for n in range(PROBES)]
            per_turn = 500
            for first in range(0, ROWS, per_turn):
                rows = []
                for number in range(first, first + per_turn):
                    turn, which = divmod(number, PROBES)
                    values[which] += rng.choice((-0.0625, 0.0, 0.0, 0.0625))
                    time = START + turn * 60_000 + which * 137
                    rows.append(Reading(time, f"p{which}", round(values[which] * 1_000_000), "Cel"))
                with writer.turn(rows[-1].time) as turn_:
                    turn_.readings(rows)
            _settle(writer)
            fresh = _size(folder)
            last = START + ROWS // PROBES * 60_000
            writer.pack_closed_hours(last + 2 * HOUR_MS)
            writer.store.connection.execute("VACUUM")
            _settle(writer)
            packed = _size(folder)
    print(f"{ROWS:,} readings of {PROBES} probes, a minute apart: {(fresh - before) / ROWS:.1f} bytes fresh (goal 26), "
          f"{(packed - before) / ROWS:.2f} in blocks (goal 4)")  # fmt: skip


def _settle(writer: object) -> None:
    writer.store.connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")  # type: ignore[attr-defined]


def _size(folder: Path) -> int:
    return (folder / JOURNAL_FILE).stat().st_size
