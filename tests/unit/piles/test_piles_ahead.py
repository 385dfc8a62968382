"""Many readings at once bring a walk where stepping through each of them brings it, and calm ones are not stepped through."""

import random
from itertools import pairwise

import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st
from piles_columns import Columns
from piles_script import T0, H
from test_piles_order import SHORT, STATE, VARIANTS, begin

from monitor.piles import ChangeKind, Reason

MIN = H // 60
seeds = st.integers(0, 1 << 40)
quick = settings(deadline=None, phases=[Phase.explicit, Phase.generate], database=None)

AIMS = [
    [15, 21.4, 21.5, 22, 24, 25.5, 26, 26.667, 27.167, 31],
    [38, 40, 40.4, 45, 52],
    [53, 54.4, 54.6, 55.1, 58],
    [70, 71.2, 76.5, 77],
]


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
        value += max(-900, min(900, aim - value)) + rng.choice([0, 0, 0, 1, -1, 30, -30, 250, -250])
        rows.append((at, name, round(value)))
    return rows


def air_of(hours, level):
    """One to three readings in each hour; over any four hours their mean is 1.5 °C above the level."""
    return [(hour, 1000 * (level + hour % 4) * (1 + hour % 3), 1 + hour % 3) for hour in hours]


def some_record(seed):
    """Readings of up to three probes, ambient by the hour, and a variant."""
    rng = random.Random(seed)
    names, calm = "abc"[: rng.randint(1, 3)], rng.random() < 0.7
    courses = [course(rng, name, T0 + rng.randint(0, 4) * MIN, rng.randint(60, 300), calm) for name in names]
    rows = sorted(row for one in courses for row in one)
    hours = range(T0 // H, rows[-1][0] // H + rng.choice([0, 9]))
    # The limit for worms is then 15 (the least), 21.5, 25.5 or 26.667 °C (the most); it is off where a third is lacking.
    level, lack = rng.choice([5, 12, 16, 18]), rng.choice([0, 0, 0, 3])
    air = air_of([hour for hour in hours if not lack or hour % lack], level)
    return names, rows, rng.choice([air, []]), rng.choice(VARIANTS), rng.randint(len(names), len(names) + 40)


def entered(names, variant):
    walk, tracker = begin(variant)
    for name in names:
        walk.probe_in(name, T0)
    return walk, tracker


def both_ways(names, rows, air, variant, first):
    """What stepping and columns say, and the state that each leaves."""
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
    return found


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
    stepped, skipped = both_ways(*some_record(seed))
    assert skipped[0] == stepped[0]
    assert skipped[1] == stepped[1]


HOT = [(0, 40), (3, 60), (12, 60)]
TOLD = (ChangeKind.PHASE, ChangeKind.REHEATING)
STORIES = {
    # *Reheating*: 5 °C above the lowest hour since it began to cool, 40 °C at least; what was before counts for nothing.
    "cool, hot, cooler, and up again": (
        [Reason.REHEATED, Reason.HELD_AGAIN],
        {"a": [(0, 36), (9, 36), (10, 60), (20, 60), (22, 50), (48, 50), (54, 56), (60, 56)]},
    ),
    "up to the least": ([Reason.REHEATED], {"a": [*HOT, (24, 31), (60, 31), (72, 41), (80, 41)]}),
    "up slowly from the lowest hour": ([], {"a": [*HOT, (16, 50), (30, 46), (36, 46), (96, 52), (100, 52)]}),
    "one cool and one warm": (
        [Reason.REHEATED],
        {"a": [*HOT, (20, 44), (96, 44)], "b": [*HOT, (20, 48), (40, 48), (60, 54), (96, 54)]},
    ),
    "one silent while they cool": (
        [Reason.REHEATED],
        {
            "a": [*HOT, (20, 44), (30, 44), (39, None), (42, 44), (80, 44)],
            "b": [*HOT, (20, 48), (40, 48), (60, 54), (80, 54)],
        },
    ),
    # *Ready for worms*: at or below 25.5 °C in this air, over again by half a degree more.
    "ready and warm again": (
        [Reason.COOL_ENOUGH, Reason.WARM_AGAIN],
        {"a": [*HOT, (20, 24), (90, 24), (92, 29), (99, 29)]},
    ),
    "around the limit": (
        [Reason.COOL_ENOUGH],
        {"a": [*HOT, (20, 25.6), (30, 25.4), (36, 25.6), (40, 25.4), (50, 26.1), (52, 25.4), (90, 25.4)]},
    ),
    "over and over the limit": (
        [Reason.COOL_ENOUGH],
        {
            "a": [
                *[*HOT, (20, 25.2), (25, 25.9), (29, 25.1), (36, 25.8), (43, 25.3)],
                *[(50, 25.7), (57, 25.0), (66, 25.9), (75, 25.4), (90, 25.4)],
            ]
        },
    ),
    "on the limit": (
        [Reason.COOL_ENOUGH],
        {"a": [*HOT, (20, 25.5), (30, 25.5), (31, 25.501), (40, 25.501), (41, 25.5), (90, 25.5)]},
    ),
    "on the limit and half a degree": (
        [Reason.COOL_ENOUGH],
        {"a": [*HOT, (20, 25.5), (30, 26), (31, 26.001), (32, 26), (40, 25.5), (90, 25.5)]},
    ),
    "in turns around the limit": (
        [Reason.COOL_ENOUGH],
        {
            "a": [*HOT, (20, 25.3), (30, 25.8), (40, 25.3), (90, 25.3)],
            "b": [*HOT, (20, 25.8), (30, 25.3), (50, 25.3), (90, 25.4)],
        },
    ),
    "one above and one below": (
        [],
        {"a": [*HOT, (20, 24), (40, 27), (60, 24), (90, 24)], "b": [*HOT, (20, 26.4), (80, 26.4), (82, 24)]},
    ),
    "one silent for good": (
        [Reason.REHEATED],
        {
            "a": [*HOT, (20, 44), (41, 44)],
            "b": [*HOT, (20, 48), (40, 48), (60, 54), (80, 54)],
        },
    ),
    "silent below the limit": ([Reason.COOL_ENOUGH], {"a": [*HOT, (20, 24), (30, 24), (34, None), (36, 24), (90, 24)]}),
}


@pytest.mark.parametrize(("minutes", "begun"), [(5, 0), (50, 0), (110, 0), (50, 0.4), (50, 0.7)])
@pytest.mark.parametrize("story", STORIES)
def test_columns_tell_each_story_as_stepping_tells_it(story, minutes, begun):
    told, probes = STORIES[story]
    rows = []
    for n, (name, knots) in enumerate(probes.items()):
        rows += [(at + n * MIN, name, value) for at, value in readings(knots, minutes)]
    rows.sort()
    hours = range(T0 // H - 30, rows[-1][0] // H + 9)
    stepped, skipped = both_ways(
        list(probes), rows, air_of(hours, 16), VARIANTS[2], max(len(probes), round(begun * len(rows)))
    )
    reasons = [one.reason for one in stepped[0] if one.kind in TOLD]
    assert reasons == [Reason.BUILT, Reason.HELD, Reason.COOLED, *told]
    assert skipped[0] == stepped[0]
    assert skipped[1] == stepped[1]


def readings(knots, minutes):
    """Readings every so many minutes along knots (hour, degC); nothing is read before and after a knot without degrees."""
    found = []
    for (start, low), (end, high) in pairwise(knots):
        if low is not None and high is not None:
            shares = [(at, (at - start * 60) / (end - start) / 60) for at in range(start * 60, end * 60, minutes)]
            found += [(T0 + at * MIN, round(1000 * (low + (high - low) * share))) for at, share in shares]
    return found


def wave(name, low, high, days, period=40):
    """A reading every five minutes that goes up and down between two temperatures, over and over."""
    half = period // 2
    rows = []
    for n in range(days * 288):
        share = abs(n % period - half) / half
        rows.append((T0 + n * 5 * MIN, name, round((low + (high - low) * share) * 1000)))
    return rows


def falling(name, start, rate, days, least):
    """A reading every five minutes, falling by so much a day to its least."""
    return [(T0 + n * 5 * MIN, name, round(max(start - rate * n / 288, least) * 1000)) for n in range(days * 288)]


@settings(quick, max_examples=40)
@given(seeds)
def test_columns_bring_probes_that_pass_limits_together_where_stepping_brings_them(seed):
    rng = random.Random(seed)
    names, rows = "abcd"[: rng.randint(2, 4)], []
    base = rng.choice([39, 53, 53, 53, 70])
    for name in names:
        low = base + rng.choice([-3, 0, 0.4, 1, 1.5, 3])
        mine = wave(name, low, low + rng.choice([0.8, 2, 5]), 1, rng.choice([6, 10, 22, 50]))
        if rng.random() < 0.4:
            silent = rng.randrange(200)
            del mine[silent : silent + rng.choice([3, 23, 24, 25, 40])]
        rows += [(at + rng.choice([0, 0, 1, MIN, 3 * MIN]), probe, value) for at, probe, value in mine]
    rows.sort()
    stepped, skipped = both_ways(names, rows, [], rng.choice(VARIANTS), rng.randint(len(names), 60))
    assert skipped[0] == stepped[0]
    assert skipped[1] == stepped[1]


CALM = {
    "hot": [wave("a", 60, 64, 6)],
    "three hot": [wave("a", 60, 64, 6), wave("b", 58, 61, 6, 36), wave("c", 66, 70, 6, 50)],
    "one passes the hold temperature while others stay on both sides": [
        wave("a", 50, 52, 6), wave("b", 53, 57, 6), wave("c", 60, 63, 6)
    ],
    "two pass it in turns above a third": [
        wave("a", 40.6, 48, 6), wave("b", 53, 57, 6), wave("c", 57, 53, 6), wave("d", 56, 60, 6)
    ],
    "cooled": [[*wave("a", 60, 61, 1), *((at + 24 * H, name, v) for at, name, v in falling("a", 60, 30, 20, 24))]],
    "cooled after a cold beginning": [
        [
            (T0 + n * 5 * MIN, "a", 36_000 if n < 150 else 60_000 if n < 400 else 51_000 + 40 * (n % 7))
            for n in range(14 * 288)
        ]
    ],
    "cooled to just above the limit for worms": [
        [*wave("a", 60, 61, 1), *((at + 24 * H, name, v) for at, name, v in falling("a", 60, 30, 20, 25.8))]
    ],
    "cooled side by side": [
        [*wave(name, 60, 61, 1), *((at + 24 * H, name, v) for at, _, v in falling(name, 60, 30, 20, least))]
        for name, least in (("a", 24), ("b", 22), ("c", 30))
    ],
}  # fmt: skip


@pytest.mark.parametrize("case", CALM)
def test_calm_days_are_not_stepped_through(case):
    rows = sorted(row for one in CALM[case] for row in one)
    names = sorted({probe for _, probe, _ in rows})
    air = air_of(range(T0 // H, rows[-1][0] // H), 16)
    walk, _ = entered(names, VARIANTS[1])
    told = Columns(walk, rows, air, SHORT.lag_ms)
    while told.taken < len(names):
        told.step()
    told = Columns(walk, rows[len(names) :], told.air, SHORT.lag_ms)
    told.run()
    assert told.stepped * 200 < len(rows)
