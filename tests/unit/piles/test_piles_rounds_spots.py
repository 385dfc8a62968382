"""Rounds by hand: named spots count once, by their later value; what nobody named may each be another spot."""

from monitor.model.readings import names_spot
from monitor.piles import rounds

MIN = 60_000


def test_readings_of_no_named_spot_all_count():
    for series in ("a", "hand:p1"):
        [point] = rounds([(0, series, 134), (MIN, series, 112), (2 * MIN, series, 134)])
        assert (point.low, point.high, point.spots) == (112, 134, 3)


def test_a_named_spot_counts_by_its_later_value():
    [point] = rounds([(0, "hand:p1:w", 112), (MIN, "hand:p1:w", 134), (2 * MIN, "hand:p1:e", 130)])
    assert (point.low, point.high, point.spots) == (130, 134, 2)


def test_which_series_names_a_spot():
    assert names_spot("hand:p1:west")
    assert not names_spot("hand:p1")
    assert not names_spot("a:b")
