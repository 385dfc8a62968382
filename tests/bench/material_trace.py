"""A bad delivery traced to the people who have something of it: ten years of a busy yard, 50,000 entries."""

import json
import random
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Any, NamedTuple

from monitor.app.material.kept_file import KEPT_FILE
from monitor.configuration import canonical_settings, load_text
from monitor.engine import Engine
from monitor.journal import open_writer
from monitor.model.events import EventKind
from monitor.model.times import DAY_MS, parse_time
from monitor.model.work import WorkKind
from monitor.proof.rules import rule_ids

ENTRIES = 50_000
RUNS = 5
WIDE, LATE = "d6501", "d48001"
"""A delivery that may be in a thousand lots, since castings went from bed to bed ever after; and one of the last year."""
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
        lot = f"lot-{ENTRIES - 24}"
        asked = (
            ("lots", "recall", WIDE),
            ("lots", "recall", LATE),
            ("lots", "trace", lot),
            ("lots",),
            ("stock",),
        )
        print(f"{ENTRIES:,} entries")
        for delivery in (WIDE, LATE):
            lots = json.loads(_said(folder, "lots", "recall", delivery))["lots"]
            print(
                f"  {delivery} is in {len(lots)} lots, of which {sum(len(one['given']) for one in lots)} were given out"
            )
        kept = folder / "data" / KEPT_FILE
        for words in asked:
            _tell(folder, "the log read anew", words, lambda: kept.unlink(missing_ok=True))
        for words in asked:
            _tell(folder, "nothing new", words, lambda: None)
        _log_more(folder)
        for words in asked:
            _tell(folder, "100 entries since", words, lambda: None)


def _tell(folder: Path, when: str, words: Sequence[str], before: Callable[[], None]) -> None:
    """Print how long a command takes beside its bare start, both by turns."""
    floors, took = list[_Took](), list[_Took]()
    for _ in range(RUNS):
        floors.append(_took(lambda: _run("--version")))
        before()
        took.append(_took(lambda: _said(folder, *words)))
    floor, least = min(one.processor_s for one in floors), min(one.processor_s for one in took)
    print(
        f"{when}: {' '.join(words)}: {min(one.wall_s for one in took):.2f} s at best, of the processor's {least:.2f} s, "
        f"{least / floor:.1f} times the bare start of the command "
        f"({min(one.wall_s for one in floors):.2f} s, {floor:.3f} s)"
    )


class _Took(NamedTuple):
    wall_s: float
    processor_s: float


def _took(work: Callable[[], object]) -> _Took:
    begun, before = time.perf_counter(), resource.getrusage(resource.RUSAGE_CHILDREN)
    work()
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    used = after.ru_utime - before.ru_utime + after.ru_stime - before.ru_stime
    return _Took(time.perf_counter() - begun, used)


def _run(*words: str) -> bytes:
    done = subprocess.run([sys.executable, "-m", "monitor", *words], stdout=subprocess.PIPE, check=False)
    if done.returncode > 1:
        raise RuntimeError(f"{' '.join(words)} ended with {done.returncode}")
    return done.stdout


def _said(folder: Path, *words: str) -> bytes:
    return _run(*words, "--json", "--config", str(folder / "heaptender.toml"))


def _log_more(folder: Path) -> None:
    """Write down what a yard does in a week: deliveries, food, water, castings given out; nothing that moves a heap."""
    with open_writer(folder / "data", Engine, Engine.restore) as writer:
        for number in range(100):
            at = _START + (ENTRIES + number + 1) * _STEP
            kind, place = ((WorkKind.DELIVERY, "yard"), (WorkKind.FED, "b1"), (WorkKind.WATERED, "p1"))[number % 3]
            more = {} if kind is WorkKind.WATERED else {"what": "leaves", "amount": "5", "measure": "kg", "unit": "kg"}
            with writer.turn(at) as turn:
                turn.event(EventKind.WORK, {"time": at, "place": place, "kind": kind.value, **more})


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
                if first % 1000:  # one half came out of files, the other was written down entry by entry
                    turn.event(EventKind.IMPORTED, {"work": some})
                else:
                    for one in some:
                        turn.event(EventKind.WORK, one)


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
