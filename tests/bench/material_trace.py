"""A bad delivery traced to the people who have something of it: ten years of a busy yard, 50,000 entries."""

import json
import random
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from monitor.configuration import canonical_settings, load_text
from monitor.engine import Engine
from monitor.journal import open_writer
from monitor.model.events import EventKind
from monitor.model.times import DAY_MS, parse_time
from monitor.model.work import WorkKind
from monitor.proof.rules import rule_ids

ENTRIES = 50_000
_START = parse_time("2016-01-01T08:00:00Z")
_STEP = 10 * 365 * DAY_MS // ENTRIES
_MATERIALS = ("stable litter", "leaves", "coffee grounds", "straw", "wood chips")
_PILES, _BINS = 8, 12
_CONFIG = "\n".join(
    [
        '[site]\nname = "Bench"\ndata = "data"',
        *(f'[piles.p{n}]\nname = "Bay {n}"' for n in range(_PILES)),
        *(f'[bins.b{n}]\nname = "Bed {n}"' for n in range(_BINS)),
        '[containers.barrow]\nvolume = "85 L"\n',
    ]
)


def main() -> None:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        (folder / "heaptender.toml").write_text(_CONFIG)
        _fill(folder)
        floor = _took("--version")
        for words in (
            ("lots", "recall", "d1"),
            ("lots", "recall", "d40000"),
            ("lots", "trace", _last_lot(folder)),
            ("stock",),
        ):
            took = _took(*words, "--json", "--config", str(folder / "heaptender.toml"))
            print(
                f"{' '.join(words)}: {took:.2f} s, {took / floor:.1f} times the bare start of the command ({floor:.2f} s)"
            )


def _took(*words: str) -> float:
    """Return the median of five runs of the whole command, in seconds."""
    took = []
    for _ in range(5):
        begun = time.perf_counter()
        subprocess.run([sys.executable, "-m", "monitor", *words], stdout=subprocess.DEVNULL, check=False)
        took.append(time.perf_counter() - begun)
    return sorted(took)[2]


def _last_lot(folder: Path) -> str:
    said = subprocess.run(
        [sys.executable, "-m", "monitor", "lots", "--json", "--config", str(folder / "heaptender.toml")],
        stdout=subprocess.PIPE, check=True,
    )  # fmt: skip
    lots = json.loads(said.stdout)
    print(f"{ENTRIES:,} entries, {len(lots)} lots")
    return str(lots[-1]["lot"])


def _fill(folder: Path) -> None:
    configuration = load_text(_CONFIG, None, {}, rules=rule_ids())
    works = list(_story(random.Random(1)))
    with open_writer(folder / "data", Engine, Engine.restore) as writer:
        with writer.turn(_START - 1000) as turn:
            turn.event(EventKind.STARTED, {"down_since": None})
            turn.event(EventKind.SETTINGS, {"settings": json.loads(canonical_settings(configuration.settings))})
        for first in range(0, len(works), 500):
            some = works[first : first + 500]
            with writer.turn(some[-1]["time"] + 1) as turn:
                turn.event(EventKind.IMPORTED, {"work": some})


def _story(rng: random.Random) -> Iterator[dict[str, Any]]:
    """Yield the entries: every day food and water, weekly heaps, bedding and harvests, each with its lot and two receivers."""
    number = 0

    def entry(kind: WorkKind, place: str = "yard", **fields: str) -> dict[str, Any]:
        return {"time": _START + number * _STEP, "place": place, "kind": kind.value, **fields}

    def mass(most: int) -> dict[str, str]:
        return {"amount": str(rng.randrange(2, most)), "measure": "kg", "unit": "kg"}

    while number < ENTRIES:
        number += 1
        pile, bin_, what = f"p{rng.randrange(_PILES)}", f"b{rng.randrange(_BINS)}", rng.choice(_MATERIALS)
        part = number % 40
        if part in (1, 11, 21, 31):
            yield entry(WorkKind.DELIVERY, what=what, source=f"supplier {rng.randrange(30)}", **mass(900))
        elif part == 2:
            yield entry(
                WorkKind.BUILT,
                pile,
                parts=f"stable litter={rng.randrange(50, 300)} kg; leaves={rng.randrange(20, 90)} kg",
            )
        elif part in (5, 12):
            yield entry(WorkKind.ADDED, pile, what=what, **mass(60))
        elif part == 7:
            yield entry(WorkKind.SPLIT, pile, to=bin_, **mass(40))
        elif part == 15:
            yield entry(WorkKind.HARVESTED, bin_, moisture="70", **mass(40))
            harvest = number
        elif part == 16:
            yield entry(WorkKind.LOT, what=f"h{harvest}", lot=f"lot-{number}")
            lot = f"lot-{number}"
        elif part in (17, 18):
            yield entry(WorkKind.GIVEN, lot=lot, receiver=f"person {rng.randrange(400)}", **mass(10))
        elif part in (25, 35):
            yield entry(WorkKind.TURNED, pile)
        elif part == 39 and rng.random() < 0.2:
            yield entry(WorkKind.EMPTIED, bin_)
        elif part % 3:
            yield entry(WorkKind.FED, bin_, what=rng.choice(("coffee grounds", "leaves")), **mass(6))
        else:
            yield entry(WorkKind.WATERED, pile, amount="40", measure="L", unit="L")
