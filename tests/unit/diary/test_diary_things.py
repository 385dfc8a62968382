"""Each kind of thing that falls due: when, until when it can wait, and what makes it the same thing."""

from datetime import date, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.diary import (
    AirDay,
    Checked,
    PlannedFood,
    RuleAhead,
    WantedTurnings,
    WrongDamp,
    after_ready,
    back_due,
    calibrate_due,
    certify_due,
    cooled_due,
    damp_due,
    feed_due,
    harvest_due,
    hot_due,
    keep_off,
    lift_due,
    lot_test_due,
    mix_due,
    read_due,
    ready_expected,
    rule_expected,
    screen_due,
    season_dues,
    turn_due,
    unscreened_due,
)
from monitor.diary.due import What
from monitor.model.times import DAY_MS, HOUR_MS, parse_time
from monitor.notices import By, PlaceWatch
from monitor.piles import next_turning

T = parse_time("2026-07-16T22:00:00Z")  # a Thursday, 18:00 in New York
NEW_YORK = ZoneInfo("America/New_York")


def wanted(**more):
    known = {"place": "p1", "batch": "b", "last": T, "turnings": 2, "days": 3, "apart_ms": 0, "every_ms": 3 * DAY_MS}
    return WantedTurnings(**(known | more))


def test_the_check_value_of_the_contract():
    """Yard-work contract, section 11: 3 days and 2 turnings left, last turned 3 days ago: now, and the fifth within 2 days."""
    now = T + 3 * DAY_MS
    fourth = turn_due(wanted(), now)
    assert fourth.due_ms == now
    # The fifth a day after it, and that a day before the end: the fourth can wait for one day.
    assert fourth.slack_ms(now) == DAY_MS
    # As the table of days ahead has it, before the fourth is done.
    assert fourth.then_ms == (now + 2 * DAY_MS,)
    fifth = turn_due(wanted(last=now, turnings=1), now)
    assert fifth.due_ms == now + 2 * DAY_MS
    assert fifth.slack_ms(now) == 0


@given(
    st.integers(1, 9), st.one_of(st.none(), st.integers(0, 40)), st.sampled_from([0, 2 * DAY_MS]),
    st.integers(0, 10 * DAY_MS), st.one_of(st.none(), st.integers(T, T + 20 * DAY_MS)),
)  # fmt: skip
def test_a_turning_is_due_when_the_engine_rings_and_never_later(turnings, days, apart, later, planned):
    now = T + later
    due = turn_due(wanted(turnings=turnings, days=days, apart_ms=apart, planned_ms=planned), now)
    own = next_turning(T, turnings, days, apart, now, 3 * DAY_MS)
    assert due.due_ms == (own if planned is None else min(own, planned))
    assert due.latest_ms is None or due.latest_ms >= due.due_ms
    course = [max(due.due_ms, now), *due.then_ms]
    assert len(course) == turnings
    assert all((apart or DAY_MS) <= after - before <= 3 * DAY_MS for before, after in pairwise(course))
    assert due.id == turn_due(wanted(turnings=turnings, days=days, apart_ms=apart, planned_ms=planned), now + 1).id


def say(at):
    return f"<{(at - T) // HOUR_MS}>"


def test_rounds_are_due_two_hours_before_their_chain_breaks():
    watch = PlaceWatch(place="p1", by=By.HAND, known=True, rounds=(T, T + 24 * HOUR_MS, T + 26 * HOUR_MS))
    due = read_due(watch, T + 26 * HOUR_MS, T, T, say)
    assert (due.due_ms, due.latest_ms) == (T + 24 * HOUR_MS, T + 26 * HOUR_MS)
    assert due.why == "rounds by hand prove its rule; without one their chain breaks <26>"
    broken = read_due(watch, None, T, T + 26 * HOUR_MS, say)
    assert broken.id == due.id
    assert broken.why.endswith("their chain is broken since <0>, and only a round begins it anew")


