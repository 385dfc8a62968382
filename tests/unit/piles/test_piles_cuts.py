"""Levels along a line, checked at every millisecond with fractions; and ambient by the hour."""

import random
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.model.times import DAY_MS, HOUR_MS
from monitor.piles.air import AirState, forget_air, mean_air, note_air, note_hours
from monitor.piles.cuts import Cuts

CUTS = [(10, False), (10, True), (11, False), (14, True), (20, False)]


@given(st.integers(0, 30), st.integers(0, 30), st.integers(1, 40))
def test_crossings_are_right_at_every_millisecond(first, last, length):
    cuts = Cuts(CUTS)
    level, changes = cuts.level(first), dict(cuts.crossings(100, first, 100 + length, last))
    for step in range(length + 1):
        value = Fraction(first) + Fraction((last - first) * step, length)
        level = changes.pop(100 + step, level)
        assert level == sum(value > limit if above else value >= limit for limit, above in CUTS)
    assert not changes
    assert level == cuts.level(last)


@pytest.mark.parametrize("value", range(8, 23))
def test_a_band_holds_exactly_the_values_of_its_level(value):
    cuts = Cuts(CUTS)
    low, high = cuts.band(cuts.level(value))
    assert low <= value < high
    assert all(cuts.level(other) == cuts.level(value) for other in range(max(low, 0), min(high, 40)))
    assert cuts.need(10) == 1
    assert cuts.need(14, above=True) == 4
    with pytest.raises(ValueError, match="not in list"):
        cuts.need(12)


def test_the_mean_of_ambient_weighs_hours_not_readings():
    air = AirState()
    rows = [(minute * 60_000, 10_000) for minute in range(60)] + [(HOUR_MS, 20_001), (HOUR_MS + 5, 20_002)]
    random.Random(1).shuffle(rows)
    for time, milli in rows:
        note_air(air, time, milli)
    # Half-even at each hour: 20001.5 is 20002.
    assert mean_air(air, 3 * HOUR_MS, 2 * HOUR_MS, 100_000) == 15_001
    assert mean_air(air, 3 * HOUR_MS - 1, HOUR_MS, 100_000) == 10_000
    assert mean_air(air, 3 * HOUR_MS, 4 * HOUR_MS, 50_000) == 15_001
    assert mean_air(air, 3 * HOUR_MS, 4 * HOUR_MS, 50_001) is None
    assert air.consulted == 2 * HOUR_MS


@given(st.lists(st.tuples(st.integers(0, 30), st.integers(-9000, 40_000)), max_size=25), st.randoms())
def test_hours_taken_in_at_once_are_those_of_each_reading(readings, rng):
    one, whole = AirState(), AirState()
    for hour, milli in readings:
        note_air(one, hour * HOUR_MS + rng.randrange(HOUR_MS), milli)
    halves = [readings[: len(readings) // 2], readings[len(readings) // 2 :]]
    for half in halves:
        hours = sorted({hour for hour, _ in half})
        parts = [[milli for at, milli in half if at == hour] for hour in hours]
        note_hours(whole, [(hour, sum(part), len(part)) for hour, part in zip(hours, parts, strict=True)])
    assert whole == one
    assert one.hours == sorted({hour for hour, _ in readings})


@given(
    st.dictionaries(st.integers(0, 60), st.lists(st.integers(-9000, 40_000), min_size=1, max_size=3), max_size=40),
    st.integers(1, 60),
    st.integers(1, 48),
    st.sampled_from([0, 1, 50_000, 75_000, 100_000]),
)
def test_the_mean_is_that_of_the_hours_that_ended_an_hour_before(hours, at, span, coverage):
    air = AirState()
    note_hours(air, [(hour, sum(values), len(values)) for hour, values in hours.items()])
    known = [Fraction(sum(hours[h]), len(hours[h])) for h in range(at - 1 - span, at - 1) if h in hours]
    found = mean_air(air, at * HOUR_MS + 17, span * HOUR_MS + 5, coverage)
    enough = len(known) >= max(1, Fraction(coverage * span, 100_000))
    assert found == (round(Fraction(sum(round(one) for one in known), len(known))) if enough else None)
    assert air.consulted == (at - 1) * HOUR_MS
    # What no decision can ask for any more is forgotten, and nothing else.
    forget_air(air, at * HOUR_MS, span * HOUR_MS)
    assert air.hours == sorted(hour for hour in hours if hour >= at - span - 240)
    assert mean_air(air, at * HOUR_MS + 17, span * HOUR_MS, coverage) == found


def test_old_hours_are_forgotten_and_recent_ones_are_not():
    air = AirState()
    for hour in range(24 * 30):
        note_air(air, hour * HOUR_MS, hour)
    forget_air(air, 30 * DAY_MS, 7 * DAY_MS)
    assert len(air.hours) == len(air.sums) == len(air.counts) == 17 * 24
    assert air.hours[-1] == 24 * 30 - 1
