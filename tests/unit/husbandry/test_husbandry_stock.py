"""The stock of a bed: how it grows, is sampled and counted; check values of the contract."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.husbandry import days_to_grow
from monitor.husbandry.stock import MOST_G_MM2, DaysToGrow, most_in_harvest, stock_by_cores, weight_of

LB = 453.59237


def test_the_contracts_check_value_of_growth():
    # 8 to 24 lb: 95 to 143 days.
    assert days_to_grow(8, 24) == DaysToGrow(95, 143)
    assert days_to_grow(24, 8) == days_to_grow(8, 8) == days_to_grow(8, 0) == DaysToGrow(0, 0)
    assert days_to_grow(1, 2) == DaysToGrow(60, 90)
    with pytest.raises(ValueError, match="without worms"):
        days_to_grow(0, 8)


def test_a_stock_never_grows_as_fast_as_worms_breed_in_a_laboratory():
    # Published worked example (a manual of worm culture, seen second hand): 3.8 cocoons a week from each grown worm, of
    # which 83.2 % hatch, with 3.3 young each, are 10.4 young a week. Growth in a bed must stay far below that bound.
    young = 3.8 * 0.832 * 3.3
    assert young == pytest.approx(10.43, abs=0.005)
    quickest = days_to_grow(1_000, 2_000).soonest
    assert 2 ** (7 / quickest) - 1 < young / 10


def test_three_cores_of_a_square_foot_give_the_stock_and_its_spread():
    # Contract, section 8: mean times area, spread shown. 0.8, 1.0 and 1.2 lb on 32 ft²: 32 lb, 25.6 to 38.4.
    found = stock_by_cores([0.8 * LB, LB, 1.2 * LB], 32 * 92_903.04)
    assert (found.least, found.usual, found.most) == pytest.approx((25.6 * LB, 32 * LB, 38.4 * LB))


def test_a_thousand_grown_worms_weigh_about_a_pound():
    # Contract, section 8: 800 to 1,500 make one.
    found = weight_of(1000)
    assert (found.least, found.usual, found.most) == pytest.approx((LB / 1.5, LB, LB / 0.8))


def test_a_full_bed_holds_three_pounds_on_a_square_foot():
    assert pytest.approx(96 * LB) == 32 * 92_903.04 * MOST_G_MM2


def test_the_most_a_harvest_can_take_along_is_its_share_of_the_bed():
    assert most_in_harvest(1000, 50, 500) == pytest.approx(100)
    assert most_in_harvest(1000, 600, 500) == 1000
    assert most_in_harvest(1000, 5, 0) == 1000


@given(st.lists(st.floats(0, 5000), min_size=1, max_size=9), st.floats(1, 1e8))
def test_the_stock_lies_between_its_bounds(cores, surface):
    found = stock_by_cores(cores, surface)
    assert found.least <= found.usual * (1 + 1e-9)
    assert found.usual <= found.most * (1 + 1e-9)
