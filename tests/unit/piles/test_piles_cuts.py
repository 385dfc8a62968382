"""Levels along a line, checked at every millisecond with fractions; and ambient by the hour."""

import random
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.model.times import DAY_MS, HOUR_MS
from monitor.piles.air import AirState, forget_air, mean_air, note_air
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


def test_old_hours_are_forgotten_and_recent_ones_are_not():
    air = AirState()
    for hour in range(24 * 30):
        note_air(air, hour * HOUR_MS, hour)
    forget_air(air, 30 * DAY_MS, 7 * DAY_MS)
    assert len(air.hours) == len(air.sums) == len(air.counts) == 17 * 24
    assert air.hours[-1] == 24 * 30 - 1
