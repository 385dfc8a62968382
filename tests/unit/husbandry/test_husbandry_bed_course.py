"""A bed by the work log: its depth, its harvests, its worms."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.husbandry.bed_course import Known, bed_course, stock_of
from monitor.model.times import DAY_MS
from monitor.model.work import Work, WorkKind

NOW = 1_790_000_000_000
LB, IN, FT2 = 453.59237, 25.4, 92_903.04


def did(days_ago, kind, amount="", place="b1", **more):
    number, _, unit = amount.partition(" ")
    return Work(
        time=NOW - int(days_ago * DAY_MS), place=place, kind=kind, amount=number, measure=unit, unit=unit, **more
    )


def course(*works, surface=32 * FT2):
    return bed_course(list(enumerate(works, 1)), "b1", {"wall bin"}, surface, NOW)


def bedded(days_ago, amount, **more):
    return did(days_ago, WorkKind.BEDDED, amount, **more)


def harvested(days_ago, amount, **more):
    return did(days_ago, WorkKind.HARVESTED, amount, **more)


def sampled(days_ago, amount, what="worms", **more):
    return did(days_ago, WorkKind.SAMPLED, amount, what=what, **more)


def test_lifts_add_up_and_harvests_take_off():
    found = course(bedded(100, "6 in"), bedded(60, "6 in"), harvested(10, "50 lb", depth="2 in"))
    assert found.depth_mm == pytest.approx(10 * IN)
    assert (found.begun, found.measured, found.moved_since) == (NOW - 100 * DAY_MS, None, True)
    (one,) = found.harvests
    assert (one.layer_mm, one.depth_mm) == (pytest.approx(2 * IN), pytest.approx(12 * IN))


def test_a_measured_depth_goes_before_what_was_reckoned():
    looked = did(5, WorkKind.INSPECTED, depth="20 in")
    found = course(bedded(100, "6 in"), looked)
    assert (found.depth_mm, found.measured, found.moved_since) == (pytest.approx(20 * IN), looked.time, False)
    later = course(looked, bedded(4, "6 in"))
    assert (later.depth_mm, later.moved_since) == (pytest.approx(26 * IN), True)
    assert course(did(5, WorkKind.INSPECTED, depth="odd")).depth_mm is None


def test_volumes_count_over_the_surface_and_masses_say_nothing_of_depth():
    found = course(bedded(100, "16 ft3"))
    assert found.depth_mm == pytest.approx(6 * IN)
    assert course(bedded(100, "16 ft3"), surface=None).depth_mm is None
    assert course(bedded(100, "6 in"), harvested(9, "50 lb")).depth_mm is None, "nobody knows what is left"
    assert course(bedded(100, "50 lb"), bedded(90, "6 in")).depth_mm is None, "nor what lay there before"


def test_emptying_begins_anew_and_what_is_to_come_does_not_count():
    found = course(
        bedded(100, "6 in"), sampled(90, "1 lb"), did(50, WorkKind.EMPTIED), bedded(40, "8 in"), bedded(-1, "6 in")
    )
    assert (found.begun, found.depth_mm, found.cores) == (NOW - 40 * DAY_MS, pytest.approx(8 * IN), [])


def test_samples_within_a_day_are_one_sampling():
    found = course(
        sampled(40, "9 lb"),
        sampled(3.2, "0.8 lb"),
        sampled(3.1, "1 lb"),
        sampled(3, "1.2 lb"),
        sampled(2, "200 g", "castings"),
    )
    stock = stock_of(found, 32 * FT2, 1000.0)
    assert (stock.known, stock.cores, stock.at) == (Known.SAMPLED, 3, NOW - 3 * DAY_MS)
    weight = stock.weight
    assert (weight.least, weight.usual, weight.most) == pytest.approx((25.6 * LB, 32 * LB, 38.4 * LB))
    assert stock_of(found, None, 1000.0).known is Known.CONFIGURED, "without a surface a sample says nothing"


def test_the_later_of_weighing_and_sampling_counts():
    weighed = sampled(2, "20 lb", "all worms")
    assert stock_of(course(sampled(3, "1 lb"), weighed), FT2, None).known is Known.WEIGHED
    assert stock_of(course(weighed, sampled(1, "1 lb")), FT2, None).known is Known.SAMPLED


def test_worms_that_came_and_went_since_count():
    weighed = sampled(20, "20 lb", "All worms")
    came = bedded(10, "3 lb", what="worms", source="a grower")
    went = bedded(5, "2 lb", place="b2", what="worms", source="Wall bin")
    before = bedded(30, "9 lb", what="worms")
    stock = stock_of(course(weighed, came, went, before), FT2, 1.0)
    assert stock.weight.usual == pytest.approx(21 * LB)
    assert not stock.unweighed
    assert stock_of(course(weighed, bedded(10, "", what="worms")), FT2, None).unweighed


def test_without_any_weighing_the_configuration_counts_and_then_what_was_brought():
    found = course(bedded(30, "9 lb", what="worms"), bedded(20, "1 lb", what="worms"))
    assert stock_of(found, FT2, 700.0).weight.usual == 700
    assert not stock_of(found, FT2, 700.0).unweighed
    brought = stock_of(found, FT2, None)
    assert (brought.known, brought.weight.usual) == (Known.BROUGHT, pytest.approx(10 * LB))
    assert stock_of(course(), FT2, None) is None


def test_a_harvest_takes_at_most_its_share_and_what_was_put_back_makes_up_for_it():
    log = [did(30, WorkKind.INSPECTED, depth="20 in"), sampled(20, "20 lb", "all worms"), harvested(10, "2 in")]
    stock = stock_of(course(*log), FT2, None)
    assert stock.lost_g == pytest.approx(2 * LB)
    assert (stock.weight.least, stock.weight.usual) == pytest.approx((18 * LB, 20 * LB))
    back = bedded(9, "1.5 lb", what="worms", source="h3")
    stock = stock_of(course(*log, back), FT2, None)
    assert stock.lost_g == pytest.approx(0.5 * LB)
    assert stock.weight.usual == pytest.approx(20 * LB), "they were in it before"


works = st.builds(
    did,
    st.floats(-2, 100),
    st.sampled_from(
        [WorkKind.BEDDED, WorkKind.HARVESTED, WorkKind.SAMPLED, WorkKind.INSPECTED, WorkKind.EMPTIED, WorkKind.FED]
    ),
    st.sampled_from(["", "3 in", "2 lb", "50 L", "3 bucket", "x y"]),
    place=st.sampled_from(["b1", "b2"]),
    what=st.sampled_from(["", "worms", "all worms", "straw"]),
    source=st.sampled_from(["", "b1", "h1"]),
    depth=st.sampled_from(["", "20 in", "0 in", "odd"]),
)


@given(st.lists(works, max_size=12), st.none() | st.floats(1, 1e8), st.none() | st.floats(0, 1e5))
def test_any_log_has_a_course_and_the_stock_keeps_its_order(log, surface, configured):
    found = bed_course(list(enumerate(log, 1)), "b1", (), surface, NOW)
    assert found.depth_mm is None or found.depth_mm >= 0
    stock = stock_of(found, surface, configured)
    if stock is not None:
        assert 0 <= stock.weight.least <= stock.weight.usual + 1e-6 <= stock.weight.most + 1e-3
        assert stock.lost_g >= 0
