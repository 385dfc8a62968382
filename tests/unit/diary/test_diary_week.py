"""The days around today: done, due and expected, each with its letter and words."""

from datetime import date
from zoneinfo import ZoneInfo

from hypothesis import given
from hypothesis import strategies as st

from monitor.diary import Due, PlannedFood, What, days_around, feed_due, week
from monitor.diary.week import EXPECTED, LETTERS
from monitor.model.times import DAY_MS, HOUR_MS, parse_time

ZONE = ZoneInfo("America/New_York")
NOW = parse_time("2026-07-22T13:14:00Z")  # Wednesday, 9:14 in the yard
WED = date(2026, 7, 22)


def due(what, days, place="p1", **more):
    return Due(due_ms=NOW + round(days * DAY_MS), place=place, what=what, why="its rule: so", **more)


def read(found):
    """Return (place, day of July) -> letters and looks."""
    return {
        (place, day.day): [(one.letter, one.look.value) for one in some] for (place, day), some in found.cells.items()
    }


def test_two_days_before_and_four_ahead_by_the_yards_own_days():
    assert [day.day for day in days_around(NOW, ZONE)] == [20, 21, 22, 23, 24, 25, 26]
    late_at_night = parse_time("2026-07-23T03:30:00Z")
    assert days_around(late_at_night, ZONE)[2] == WED, "still Wednesday there"


def test_done_stands_at_its_day_and_due_at_its_own_or_today():
    done = [
        (NOW - 2 * DAY_MS, "p1", What.TURN),
        (NOW - 2 * DAY_MS + HOUR_MS, "p1", What.TURN),
        (NOW - 9 * DAY_MS, "p1", What.FEED),
    ]
    dues = [
        due(What.WATER, -3),
        due(What.READ, 0.2, latest_ms=NOW + DAY_MS),
        due(What.EXPECT, 3, of="met/x"),
        due(What.EXPECT, 3, of="ready/x"),
        due(What.EXPECT, 3, of="frost"),
        due(What.TURN, 9),
    ]
    found = week(done, dues, NOW, ZONE)
    assert read(found) == {
        ("p1", 20): [("T", "done")],
        ("p1", 22): [("W", "late"), ("R", "due")],
        ("p1", 25): [("M", "expected"), ("V", "expected")],
    }
    assert found.legend == {
        "T": "turn it", "W": "water it", "R": "read it by hand", "M": "its rule is met",
        "V": "ready for worms, at the earliest",
    }  # fmt: skip


def test_a_plan_goes_on_as_expected_and_only_as_expected():
    food = PlannedFood(place="b1", week_g=1400, feeds=3, fed=[(NOW - DAY_MS, 400.0)])
    one = feed_due(food, NOW, str)
    assert one.again_ms == 2 * DAY_MS
    assert read(week([], [one], NOW, ZONE)) == {
        ("b1", 23): [("F", "due")], ("b1", 25): [("F", "expected")],
    }  # fmt: skip


def test_a_plan_that_is_late_goes_on_from_today():
    one = due(What.FEED, -30, "b1", again_ms=3 * DAY_MS)
    assert read(week([], [one], NOW, ZONE)) == {("b1", 22): [("F", "late")], ("b1", 25): [("F", "expected")]}


def test_the_further_turnings_of_a_rule_are_expected_where_they_fall_into_the_table():
    turning = due(What.TURN, 0.2, then_ms=(NOW + 3 * DAY_MS, NOW + 6 * DAY_MS))
    assert read(week([], [turning], NOW, ZONE)) == {("p1", 22): [("T", "due")], ("p1", 25): [("T", "expected")]}


def test_every_kind_of_thing_at_a_place_has_a_letter_of_its_own():
    of_the_yard = {What.MIX, What.BACK, What.TEST_LOT}
    assert set(What) - set(LETTERS) == of_the_yard | {What.EXPECT}
    letters = [*LETTERS.values(), *(letter for letter, _ in EXPECTED.values())]
    assert len(set(letters)) == len(letters)


@given(
    st.lists(
        st.tuples(st.floats(-20, 20), st.sampled_from(list(What)), st.one_of(st.none(), st.integers(1, 20 * DAY_MS)))
    ),
    st.lists(st.tuples(st.integers(-10 * DAY_MS, 0), st.sampled_from([What.TURN, What.FEED, What.HARVEST]))),
)
def test_no_letter_stands_outside_the_table_twice_or_without_words(dues, done):
    found = week(
        [(NOW + at, "p1", what) for at, what in done],
        [due(what, days, again_ms=again) for days, what, again in dues],
        NOW,
        ZONE,
    )
    for (_, day), some in found.cells.items():
        assert day in found.days
        assert len({(one.letter, one.look) for one in some}) == len(some)
        for one in some:
            assert one.words
            assert found.legend[one.letter]
            assert one.look.value != "done" or day <= WED
            assert one.look.value == "done" or day >= WED
