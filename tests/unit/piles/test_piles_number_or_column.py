"""Limits and falls of a heap that take one value or a column of them: each of the column gets what it gets alone."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from monitor.model.thresholds import PileThresholds
from monitor.piles.air import least_covered
from monitor.piles.cuts import Cuts
from monitor.piles.falls import fell
from monitor.piles.moving import ready_limit, reheat_limit

LIMITS = PileThresholds()
warmths = st.integers(-30_000, 90_000)
columns = st.lists(warmths, min_size=1, max_size=20)


def column(values):
    return np.array(values, dtype=np.int64)


@given(columns)
def test_the_moving_limits_of_many_hours_are_those_of_each(values):
    ready = [ready_limit(value, LIMITS) for value in values]
    floor, above = LIMITS.ready_ambient_floor_milli_c, LIMITS.ready_above_ambient_milli_k
    assert ready == [min(max(value + above, floor), LIMITS.ready_milli_c) for value in values]
    assert ready_limit(column(values), LIMITS).tolist() == ready
    reheat = [reheat_limit(value, LIMITS) for value in values]
    assert reheat == [max(value + LIMITS.reheat_rise_milli_k, LIMITS.warm_milli_c) for value in values]
    assert reheat_limit(column(values), LIMITS).tolist() == reheat


@given(st.lists(st.tuples(st.integers(38_000, 62_000), st.integers(28_000, 52_000)), min_size=1, max_size=20))
def test_a_fall_among_many_readings_is_a_fall_of_one(pairs):
    each = [fell(*pair) for pair in pairs]
    assert each == [highest >= 40_000 and highest - milli >= 10_000 for highest, milli in pairs]
    highest, milli = zip(*pairs, strict=True)
    assert fell(column(highest), column(milli)).tolist() == each


@given(st.integers(0, 168), st.integers(1, 168), st.sampled_from([0, 33_333, 75_000, 100_000]))
def test_a_span_is_covered_from_its_share_of_hours_on(covered, length, share):
    enough = covered > 0 and covered * 100_000 >= share * length
    assert (covered >= least_covered(length, share)) is enough


@given(st.lists(st.integers(-2, 2).map(lambda off: 55_000 + off), min_size=1, max_size=20))
def test_levels_of_many_readings_are_those_of_each(values):
    cuts = Cuts([(55_000, False), (55_000, True), (54_999, True)])
    assert np.array(cuts.passes).searchsorted(column(values), side="right").tolist() == [
        cuts.level(one) for one in values
    ]
