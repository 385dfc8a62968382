"""Who looks after a place, who is on duty, whose quiet hours hold an instant: at each edge."""

import pytest

from monitor.model.settings import Contact, DutyWindow
from monitor.model.times import DAY_MS, HOUR_MS, MINUTE_MS, parse_time
from monitor.notices import DeskState, NoticeDesk, say_span, say_time
from monitor.notices.localtime import next_daily, say_date_time
from monitor.notices.roster import Roster
from tests.worlds.notice_cases import yard

MIDNIGHT = parse_time("2026-03-04T05:00:00Z")  # 00:00 in New York, at the beginning of a Wednesday
ALWAYS = {"quiet_start_minute": 0, "quiet_end_minute": 0}


def roster(**contacts):
    return Roster(yard(contacts=contacts))


def at(hour, minute=0, day=0):
    return MIDNIGHT + day * DAY_MS + hour * HOUR_MS + minute * MINUTE_MS


def test_contacts_stand_in_the_order_of_their_duty_then_of_their_ids():
    known = roster(zoe=Contact(name="Z"), ann=Contact(name="A", order=2), bob=Contact(name="B"))
    assert list(known.contacts) == ["bob", "zoe", "ann"]
    assert list(roster().contacts) == ["page"]
    assert roster().quiet_until("page", at(3)) is None


@pytest.mark.parametrize(
    ("when", "on"),
    [
        (at(8) - 1, False), (at(8), True), (at(18) - 1, True), (at(18), False),
        (at(12, day=1), False), (at(12, day=7), True),
    ],
)  # fmt: skip
def test_somebody_is_on_duty_from_the_first_minute_to_before_the_last_on_the_days_of_the_duty(when, on):
    wednesdays = DutyWindow(days=(3,), start_minute=8 * 60, end_minute=18 * 60)
    known = roster(ann=Contact(name="A", duty=(wednesdays,)), ben=Contact(name="B"))
    assert known.on_duty("ann", when) is on
    assert known.on_duty_now(when) == (["ann", "ben"] if on else ["ben"])


def test_a_duty_through_the_night_belongs_to_the_day_on_which_it_begins():
    nights = DutyWindow(days=(3,), start_minute=22 * 60, end_minute=6 * 60)
    known = roster(ann=Contact(name="A", duty=(nights,)))
    assert [known.on_duty("ann", when) for when in (at(5), at(22), at(5, day=1), at(6, day=1), at(22, day=1))] == [
        False, True, True, False, False,
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("when", "until", "evening"),
    [
        (at(21) - 1, None, False),
        (at(21), at(7, day=1), True),
        (at(24) - 1, at(7, day=1), True),
        (at(24), at(7, day=1), False),
        (at(7, day=1) - 1, at(7, day=1), False),
        (at(7, day=1), None, False),
    ],
)
def test_quiet_hours_hold_from_evening_to_morning_and_the_evening_ends_at_midnight(when, until, evening):
    known = roster(ann=Contact(name="A", quiet_start_minute=21 * 60, quiet_end_minute=7 * 60))
    assert (known.quiet_until("ann", when), known.is_evening("ann", when)) == (until, evening)


def test_quiet_hours_by_day_are_no_evening():
    known = roster(
        ann=Contact(name="A", quiet_start_minute=9 * 60, quiet_end_minute=17 * 60),
        ben=Contact(name="B", quiet_start_minute=12 * 60, quiet_end_minute=17 * 60),
    )
    assert [known.is_evening(one, at(13)) for one in ("ann", "ben")] == [False, True]
    assert known.quiet_until("ann", at(13)) == at(17)


@pytest.mark.parametrize(
    ("when", "told"),
    [
        (at(20), at(20)),
        (at(21, 30), at(21, 30)),
        (at(23), at(21)),
        (at(3, day=1), at(21)),
        (at(7, day=1), at(7, day=1)),
    ],
)
def test_who_sleeps_is_told_an_hour_before_the_last_of_them_goes_to_bed(when, told):
    contacts = {
        "ann": Contact(name="A", quiet_start_minute=21 * 60, quiet_end_minute=7 * 60),
        "ben": Contact(name="B", quiet_start_minute=22 * 60, quiet_end_minute=6 * 60),
        "cleo": Contact(name="C", order=2, **ALWAYS),
    }
    assert NoticeDesk(DeskState(), yard(contacts=contacts)).last_waking("p1", when) == told


