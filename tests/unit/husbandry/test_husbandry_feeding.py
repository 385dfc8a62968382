"""The food of a bed: the contract's check values, the course of warmth, and what is not known."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.husbandry import BedNow, Food, Limit, feeding_plan
from monitor.model.times import DAY_MS

LB, FT2 = 453.59237, 92_903.04


def fahrenheit(value):
    return round((value - 32) / 1.8 * 1000)


def bed(**more):
    known = {"surface_mm2": round(32 * FT2), "worms_g": round(32 * LB), "temperature_milli_c": fahrenheit(70)}
    return BedNow(**(known | more))


def pounds(plan):
    return plan.week_g / LB


def test_the_contracts_check_value_of_a_grown_bed():
    # 32 ft², 32 lb of worms, 70 °F, grown: appetite 112, surface 32: 32 lb a week, two feeds of 16 lb, each 4.9 mm.
    plan = feeding_plan(bed())
    assert plan.appetite_g / LB == pytest.approx(112, abs=0.01)
    assert plan.surface_g / LB == pytest.approx(32, abs=0.01)
    assert pounds(plan) == pytest.approx(32, abs=0.01)
    assert (plan.feeds, round(plan.layer_mm, 1)) == (2, 4.9)
    assert plan.shares == ((Limit.SURFACE, 1.0),)
    assert plan.planned


def test_the_contracts_check_value_of_a_warm_bed():
    # The same at 83.5 °F: 9.6 lb.
    plan = feeding_plan(bed(temperature_milli_c=fahrenheit(83.5)))
    assert pounds(plan) == pytest.approx(9.6, abs=0.01)
    assert plan.shares[1] == (Limit.WARM, pytest.approx(0.3, abs=0.001))


@pytest.mark.parametrize(
    ("at", "share"),
    [
        (39, 0),
        (40, 0),
        (45, 0.15),
        (50, 0.3),
        (55, 0.5),
        (60, 0.7),
        (64, 0.85),
        (68, 1),
        (77, 1),
        (79.5, 0.8),
        (82, 0.6),
        (85, 0),
        (100, 0),
    ],
)
def test_warmth_eases_the_food_off_straight_between_its_points(at, share):
    assert pounds(feeding_plan(bed(temperature_milli_c=fahrenheit(at)))) == pytest.approx(32 * share, abs=0.01)


@pytest.mark.parametrize(("at", "limit"), [(60, Limit.COLD), (80, Limit.WARM), (35, Limit.COLD), (90, Limit.WARM)])
def test_the_reason_says_on_which_side_it_lies(at, limit):
    assert limit in {one for one, _ in feeding_plan(bed(temperature_milli_c=fahrenheit(at))).shares}


@pytest.mark.parametrize(("days", "share"), [(0, 0.25), (13, 0.25), (14, 0.5), (41, 0.5), (42, 1), (None, 1)])
def test_a_young_bed_gets_less(days, share):
    plan = feeding_plan(bed(age_ms=None if days is None else days * DAY_MS))
    assert pounds(plan) == pytest.approx(32 * share, abs=0.01)
    assert (Limit.YOUNG in {one for one, _ in plan.shares}) is (share < 1)


def test_a_wet_bed_gets_no_wet_food_and_may_get_dry():
    assert feeding_plan(bed(moisture_milli_pct=85_001)).week_g == 0
    assert feeding_plan(bed(moisture_milli_pct=85_000)).week_g > 0
    assert feeding_plan(bed(moisture_milli_pct=90_000), Food.PRESSED).week_g == 0
    assert feeding_plan(bed(moisture_milli_pct=90_000), Food.COMPOSTED).week_g > 0


@pytest.mark.parametrize(("more", "limit"), [({"runs": True}, Limit.WET), ({"smell": "rotten"}, Limit.SMELL)])
def test_a_squeeze_that_runs_or_a_bad_smell_forbids_wet_food_alone(more, limit):
    for food in (Food.FRESH, Food.PRESSED):
        plan = feeding_plan(bed(**more), food)
        assert (plan.week_g, plan.shares[-1]) == (0, (limit, 0.0))
        assert plan.planned
    dry = feeding_plan(bed(**more), Food.COMPOSTED)
    assert dry.week_g > 0
    assert dry.shares == ()


def test_of_many_reasons_each_is_named_with_its_share():
    plan = feeding_plan(bed(temperature_milli_c=fahrenheit(55), age_ms=20 * DAY_MS))
    assert plan.shares == ((Limit.SURFACE, 1.0), (Limit.COLD, pytest.approx(0.5)), (Limit.YOUNG, 0.5))
    assert pounds(plan) == pytest.approx(8, abs=0.01)


def test_few_worms_on_much_surface_eat_what_they_can():
    plan = feeding_plan(bed(worms_g=round(4 * LB)))
    assert pounds(plan) == pytest.approx(14, abs=0.01)
    assert plan.shares == ()


@pytest.mark.parametrize(
    ("more", "limit"),
    [
        ({"worms_g": None}, Limit.NO_WORMS),
        ({"surface_mm2": None}, Limit.NO_SURFACE),
        ({"temperature_milli_c": None}, Limit.NO_TEMPERATURE),
        ({"empty": True}, Limit.EMPTY),
    ],
)
@pytest.mark.parametrize("food", Food)
def test_without_what_decides_there_is_no_plan_and_it_says_why(more, limit, food):
    plan = feeding_plan(bed(**more), food)
    assert plan.week_g == 0
    assert not plan.planned
    assert [one for one, _ in plan.shares] == [limit]


@pytest.mark.parametrize(
    ("more", "limit"),
    [
        ({"alarms": ("overheating",)}, Limit.ALARM),
        ({"hottest_milli_c": fahrenheit(85)}, Limit.HOT_NOW),
        ({"hottest_milli_c": fahrenheit(95), "worms_g": None}, Limit.HOT_NOW),
    ],
)
def test_danger_forbids_all_food_before_anything_else_is_asked(more, limit):
    plan = feeding_plan(bed(**more), Food.COMPOSTED)
    assert (plan.week_g, plan.planned, plan.shares) == (0, True, ((limit, 0.0),))
    assert feeding_plan(bed(hottest_milli_c=fahrenheit(84.9))).week_g > 0


def test_less_than_a_handful_is_nothing_and_little_is_given_at_once():
    assert feeding_plan(bed(temperature_milli_c=fahrenheit(40.05))).week_g == 0
    plan = feeding_plan(bed(worms_g=100))
    assert (plan.week_g, plan.feeds) == (350, 1)


def test_composted_food_lies_in_layers_of_an_inch_and_pressed_of_half():
    hungry = bed(worms_g=round(300 * LB))
    composted, pressed = feeding_plan(hungry, Food.COMPOSTED), feeding_plan(hungry, Food.PRESSED)
    assert composted.layer_mm <= 25.4
    assert pressed.layer_mm <= 12.7
    assert composted.feeds > 2
    assert pounds(pressed) == pytest.approx(32, abs=0.01), "wet as it is, the surface limits it too"


LIKES = {"temperature_milli_c": fahrenheit(70), "surface_mm2": 1_000_000}


@pytest.mark.parametrize(
    ("surface_mm2", "week_g", "feeds"),
    [(10_240, 0, 0), (10_241, 50, 1), (102_300, 499, 1), (102_408, 500, 1), (102_500, 500, 2)],
)
def test_under_fifty_grams_a_week_is_nothing_and_over_five_hundred_is_given_in_two(surface_mm2, week_g, feeds):
    plan = feeding_plan(bed(surface_mm2=surface_mm2))
    assert (plan.week_g, plan.feeds) == (week_g, feeds)
    assert plan.layer_mm == pytest.approx(9.765 / feeds if feeds else 0, abs=0.01), "1 lb/ft² of 500 kg/m³"


@pytest.mark.parametrize(
    ("worms_g", "week_g", "feeds", "layer_mm"),
    [
        (100, 350, 1, 0.7),
        (7_200, 25_200, 2, 25.2),
        (7_300, 25_550, 3, 17.033),
        (14_500, 50_750, 4, 25.375),
        (14_600, 51_100, 5, 20.44),
        (25_000, 87_500, 7, 25.0),
        (25_400, 88_900, 7, 25.4),
        (90_000, 88_900, 7, 25.4),
    ],
)
def test_food_that_was_composted_lies_in_layers_of_an_inch_seven_a_week_and_no_more(worms_g, week_g, feeds, layer_mm):
    plan = feeding_plan(BedNow(worms_g=worms_g, **LIKES), Food.COMPOSTED)
    assert (plan.week_g, plan.feeds, plan.layer_mm) == (week_g, feeds, pytest.approx(layer_mm, abs=0.001))
    assert (plan.surface_g, plan.shares) == (None, ())


@pytest.mark.parametrize("food", Food)
def test_a_bed_without_a_surface_takes_nothing(food):
    plan = feeding_plan(bed(surface_mm2=0), food)
    assert (plan.week_g, plan.feeds, plan.layer_mm) == (0, 0, 0)


@given(
    st.integers(1, 10**7), st.integers(1, 10**6), st.integers(-30_000, 60_000), st.integers(0, 100_000),
    st.integers(0, 400 * DAY_MS), st.sampled_from(Food),
)  # fmt: skip
def test_no_bed_gets_more_than_its_worms_eat_or_its_surface_takes(surface, worms, milli_c, moisture, age, food):
    plan = feeding_plan(
        BedNow(
            surface_mm2=surface, worms_g=worms, temperature_milli_c=milli_c, moisture_milli_pct=moisture, age_ms=age
        ),
        food,
    )
    assert 0 <= plan.week_g <= plan.appetite_g + 1
    if plan.surface_g is not None:
        assert plan.week_g <= plan.surface_g + 1
    assert (plan.feeds == 0) is (plan.layer_mm == 0)
    if food.layer_mm is not None:
        assert plan.layer_mm <= food.layer_mm + 1e-9