@pytest.mark.parametrize(
    ("by", "held", "begun", "expected"),
    [
        (By.HAND, T + 72 * HOUR_MS, None, T + 72 * HOUR_MS),
        (By.NOBODY, T - HOUR_MS, None, T - HOUR_MS),
        (By.NOBODY, None, T, T),
        (By.NOBODY, None, None, None),
        (By.PROBES, T, T, None),
        (By.EMPTY, T, T, None),
    ],
)
def test_who_watches_a_place_decides_whether_it_must_be_read(by, held, begun, expected):
    due = read_due(PlaceWatch(place="b1", by=by, known=False), held, begun, T, say)
    assert (None if due is None else due.due_ms) == expected
    assert due is None or due.what is What.READ


def test_water_can_wait_until_the_alarm_rings():
    due = damp_due(WrongDamp(place="b1", dry=True, since=T, milli_pct=55_000, rings_after_ms=12 * HOUR_MS))
    assert (due.what, due.why, due.slack_ms(T + HOUR_MS)) == (What.WATER, "it is too dry, 55 %", 11 * HOUR_MS)
    wet = damp_due(WrongDamp(place="b1", dry=False, since=T))
    assert (wet.what, wet.why) == (What.BEDDING, "water ran from a squeezed handful when somebody looked")
    assert wet.slack_ms(T + HOUR_MS) == -HOUR_MS


def food(*fed, week=14_000, feeds=2, begun=None):
    return PlannedFood(place="b1", week_g=week, feeds=feeds, fed=fed, begun=begun)


def kilos(grams):
    return f"{grams / 1000:g} kg"


def test_the_parts_of_a_week_come_some_days_apart():
    due = feed_due(food((T, 7_000)), T, kilos)
    assert due.due_ms == T + 3 * DAY_MS
    assert due.why == "7 kg, one of 2 parts of a week's food; feed only if the last is nearly gone"
    assert due.slack_ms(T) == 7 * DAY_MS
    # A third part within seven days would be more than a week's food.
    assert feed_due(food((T, 7_000), (T + 3 * DAY_MS, 7_000)), T, kilos).due_ms == T + 7 * DAY_MS


def test_a_bed_that_had_too_much_waits_and_unknown_weights_count_as_a_part():
    assert feed_due(food((T, 20_000)), T, kilos).due_ms == T + 7 * DAY_MS
    assert feed_due(food((T, None), (T + DAY_MS, None)), T, kilos).due_ms == T + 7 * DAY_MS


def test_a_bed_that_was_never_fed_is_fed_since_it_was_begun():
    assert feed_due(food(begun=T - DAY_MS), T, kilos).due_ms == T - DAY_MS
    assert feed_due(food(), T, kilos).due_ms == T


@given(
    st.lists(st.tuples(st.integers(0, 20 * DAY_MS), st.one_of(st.none(), st.integers(0, 30_000))), min_size=1, max_size=12),
    st.integers(1, 7),
)  # fmt: skip
def test_a_feeding_never_brings_more_than_a_weeks_food(fed, feeds):
    entries = [(T + after, grams) for after, grams in fed]
    due = feed_due(food(*entries, feeds=feeds), T, kilos).due_ms
    last = max(when for when, _ in entries)
    assert last + DAY_MS <= due <= last + 7 * DAY_MS
    part = 14_000 / feeds
    before = sum(part if grams is None else grams for when, grams in entries if due - 7 * DAY_MS < when <= due)
    assert before == 0 or before + part <= 14_000 * 1.001


def ahead(**more):
    known = {"place": "p1", "batch": "b", "known_ms": T, "days": 3, "look_again": None, "turning_ms": None, "done": ""}
    return RuleAhead(**(known | more))


def test_fines_are_screened_again_after_their_rest_and_forgotten_a_month_later():
    rested = (T, T + 14 * DAY_MS)
    due = screen_due("b1", "h5", rested, T)
    assert (due.due_ms, due.latest_ms, due.id) == (T, T + 42 * DAY_MS, "screen/b1/h5")
    assert screen_due("b1", "h5", rested, T + 42 * DAY_MS) is not None
    assert screen_due("b1", "h5", rested, T + 42 * DAY_MS + 1) is None


