"""Readings a second through the engine by both doors, beside one numpy pass; and sets of thresholds a second.

Processor time is measured, not the clock: other work beside it then changes little.
"""

import os
import time
from collections.abc import Callable
from dataclasses import replace

import numpy as np

from monitor.engine import NOBODY, Engine
from monitor.engine.stretch import ColumnHistory, Commits, feed_commits, prepare, run
from monitor.model.events import Event, EventKind
from monitor.model.settings import AMBIENT, Bin, Pile, Probe, Settings
from monitor.model.times import DAY_MS, MINUTE_MS
from monitor.model.units import Quantity
from monitor.model.words import Role

START_MS = 1_767_225_600_000
DAYS = int(os.environ.get("BENCH_DAYS", "365"))
SLOW_DAYS = 5
SETS = int(os.environ.get("BENCH_SETS", "40"))


def main() -> None:
    """Measure a quiet year, a noisy one with hot weeks and turnings, and sets of thresholds of one bin."""
    for name, noisy in (("quiet", False), ("noisy", True)):
        settings, commits, turnings = _yard(DAYS, noisy)
        begun = time.process_time()
        np.count_nonzero(commits.micro > 55_000_000)
        floor = len(commits.time) / (time.process_time() - begun)
        effects, rate = _feed(settings, commits, turnings, _fast)
        _, slow = _feed(settings, commits.part(0, SLOW_DAYS * 1440), turnings, _slow)
        print(
            f"{name} year: {len(commits.time):,} readings of {len(commits.names)} probes, {DAYS} days; {effects} effects"
        )
        print(
            f"  as columns: {rate:,.0f}/s; one event at a time ({SLOW_DAYS} days): {slow:,.0f}/s; one pass: {floor:,.0f}/s"
        )
    _sets()


def _sets() -> None:
    settings, commits = _bin_year()
    begun = time.process_time()
    prepared = prepare([commits], settings)
    made = time.process_time() - begun
    bin_ = settings.bins["b0"]
    begun, effects = time.process_time(), 0
    for number in range(SETS):
        dwell = (10 + number) * MINUTE_MS
        limits = replace(bin_.thresholds, overheating_milli_c=28_500 + 100 * number, overheating_dwell_ms=dwell)
        # As `tune` does: what rings and who is told, without words.
        effects += len(run(prepared, replace(settings, bins={"b0": replace(bin_, thresholds=limits)}), None, NOBODY))
    rate = SETS / (time.process_time() - begun)
    print(
        f"tuning a bin of 3 probes, {len(commits):,} commits: prepared in {made:.1f} s; {rate:.1f} sets/s on one core, "
        f"{effects // SETS} effects a set"
    )


Feeder = Callable[[Engine, Commits, ColumnHistory], int]


def _fast(engine: Engine, commits: Commits, history: ColumnHistory) -> int:
    return len(feed_commits(engine, commits, history))


def _slow(engine: Engine, commits: Commits, history: ColumnHistory) -> int:
    history.open(commits)
    effects = 0
    for number in range(len(commits)):
        history.reach(int(commits.first[number + 1]))
        effects += len(engine.feed(commits.event(number), history))
        engine.take_verdicts()
    return effects


def _feed(settings: Settings, commits: Commits, turnings: list[tuple[int, str]], feeder: Feeder) -> tuple[int, float]:
    engine, history = Engine(), ColumnHistory()
    effects = len(engine.feed(Event(START_MS - 1, EventKind.SETTINGS, {"settings": settings}), history))
    begun, done = time.process_time(), 0
    for at, place in [*turnings, (1 << 60, "")]:
        upto = int(np.searchsorted(commits.at, at))
        if upto > done:
            effects += feeder(engine, commits.part(done, upto), history)
            done = upto
        if place and done < len(commits):
            effects += len(
                engine.feed(Event(at, EventKind.WORK, {"time": at, "place": place, "kind": "turned"}), history)
            )
    return effects, len(commits.time) / (time.process_time() - begun)


