"""No verdict becomes met by leaving out the readings of stretches longer than the longest gap: silence never helps."""

import os
import random
from dataclasses import replace

import numpy as np
import pytest
from test_proof_evaluate import rule_of

from monitor.model.times import DAY_MS, HOUR_MS, MINUTE_MS
from monitor.proof.rules import Days, Run, RunBeforeTurnings, Total, Turnings
from monitor.proof.temperature import Series
from monitor.proof.verdict import Outcome, Question, prove

EXAMPLES = int(os.environ.get("HEAPTENDER_EXAMPLES", "60"))
STEP = 30 * MINUTE_MS


def random_series(rng, length, probe):
    """A heap that is hot for a day or so and dips now and then, for minutes or for hours."""
    times, values, at, warm = [], [], 0, True
    left = rng.randint(4, 90)
    while at <= length:
        if left == 0:
            warm = not warm
            left = rng.choice([20, 48, 60, 120]) if warm else rng.choice([1, 2, 3, 4, 5, 6, 9])
        left -= 1
        times.append(at)
        values.append(rng.choice([55_500, 56_000, 57_000]) if warm else rng.choice([54_000, 54_500, 52_000]))
        at += STEP
    return Series(probe=probe, times=np.array(times, dtype=np.int64), milli_c=np.array(values, dtype=np.int64))


def random_part(rng):
    turnings = rng.choice([None, None, Turnings(count=1), Turnings(count=2)])
    kind = rng.random()
    if kind < 0.7:
        return Days(count=rng.randint(1, 4), consecutive=rng.random() < 0.5, turnings=turnings)
    if kind < 0.8:
        return Run(duration_ms=rng.randint(10, 60) * HOUR_MS, turnings=turnings)
    if kind < 0.9:
        return Total(duration_ms=rng.randint(20, 90) * HOUR_MS, turnings=turnings)
    return RunBeforeTurnings(duration_ms=rng.randint(5, 30) * HOUR_MS, count=rng.randint(1, 2))


def left_out(rng, series, gap, turnings):
    """Leave out stretches longer than the gap, most of them where the cold readings are; turnings' recoveries stay."""
    found = []
    for one in series:
        keep = np.ones(one.times.size, dtype=np.bool_)
        cold = one.times[one.milli_c < 55_000].tolist()
        for _ in range(rng.randint(1, 6)):
            middle = rng.choice(cold) if cold and rng.random() < 0.8 else rng.randint(0, int(one.times[-1]))
            long = gap + rng.choice([STEP, 2 * STEP, 4 * HOUR_MS, 20 * HOUR_MS])
            start = middle - rng.randint(0, long)
            if any(start < at + DAY_MS and at - 3 * HOUR_MS < start + long for at in turnings):
                continue
            keep &= (one.times < start) | (one.times > start + long)
        found.append(replace(one, times=one.times[keep], milli_c=one.milli_c[keep]))
    return found


@pytest.mark.parametrize("seed", range(4))
def test_leaving_out_readings_never_makes_a_verdict_met(seed):
    rng = random.Random(seed)
    better = worse = 0
    for number in range(EXAMPLES):
        length = rng.choice([3, 5, 7]) * DAY_MS
        series = [random_series(rng, length, f"p{n}") for n in range(rng.choice([1, 1, 2]))]
        part, gap = random_part(rng), rng.choice([HOUR_MS, 90 * MINUTE_MS, 2 * HOUR_MS, 3 * HOUR_MS])
        turnings = [rng.randint(0, length) for _ in range(rng.choice([0, 0, 1, 2]))]
        told = {"max_gap_ms": gap, "start": 0, "end": length, "turnings": turnings}
        whole = prove(Question(rule=rule_of(part), **told), series)
        less = prove(Question(rule=rule_of(part), **told), left_out(rng, series, gap, turnings))
        assert not (less.outcome is Outcome.MET and whole.outcome is not Outcome.MET), (seed, number, part, gap)
        better += whole.outcome is Outcome.MET
        worse += whole.outcome is Outcome.MET and less.outcome is not Outcome.MET
    assert better > EXAMPLES // 10
    assert worse > 0


@pytest.mark.parametrize("gap", [HOUR_MS, 2 * HOUR_MS])
def test_a_dip_that_is_left_out_costs_the_days_that_it_touches(gap):
    times = np.arange(0, 4 * DAY_MS + 1, STEP)
    values = np.full(times.size, 60_000)
    values[(times > 46 * HOUR_MS) & (times <= 50 * HOUR_MS)] = 40_000
    whole = Series(probe="a", times=times, milli_c=values)
    kept = values > 50_000
    less = Series(probe="a", times=times[kept], milli_c=values[kept])
    told = {"max_gap_ms": gap, "start": 0, "end": 4 * DAY_MS}
    for consecutive, days in ((False, 3), (True, 3)):
        rule = rule_of(Days(count=days, consecutive=consecutive))
        assert prove(Question(rule=rule, **told), [whole]).outcome is Outcome.NOT_MET
        assert prove(Question(rule=rule, **told), [less]).outcome is Outcome.NOT_PROVEN