def test_a_rule_is_met_when_its_days_and_its_turnings_are_done():
    assert rule_expected(ahead()).due_ms == T + 3 * DAY_MS
    assert rule_expected(ahead(turning_ms=T + 5 * DAY_MS)).due_ms == T + 5 * DAY_MS
    assert rule_expected(ahead(days=1, look_again=T + HOUR_MS)).due_ms == T + HOUR_MS
    assert rule_expected(ahead(days=None)) is None
    told = rule_expected(ahead(done="12 of 15 days"))
    assert told.why == "its rule is met then if all goes well (12 of 15 days done)"
    assert told.slack_ms(T + 9 * DAY_MS) == 0  # nobody is late for what is only expected


def test_a_ready_heap_is_tested_and_then_its_bay_emptied():
    test, empty = after_ready("p1", "b", T, tried=False)
    assert (test.what, test.due_ms, empty.what, empty.due_ms) == (What.TEST, T, What.EMPTY, T + 120 * HOUR_MS)
    assert after_ready("p1", "b", T, tried=True) == [empty]


@pytest.mark.parametrize(
    ("checked", "probe", "expected"),
    [
        ("2026-05-20", False, "2026-11-20"),
        ("2026-08-31", False, "2027-02-28"),  # February has no 31st
        ("2028-02-29", True, "2029-02-28"),
        ("2026-07-01", False, "2027-01-01"),
    ],
)
def test_a_thermometer_is_checked_after_half_a_year_and_a_probe_after_a_year(checked, probe, expected):
    one = Checked(id="dial", name="dial", checked=parse_time(f"{checked}T12:00:00Z"), probe=probe)
    due = calibrate_due(one, T, NEW_YORK)
    noon = 17 if expected[5:7] in ("11", "02", "01", "12") else 16
    assert due.due_ms == parse_time(f"{expected}T{noon}:00:00Z")
    assert due.place == "yard"


def test_a_thermometer_that_nobody_checked_is_late_since_its_first_use():
    due = calibrate_due(Checked(id="dial", name="dial", checked=None, used=T), T + DAY_MS, NEW_YORK)
    assert due.slack_ms(T + DAY_MS) == -DAY_MS
    assert due.why == "thermometer dial: no check is written down; ice water must read 32 °F (0 °C)"


def autumn(first_frost, *, year, measured=90):
    """Return 90 days of air that end with a first frost."""
    day = first_frost.replace(year=year)
    days = {day - timedelta(days=back): AirDay(4_000, 12_000) for back in range(1, measured + 1)}
    return days | {day: AirDay(-2_000, 6_000)}


def seasons(air, today, days=30):
    return list(season_dues(air, today, days, "degF", NEW_YORK))


def test_the_first_frost_of_last_year_is_told_within_its_days():
    air = autumn(date(2025, 11, 2), year=2025)
    (due,) = seasons(air, date(2026, 10, 20))
    assert due.why == "first frost came on 2 Nov last year, 28.4 °F: bring in or wrap what must not freeze"
    assert due.due_ms == parse_time("2026-11-02T17:00:00Z")
    assert due.expected
    assert seasons(air, date(2026, 10, 20), days=13) == []
    assert len(seasons(air, date(2026, 10, 20), days=14)) == 1
    assert seasons(air, date(2026, 11, 3)) == []


def test_nothing_is_told_without_a_record_or_once_it_has_come():
    assert seasons({}, date(2026, 10, 20)) == []
    # Fewer than 45 days before it were measured, so nobody can say that it was the first.
    assert seasons(autumn(date(2025, 11, 2), year=2025, measured=44), date(2026, 10, 20)) == []
    air = autumn(date(2025, 11, 2), year=2025) | {date(2026, 10, 15): AirDay(-100, 9_000)}
    assert seasons(air, date(2026, 10, 20)) == []


def test_the_latest_year_speaks_and_a_second_frost_is_no_first():
    air = autumn(date(2024, 11, 9), year=2024) | autumn(date(2025, 11, 2), year=2025)
    air[date(2025, 11, 5)] = AirDay(-4_000, 2_000)
    (due,) = seasons(air, date(2026, 10, 20))
    assert "2 Nov last year" in due.why
    older = seasons(autumn(date(2024, 11, 9), year=2024), date(2026, 10, 20))
    assert "9 Nov 2024" in older[0].why


