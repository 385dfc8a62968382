"""Readings a second from arrays in memory to a verdict, beside one numpy pass and beside a general library.

Processor time of one core, not time by the clock: other work on the machine then matters less. The floor compares
each reading with the limit and adds up the time between those that are at or above it. `traces` holds the previous
value instead of a straight line, so it answers another question; it is timed on a slice.
"""

import time
from collections.abc import Callable
from datetime import UTC, datetime
from functools import partial

import numpy as np
import traces

from monitor.proof.holdset import HoldBasis
from monitor.proof.rules import Rule, load_rule
from monitor.proof.temperature import Series
from monitor.proof.verdict import Question, prove

COUNT = 10_000_000
SLICE = 50_000
CHUNK = 1 << 15
LIMIT = 55_000
GAP_MS = 2 * 3_600_000
START = 1_790_000_000_000


def main() -> None:
    rules = [load_rule("us-503-pfrp-static"), load_rule("us-112-54-turned")]
    for words, noise, swing in (("seldom at the limit", 0.05, 6.0), ("often", 0.2, 1.0), ("all the time", 2.0, 1.0)):
        for probes in (1, 4):
            batch = [_probe(f"p{n}", n, COUNT // probes, noise, swing) for n in range(probes)]
            crossings = sum(int(np.count_nonzero(np.diff(one.milli_c >= LIMIT))) for one in batch)
            print(f"{words}, {probes} x {COUNT // probes:,} readings, {crossings / COUNT:.2%} cross")
            floor = _cpu_s(partial(_all_passes, batch))
            print(f"  one numpy pass: {COUNT / floor / 1e6:,.0f} million/s")
            general = _traces(batch[0])
            print(f"  traces (previous value, {SLICE:,} readings): {general / 1e6:.2f} million/s")
            for rule in rules:
                for basis in HoldBasis:
                    _tell(rule, batch, basis, floor, general)


def _tell(rule: Rule, batch: list[Series], basis: HoldBasis, floor: float, general: float) -> None:
    took = _cpu_s(lambda: prove(Question(rule=rule, max_gap_ms=GAP_MS, basis=basis), batch))
    rate = COUNT / took
    print(
        f"  {rule.id}, {basis}: {took:.2f} s, {rate / 1e6:,.1f} million/s, {floor / took:.1%} of the numpy pass, "
        f"{rate / general:,.0f} times traces"
    )


def _cpu_s(work: Callable[[], object]) -> float:
    """Return the least processor time of three runs."""
    took = []
    for _ in range(3):
        begun = time.process_time()
        work()
        took.append(time.process_time() - begun)
    return min(took)


def _probe(name: str, seed: int, count: int, noise: float, swing: float) -> Series:
    """Readings every 10 s or so, as a digital thermometer gives them: in steps of 1/16 degree, with noise."""
    rng = np.random.default_rng(seed)
    times = START + np.arange(count, dtype=np.int64) * 10_000 + rng.integers(0, 2_500, count)
    celsius = 55.5 + swing * np.sin(np.linspace(0, 16 * np.pi, count)) + rng.normal(0, noise, count)
    return Series(probe=name, times=times, milli_c=np.rint(np.round(celsius * 16) * 62.5).astype(np.int64))


def _all_passes(batch: list[Series]) -> None:
    for one in batch:
        _one_pass(one)


def _one_pass(one: Series) -> int:
    """Look at every pair once, in pieces that fit the cache: the least that numpy can do."""
    whole = 0
    for start in range(0, one.times.size - 1, CHUNK):
        times, values = one.times[start : start + CHUNK + 1], one.milli_c[start : start + CHUNK + 1]
        whole += int(np.sum(times[1:] - times[:-1], where=values[:-1] >= LIMIT))
    return whole


def _traces(one: Series) -> float:
    """Return its readings a second, from the making of its series to the time above the limit."""
    pairs = list(zip(one.times[:SLICE].tolist(), one.milli_c[:SLICE].tolist(), strict=True))
    begun = time.process_time()
    series = traces.TimeSeries([(datetime.fromtimestamp(at / 1000, UTC), value) for at, value in pairs])
    series.threshold(LIMIT, inclusive=True).distribution()
    return SLICE / (time.process_time() - begun)
