"""Many readings at once bring a walk where stepping through each of them brings it, and calm ones are not stepped through."""

import random

from hypothesis import Phase, given, settings
from hypothesis import strategies as st
from piles_columns import Columns
from piles_script import T0, H
from test_piles_order import SHORT, STATE, VARIANTS, begin

MIN = H // 60
seeds = st.integers(0, 1 << 40)
quick = settings(deadline=None, phases=[Phase.explicit, Phase.generate], database=None)

AIMS = [[18, 24, 26.6, 26.8, 27.1, 27.3, 31], [38, 40, 40.4, 45, 52], [53, 54.4, 54.6, 55.1, 58], [70, 71.2, 76.5, 77]]


def course(rng, name, start, count, calm):
    """Readings of one probe, some minutes apart, that drift from one temperature to another, often on a limit."""
    at, rows = start, []
    aims = rng.choice([rng.choice(AIMS), [one for some in AIMS for one in some]])
    value = aim = rng.choice(aims) * 1000
    every = rng.choice([5, 10, 20, 30])
    for _ in range(count):
        at += (every if rng.random() < 0.98 or calm else rng.choice([1, 45, 121, 200])) * MIN
        if rng.random() < (0.01 if calm else 0.06):
            aim = rng.choice(aims) * 1000
        value += max(-900, min(900, aim - value)) + rng.choice([0, 0, 0, 30, -30, 250, -250])
        rows.append((at, name, round(value)))
    return rows


def some_record(seed):
    """Readings of up to three probes, ambient by the hour, and a variant."""
    rng = random.Random(seed)
    names, calm = "abc"[: rng.randint(1, 3)], rng.random() < 0.7
    courses = [course(rng, name, T0 + rng.randint(0, 4) * MIN, rng.randint(60, 300), calm) for name in names]
    rows = sorted(row for one in courses for row in one)
    hours = range(T0 // H, rows[-1][0] // H)
    level, lack = rng.choice([5, 12, 18, 19]), rng.choice([0, 0, 3])
    air = [(hour, 2000 * (level + hour % 5), 2) for hour in hours if not lack or hour % lack]
    return names, rows, rng.choice([air, []]), rng.choice(VARIANTS), rng.randint(len(names), len(names) + 40)


def entered(names, variant):
    walk, tracker = begin(variant)
    for name in names:
        walk.probe_in(name, T0)
    return walk, tracker


def both_ways(seed):
    """What stepping and columns say, and the state that each leaves; and how many of the readings the columns stepped."""
    names, rows, air, variant, first = some_record(seed)
    found = []
    for columns in (False, True):
        walk, _ = entered(names, variant)
        changes = []
        told = Columns(walk, rows, air, SHORT.lag_ms)
        while told.taken < (first if columns else len(rows)):
            changes += told.step()
        if columns:
            told = Columns(walk, rows[first:], told.air, SHORT.lag_ms)
            changes += told.run()
        walk.forget()
        found.append((changes, plain(walk.state)))
    return found, told.stepped, len(rows) - first


def plain(state):
    """The state without the ambient hours, of which more or fewer are kept."""
    told = STATE.dump_python(state)
    del told["air"]
    for line in told["lines"].values():
        del line["moving_to"]
    return told


@settings(quick, max_examples=40)
@given(seeds)
def test_columns_bring_a_walk_where_stepping_brings_it(seed):
    (stepped, skipped), _, _ = both_ways(seed)
    assert skipped[0] == stepped[0]
    assert skipped[1] == stepped[1]