CARE = {
    "ann": Contact(name="A", places=("p1",), **ALWAYS),
    "ben": Contact(name="B", places=("b1",), order=2, **ALWAYS),
    "cleo": Contact(name="C", places=("p1", "b1"), order=3, **ALWAYS),
}


@pytest.mark.parametrize(
    ("place", "who"),
    [
        ("p1", ["ann", "cleo"]), ("b1", ["ben", "cleo"]), ("p2", ["ann", "ben", "cleo"]), ("", ["ann", "ben", "cleo"]),
        ("ambient", ["ann", "ben", "cleo"]),
    ],
)  # fmt: skip
def test_who_names_places_looks_after_those_and_all_after_the_yard_and_what_nobody_names(place, who):
    assert roster(**CARE).caretakers(place) == who


def test_it_is_passed_on_to_the_next_order_and_to_who_is_off_duty_only_where_somebody_may_be_woken():
    night = DutyWindow(start_minute=0, end_minute=60)
    known = roster(
        ann=Contact(name="A"),
        ben=Contact(name="B", order=2, duty=(night,)),
        cleo=Contact(name="C", order=3, duty=(night,)),
    )
    assert known.further("p1", at(0, 30), 1, wake=False) == ["ben"]
    assert known.further("p1", at(12), 1, wake=False) == []
    assert known.further("p1", at(12), 1, wake=True) == ["ben"]
    assert known.further("p1", at(12), 2, wake=True) == ["cleo"]
    assert known.further("p1", at(12), 3, wake=True) == []
    assert [known.nobody_beyond("p1", beyond) for beyond in (1, 2, 3)] == [False, False, True]


def test_who_was_told_still_answers_while_on_duty_there_or_while_nobody_else_would_be_told():
    morning = DutyWindow(start_minute=6 * 60, end_minute=12 * 60)
    known = roster(
        ann=Contact(name="A", duty=(morning,)),
        ben=Contact(name="B", order=2),
        cleo=Contact(name="C", places=("b1",), order=2),
    )
    assert known.answers_for("ann", "p1", at(8))
    assert not known.answers_for("ann", "p1", at(13))
    assert known.answers_for("ben", "p1", at(8)), "on duty, though not the first"
    assert not known.answers_for("cleo", "p1", at(8))
    assert not known.answers_for("gone", "p1", at(8))
    alone = roster(ann=Contact(name="A", duty=(morning,)))
    assert alone.answers_for("ann", "p1", at(13)), "nobody is on duty"


def test_a_daily_instant_is_the_next_one_after():
    zone = roster().zone
    assert next_daily(at(7, 30) - 1, 7 * 60 + 30, zone) == at(7, 30)
    assert next_daily(at(7, 30), 7 * 60 + 30, zone) == at(7, 30, day=1)


@pytest.mark.parametrize(
    ("when", "words"),
    [
        (at(0), "00:00"),
        (at(0) - 1, "yesterday 23:59"),
        (at(0, day=-1) - 1, "Mon 23:59"),
        (at(0, day=-6), "Thu 00:00"),
        (at(0, day=-7), "25 Feb 00:00"),
        (at(0, day=-90), "4 Dec 2025 00:00"),
        (at(23, 59), "23:59"),
        (at(24), "tomorrow 00:00"),
        (at(48), "6 Mar 00:00"),
    ],
)
def test_an_instant_is_told_by_how_far_it_is(when, words):
    assert say_time(when, at(12), roster().zone) == words


def test_an_instant_with_its_date_names_the_year_only_where_it_is_another():
    zone = roster().zone
    assert say_date_time(at(9, 5), at(12), zone) == "4 Mar 09:05"
    assert say_date_time(at(9, 5, day=-90), at(12), zone) == "4 Dec 2025 09:05"


@pytest.mark.parametrize(
    ("span", "words"),
    [
        (-5, "0 s"), (25 * MINUTE_MS, "25 min"), (9 * HOUR_MS + 30 * MINUTE_MS, "9 h 30 min"),
        (10 * HOUR_MS + 30 * MINUTE_MS, "10 h"), (3 * DAY_MS, "72 h"), (3 * DAY_MS + 1, "3 days"), (5 * DAY_MS - 1, "4 days"),
    ],
)  # fmt: skip
def test_a_span_is_told_no_finer_than_people_need(span, words):
    assert say_span(span) == words
