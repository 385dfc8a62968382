"""Lifts, harvests and residence. Check value: yard-work contract, section 8 (20 in, 2 in a fortnight: 140 days)."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.husbandry.bed_build import (
    AT_A_TIME_MM,
    BELOW_RIM_MM,
    KEEP_MM,
    LIFT_MM,
    BedBuild,
    NextStep,
    Step,
    next_harvest,
    next_lift,
    residence_days,
    sinking_mm_a_day,
)
from monitor.model.times import DAY_MS
from monitor.model.words import BinKind

NOW = 1_790_000_000_000
IN = 25.4


def bed(depth_in=None, rim_in=30.0, kind=BinKind.FLOW, days=(), layer_in=2.0, **more):
    return BedBuild(
        kind=kind,
        depth_mm=None if depth_in is None else round(depth_in * IN),
        rim_mm=None if rim_in is None else round(rim_in * IN),
        harvests=[(NOW - day * DAY_MS, None if layer_in is None else layer_in * IN) for day in days],
        **more,
    )


def test_food_stays_as_long_as_the_bed_is_deep_over_its_harvests():
    assert residence_days(bed(20, days=(28, 14, 0))) == pytest.approx(140, rel=1e-3)
    assert residence_days(bed(20, days=(14,))) is None, "one harvest has no rate"
    assert residence_days(bed(None, days=(28, 14))) is None
    assert residence_days(bed(20, days=(28, 14), layer_in=None)) is None
    assert sinking_mm_a_day([(NOW, 50.0), (NOW, 50.0)]) is None


@pytest.mark.parametrize(
    ("built", "step", "due"),
    [
        (bed(18), Step.SUNK, NOW),
        (bed(18.1), Step.HIGH, None),
        (bed(6, begun=NOW - 50 * DAY_MS), Step.SUNK, NOW),
        (bed(6, begun=NOW - 10 * DAY_MS), Step.YOUNG, NOW + 32 * DAY_MS),
        (bed(12, rim_in=24), Step.SUNK, NOW),
        (bed(12.5, rim_in=24), Step.HIGH, None),
        (bed(18.5, rim_in=60), Step.HIGH, None),  # a lift would make it deeper than 24 in
        (bed(18, rim_in=None, kind=BinKind.WINDROW), Step.SUNK, NOW),
        (bed(18, rim_in=None), Step.NO_RIM, None),
        (bed(), Step.NO_DEPTH, None),
        (bed(18, kind=BinKind.TRAYS), Step.NO_RULE, None),
        (bed(18, kind=None), Step.NO_KIND, None),
        (bed(18, kind=None, empty=True), Step.BEGIN, None),
    ],
)
def test_a_lift_is_due_once_the_bed_has_sunk(built, step, due):
    found = next_lift(built, NOW)
    assert (found.step, found.due) == (step, due)


def test_harvests_say_when_it_will_have_sunk():
    found = next_lift(bed(20, days=(28, 14, 0)), NOW)
    assert (found.step, found.due) == (Step.SINKING, NOW + round(51 / 50.8 * 14 * DAY_MS))
    assert found.by_mm == 51
    young = next_lift(bed(20, days=(28, 14, 0), begun=NOW - 20 * DAY_MS), NOW)
    assert young.due == NOW + 22 * DAY_MS


@pytest.mark.parametrize(
    ("built", "step", "due"),
    [
        (bed(16), Step.DEEP, NOW),
        (bed(15.9), Step.SHALLOW, None),
        (bed(20, days=(3,)), Step.DEEP, NOW + 11 * DAY_MS),
        (bed(20, days=(20,)), Step.DEEP, NOW - 6 * DAY_MS),
        (bed(20, days=(31, 21, 11, 1)), Step.DEEP, NOW + 9 * DAY_MS),
        (bed(20, days=(3, 2, 1)), Step.DEEP, NOW + 6 * DAY_MS),  # never sooner than a week
        (bed(20, days=(140, 40, 20, 15, 8, 0)), Step.DEEP, NOW + 15 * DAY_MS // 2),  # of the newest five
        (bed(), Step.NO_DEPTH, None),
        (bed(20, kind=BinKind.TUB), Step.NO_RULE, None),
        (bed(20, kind=None), Step.NO_KIND, None),
        (bed(20, empty=True), Step.BEGIN, None),
    ],
)
def test_a_bed_with_a_grate_is_harvested_from_sixteen_inches_on(built, step, due):
    found = next_harvest(built, NOW)
    assert (found.step, found.due) == (step, due)


def test_the_figures_are_the_practices_in_whole_millimetres():
    assert (round(IN), round(2 * IN)) == AT_A_TIME_MM
    assert (round(16 * IN), round(24 * IN)) == KEEP_MM
    assert (round(6 * IN), round(12 * IN)) == (LIFT_MM, BELOW_RIM_MM)


def test_how_much_it_must_grow_is_told():
    assert next_harvest(bed(12), NOW) == NextStep(step=Step.SHALLOW, by_mm=101)


def in_order(some):
    return sorted(some, key=lambda one: one[0])


@given(
    st.none() | st.sampled_from(list(BinKind)),
    st.none() | st.floats(0, 3000, allow_subnormal=False),
    st.none() | st.floats(0, 3000),
    st.none() | st.integers(0, NOW + 99 * DAY_MS),
    st.lists(st.tuples(st.integers(0, NOW), st.none() | st.floats(0, 500)), max_size=8).map(in_order),
)
def test_any_bed_has_an_answer_and_lifts_are_never_overdue(kind, depth, rim, begun, harvests):
    built = BedBuild(kind=kind, depth_mm=depth, rim_mm=rim, begun=begun, harvests=harvests)
    lift = next_lift(built, NOW)
    assert lift.due is None or lift.due >= NOW
    assert next_harvest(built, NOW).due is None or kind is BinKind.FLOW
    assert residence_days(built) is None or residence_days(built) > 0