def test_the_first_heat_is_told_too_and_a_leap_day_does_no_harm():
    air = {date(2027, 3, 1) - timedelta(days=back): AirDay(9_000, 20_000) for back in range(1, 80)}
    air[date(2027, 3, 1)] = AirDay(10_000, 33_000)
    (due,) = seasons(air, date(2028, 2, 20))
    assert due.why == "first heat came on 1 Mar last year, 91.4 °F: see to shade and water for the bins"


def test_lifts_and_harvests_can_wait_for_a_fortnight():
    for due in (lift_due("b1", T, 5, "so"), harvest_due("b1", T, 5, "so")):
        assert (due.due_ms, due.latest_ms - due.due_ms) == (T, 14 * DAY_MS)
    assert lift_due("b1", T, 5, "so").id == lift_due("b1", T + 1, 5, "so").id != harvest_due("b1", T, 5, "so").id


def test_the_last_day_ends_when_the_rule_says_and_several_days_are_counted():
    assert rule_expected(ahead(days=2, look_again=T + HOUR_MS)).due_ms == T + 2 * DAY_MS
    assert rule_expected(ahead(days=0, look_again=T + HOUR_MS)).due_ms == T + HOUR_MS
    assert rule_expected(ahead(days=0, turning_ms=T + 9)).due_ms == T + 9


def test_the_test_with_worms_can_wait_while_the_heap_shows_that_it_stays_cool():
    test, empty = after_ready("p1", "b", T, tried=False)
    assert (test.slack_ms(T), empty.slack_ms(T)) == (72 * HOUR_MS, 0)


def test_a_hot_heap_has_a_day_and_a_certificate_four_weeks():
    assert hot_due("p1", T, "160 °F").slack_ms(T + HOUR_MS) == 23 * HOUR_MS
    assert certify_due("p1", "b", T, "then").slack_ms(T) == 28 * DAY_MS
    assert cooled_due("p1", T).slack_ms(T + HOUR_MS) == -HOUR_MS


def test_a_heap_is_ready_at_its_age_or_when_it_has_stayed_cool():
    young, cool = ready_expected("p1", "b", T, 28 * DAY_MS), ready_expected("p1", "b", T, None)
    assert young.why == "not ready for worms before it is 28 days old"
    assert cool.why == "ready for worms then if it stays cool"
    assert young.id == cool.id


@pytest.mark.parametrize(("measured", "told"), [(44, 0), (45, 1), (60, 1)])
def test_enough_days_before_the_first_must_have_been_measured(measured, told):
    assert len(seasons(autumn(date(2025, 11, 2), year=2025, measured=measured), date(2026, 10, 20))) == told


@pytest.mark.parametrize(("back", "told"), [(1, 0), (60, 0), (61, 1)])
def test_a_frost_within_sixty_days_before_makes_it_no_first(back, told):
    air = autumn(date(2025, 11, 2), year=2025)
    air[date(2025, 11, 2) - timedelta(days=back)] = AirDay(-1, 9_000)
    days = [due for due in seasons(air, date(2026, 10, 25)) if "2 Nov" in due.why]
    assert len(days) == told


@pytest.mark.parametrize(("year", "told"), [(2021, 1), (2020, 0)])
def test_the_record_speaks_for_five_years(year, told):
    assert len(seasons(autumn(date(year, 11, 2), year=year), date(2026, 10, 20))) == told


def test_frost_and_heat_begin_at_their_limits():
    air = autumn(date(2025, 11, 2), year=2025)
    air[date(2025, 11, 2)] = AirDay(1, 9_000)
    assert seasons(air, date(2026, 10, 20)) == []
    air[date(2025, 11, 2)] = AirDay(0, 9_000)
    assert "32 °F" in seasons(air, date(2026, 10, 20))[0].why
    air[date(2025, 11, 2)] = AirDay(5_000, 32_221)
    assert seasons(air, date(2026, 10, 20)) == []
    air[date(2025, 11, 2)] = AirDay(5_000, 32_222)
    assert "90 °F" in seasons(air, date(2026, 10, 20))[0].why