def _yard(days: int, noisy: bool) -> tuple[Settings, Commits, list[tuple[int, str]]]:
    piles = {f"p{n}": Pile(name=f"Bay {n}", rule="us-112-54-turned", built=START_MS) for n in range(2)}
    bins = {f"b{n}": Bin(name=f"Bin {n}") for n in range(2)}
    probes = {"air": Probe(place=AMBIENT, role=Role.AMBIENT, address="")}
    probes |= {f"{p}-{n}": Probe(place=p, role=Role.CORE, address="") for p in piles for n in range(5)}
    probes |= {f"{b}-{n}": Probe(place=b, role=Role.BEDDING, address="") for b in bins for n in range(3)}
    probes |= {f"{b}-m": Probe(place=b, role=Role.BEDDING, address="", quantity=Quantity.MOISTURE) for b in bins}
    probes["b1-3"] = Probe(place="b1", role=Role.BEDDING, address="")
    settings = Settings(piles=piles, bins=bins, probes=probes)
    rng, day = np.random.default_rng(1), np.arange(days * 1440) / 1440
    season, sun = np.sin((day - 100) / 58), np.sin(day * 2 * np.pi)
    values = {}
    for number, name in enumerate(sorted(probes)):
        if name == "air":
            value = 11 + 9 * season + 5 * sun
        elif name.endswith("m"):
            value = 74 + 4 * np.sin(day / 19) + np.cumsum(rng.normal(0, 0.002, len(day)))
        elif name.startswith("p"):
            value = _heap(day) + number / 3 + np.cumsum(rng.normal(0, 0.003, len(day)))
        else:
            value = 19 + 4 * season + (4 if noisy else 1) * sun + number / 9
        if noisy:
            value = value + rng.normal(0, 0.05, len(day))
            value[rng.random(len(day)) < 1e-4] += 9
            value[rng.random(len(day)) < 2e-5] = -127
        values[name] = value
    turnings = [
        (START_MS + (start + n * 3) * DAY_MS + 40_000_000, place)
        for start in range(4, days, 90)
        for n in range(5)
        for place in piles
    ] if noisy else []  # fmt: skip
    return settings, _columns(values), turnings


def _heap(day: "np.ndarray") -> "np.ndarray":
    """Heats up in two days, holds for two weeks, then cools down to its surroundings; anew each quarter."""
    age = day % 90
    heating, holding = 20 + 21 * age, 62 + 3 * np.sin(age)
    return np.where(age < 2, heating, np.where(age < 16, holding, 22 + 40 * np.exp(-(age - 16) / 9)))


def _bin_year() -> tuple[Settings, Commits]:
    probes = {f"b0-{n}": Probe(place="b0", role=Role.BEDDING, address="") for n in range(2)}
    probes["b0-m"] = Probe(place="b0", role=Role.BEDDING, address="", quantity=Quantity.MOISTURE)
    settings = Settings(bins={"b0": Bin(name="Sunny bin")}, probes=probes)
    day = np.arange(DAYS * 1440) / 1440
    heat = 8 * np.maximum(0, np.sin(day / 7)) ** 30
    warm = 18 + 5 * np.sin((day - 100) / 58) + 2 * np.sin(day * 2 * np.pi) + heat
    return settings, _columns({"b0-0": warm, "b0-1": warm + 0.7, "b0-m": 73 + 6 * np.sin(day / 19)})


def _columns(values: dict[str, "np.ndarray"]) -> Commits:
    names, steps = tuple(sorted(values)), len(next(iter(values.values())))
    at = START_MS + np.arange(steps, dtype=np.int64) * MINUTE_MS
    micro = np.stack([np.round(values[name] * 16).astype(np.int64) * 62_500 for name in names], axis=1)
    unit = np.array([1 if name.endswith("m") else 0 for name in names], dtype=np.int32)
    return Commits(
        at, np.arange(steps + 1, dtype=np.int64) * len(names), np.repeat(at, len(names)), micro.reshape(-1),
        np.tile(np.arange(len(names), dtype=np.int32), steps), np.tile(unit, steps), names, ("Cel", "%"),
    )  # fmt: skip
