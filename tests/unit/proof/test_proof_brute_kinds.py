"""Rules of every kind, on every basis, from readings to the verdict, against a judge written separately, cell by cell.

The grid's unit is the evaluator's own millisecond, so verdicts and instants must be the same without any tolerance.
"""

import random
from dataclasses import replace

import numpy as np
import pytest
from proof_cells import Thing, Wish, verdict_of
from test_proof_brute import part_of as grid_part
from test_proof_brute import random_want

from monitor.proof.holdset import HoldBasis, hold_set
from monitor.proof.rules import (
    Alternative,
    Constant,
    Limits,
    Mean,
    Rule,
    Run,
    RunBeforeTurnings,
    Status,
    Total,
    Window,
    Within,
)
from monitor.proof.temperature import Series
from monitor.proof.verdict import Outcome, Question, prove

MAX_GAP = 8
SEEDS = range(6)
EACH_SEED = 100


def part_of(wish):
    if wish.kind == "grid":
        return grid_part(wish.want, 1)
    if wish.kind == "before":
        return RunBeforeTurnings(duration_ms=wish.long, count=wish.count)
    if wish.kind == "constant":
        return Constant(numerator_days=wish.numerator, per_degree_milli=140, floor_ms=wish.floor, below_ms=wish.below)
    within = []
    for one in wish.things:
        limits = Limits(low_milli_c=one.low, strict=one.strict)
        if one.kind == "mean":
            within.append(Within(part=Mean(low_milli_c=one.low, strict=one.strict)))
        else:
            part = Run(duration_ms=one.long) if one.kind == "run" else Total(duration_ms=one.long)
            within.append(
                Within(part=part, limits=None if (one.low, one.strict) == (wish.low, wish.strict) else limits)
            )
    return Window(span_ms=wish.span, within=tuple(within))


def rule_of(wish):
    way = Alternative(limits=Limits(low_milli_c=wish.low, strict=wish.strict), parts=(part_of(wish),))
    return Rule(
        id="test", title="", jurisdiction="", section="", methods=(), feedstock="", wording="", source="",
        status=Status.SEEN, alternatives=(way,), together_ms=wish.together if wish.want is None else wish.want.together,
    )  # fmt: skip


def random_wish(rng):
    kind = rng.choice(["grid", "grid", "window", "mean", "before", "constant"])
    if kind == "grid":
        # No line turns round at an odd limit: a hold of a single instant would need a finer grid.
        return Wish(kind, rng.choice([49_000, 51_000, 53_000]), want=replace(random_want(rng), gap=MAX_GAP))
    low, strict = rng.choice([48_000, 50_000, 52_000, 53_000]), rng.random() < 0.3
    if kind == "before":
        return Wish(
            kind, low, strict, long=rng.randint(2, 14), count=rng.randint(1, 3), together=rng.choice([1, 5, 16])
        )
    if kind == "constant":
        below = rng.choice([None, None, 20])
        return Wish(kind, 50_000, numerator=rng.randint(4, 30), floor=rng.choice([1, 4, 8]), below=below)
    span = rng.randint(8, 24)
    things = []
    if kind == "mean" or rng.random() < 0.2:
        things.append(Thing("mean", rng.choice([50_000, 52_000, 53_500]), strict=rng.random() < 0.5))
    if not things or rng.random() < 0.6:
        things.append(Thing(rng.choice(["run", "total"]), low, strict, rng.randint(2, span)))
    if len(things) < 2 or rng.random() < 0.3:
        hot = low + rng.choice([2000, 3000, 5000])
        things.append(Thing(rng.choice(["run", "total"]), hot, rng.random() < 0.5, rng.randint(1, span // 2)))
    return Wish("window", low, strict, span=span, things=things)


def random_probe(rng, length):
    """Readings every 4 units, each 4.000 degrees from the last or equal to it; level over 8 units; gaps above."""
    readings, at, value = [], rng.choice([0, 0, 4]), rng.choice([48_000, 52_000, 56_000])
    step = 12
    while at <= length:
        readings.append((at, value))
        # Two gaps in a row would leave a single reading between them.
        step = 4 if step == 12 else rng.choice([4, 4, 4, 4, 4, 4, 4, 4, 8, 12])
        if step == 4:
            value = min(max(value + rng.choice([-4000, 0, 0, 4000]), 44_000), 64_000)
        elif step == 12:
            value = rng.choice([48_000, 52_000, 56_000])
        at += step
    service = [(0, length + 1)]
    if rng.random() < 0.3:
        out = rng.randint(0, length // 4) * 4
        service = [one for one in [(0, out), (out + rng.choice([1, 3, 8]), length + 1)] if one[0] < one[1]]
    return readings, service


def series_of(probes):
    return [
        Series(
            probe=f"p{n}",
            times=np.array([t for t, _ in readings], dtype=np.int64),
            milli_c=np.array([v for _, v in readings], dtype=np.int64),
            service=tuple(service),
        )
        for n, (readings, service) in enumerate(probes)
    ]


def single_instants(series, basis):
    sets = hold_set(series, Limits(low_milli_c=0), max_gap_ms=MAX_GAP, basis=basis)
    return any(start == end for one in (sets, *sets.probes) for start, end in one.proven)


@pytest.mark.parametrize("seed", SEEDS)
def test_random_readings_agree_with_the_cells(seed):
    rng = random.Random(seed)
    seen = dict.fromkeys(Outcome, 0)
    kinds = set()
    for _ in range(EACH_SEED):
        length = rng.choice([32, 48, 60])
        basis = rng.choice(list(HoldBasis))
        wish = random_wish(rng)
        # The mean of two such lines still bends and crosses at whole units; that of three would not.
        most = 2 if basis is HoldBasis.MEAN else 3
        probes = [random_probe(rng, length) for _ in range(rng.randint(1, most))]
        series = series_of(probes)
        turnings = sorted(rng.randint(0, length) for _ in range(rng.choice([0, 1, 3, 5])))
        since = rng.choice([0, 0, 0, rng.randint(0, length // 2)])
        finding = prove(
            Question(
                rule=rule_of(wish),
                max_gap_ms=MAX_GAP,
                basis=basis,
                start=0,
                end=length,
                turnings=turnings,
                restarts=[since] if since else [],
            ),
            series,
        )
        expected = verdict_of(wish, probes, turnings, since, length, MAX_GAP, basis.value)
        if single_instants(series, basis) and (expected[0] != "met" or wish.kind == "grid"):
            continue  # cells cannot show a single reading between gaps: that is tested by itself
        assert (finding.outcome.value, finding.met_at) == expected, (wish, probes, turnings, since, length, basis)
        seen[finding.outcome] += 1
        kinds.add(wish.kind)
    assert kinds == {"grid", "window", "before", "constant"}
    assert min(seen.values()) >= 8
    assert sum(seen.values()) >= EACH_SEED * 3 // 5