@pytest.mark.parametrize(("back", "told"), [(0, 0), (59, 0), (60, 1)])
def test_it_is_told_until_it_has_come_this_year(back, told):
    air = autumn(date(2025, 11, 2), year=2025)
    air[date(2026, 10, 20) - timedelta(days=back)] = AirDay(-1, 9_000)
    assert len(seasons(air, date(2026, 10, 20))) == told


@pytest.mark.parametrize(
    ("turnings", "days", "said"),
    [
        (2, 3, "its rule wants more: 2 turnings are left, and 3 days"),
        (1, 1, "its rule wants more: 1 turning is left, and 1 day"),
        (1, 0, "its rule wants more: 1 turning is left, and its days are over"),
        (4, None, "its rule wants more: 4 turnings are left"),
    ],
)
def test_a_turning_says_how_much_is_left(turnings, days, said):
    due = turn_due(wanted(turnings=turnings, days=days), T)
    assert due.why == said
    assert (due.latest_ms is None) is (days is None)


def test_a_heap_to_keep_off_has_its_alarm():
    off = keep_off("p1", "fire danger", T)
    assert off.forbids
    assert (off.place, off.due_ms) == ("p1", T)
    assert off.why == "fire danger: leave it shut and do no work there; the alarm says what to do"
    assert not off.expected


def test_what_rots_can_wait_for_three_days_and_nobody_is_asked_for_ever():
    due = mix_due("kitchen scraps", "d14", T, "40 lb", T + DAY_MS)
    assert (due.id, due.due_ms, due.slack_ms(T + DAY_MS)) == ("mix/yard/d14", T, 2 * DAY_MS)
    assert due.why == "kitchen scraps (d14) rots while it waits: 40 lb by the record"
    assert mix_due("kitchen scraps", "d14", T, "40 lb", T + 31 * DAY_MS) is not None
    assert mix_due("kitchen scraps", "d14", T, "40 lb", T + 31 * DAY_MS + 1) is None
    counted = mix_due("Kitchen scraps", "", T, "40 lb", T)
    assert (counted.id, counted.why[:20]) == (f"mix/yard/kitchen scraps/{T}", "Kitchen scraps rots ")


def test_the_first_screening_of_a_harvest_is_another_thing_than_that_of_its_fines():
    first = unscreened_due("b1", "h31", T, T)
    assert (first.id, first.slack_ms(T)) == ("screen/b1/h31/first", 14 * DAY_MS)
    assert first.id != screen_due("b1", "h31", (T, T + DAY_MS), T).id
    assert unscreened_due("b1", "h31", T, T + 42 * DAY_MS) is not None
    assert unscreened_due("b1", "h31", T, T + 42 * DAY_MS + 1) is None


@pytest.mark.parametrize(("part", "where"), [("overs", "they go back into a bed"), ("middle", "it begins a new bed")])
def test_overs_and_middle_go_into_a_bed(part, where):
    due = back_due("b1", f"h31/{part}", T, T)
    assert (due.id, due.slack_ms(T)) == (f"put back/b1/h31/{part}", 7 * DAY_MS)
    assert where in due.why
    assert back_due("b1", f"h31/{part}", T, T + 35 * DAY_MS) is not None
    assert back_due("b1", f"h31/{part}", T, T + 35 * DAY_MS + 1) is None


def test_a_lot_waits_for_the_tests_that_are_not_in():
    due = lot_test_due("lot-1", T, ["Bean test", "salt"], "40 lb left")
    assert (due.id, due.slack_ms(T)) == ("test a lot/yard/lot-1", 28 * DAY_MS)
    assert due.why == "held back until Bean test and salt are in: lot-1, 40 lb left"
    assert lot_test_due("lot-1", T, ["salt"], "40 lb left").why == "held back until salt is in: lot-1, 40 lb left"
