"""The order of the diary, its days, and its slack in words."""

from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.diary import Due, by_day, clock_words, in_order, short_words, slack_words, title, today, until_back
from monitor.diary.due import What
from monitor.diary.due_words import span_words
from monitor.model.times import DAY_MS, HOUR_MS, MINUTE_MS, parse_time

T = parse_time("2026-11-30T19:00:00Z")  # Monday 14:00 in New York
NEW_YORK = ZoneInfo("America/New_York")


def due(after=0, what=What.TURN, latest=None, place="p1"):
    return Due(
        due_ms=T + after, place=place, what=what, why="so", of="x", latest_ms=None if latest is None else T + latest
    )


@pytest.mark.parametrize(
    ("after", "latest", "said"),
    [
        (0, DAY_MS, "due now, 1 day of slack"),
        (-2 * HOUR_MS, None, "2 h overdue"),
        (2 * DAY_MS, 3 * DAY_MS, "1 day of slack"),
        (2 * DAY_MS, None, "no slack"),
        (-HOUR_MS, 5 * HOUR_MS, "due 1 h ago, 5 h of slack left"),
        (-HOUR_MS, 0, "due 1 h ago, no slack"),
        (-3 * HOUR_MS, -HOUR_MS, "3 h overdue"),
        (0, None, "due now, no slack"),
    ],
)
def test_slack_in_words(after, latest, said):
    assert slack_words(due(after, latest=latest), T) == said


def test_what_is_only_expected_has_no_slack():
    assert slack_words(due(-DAY_MS, What.EXPECT), T) == ""
    assert due(-DAY_MS, What.EXPECT).slack_ms(T) == 0


@pytest.mark.parametrize(
    ("span", "said"),
    [
        (0, "0 min"), (59 * MINUTE_MS, "59 min"), (HOUR_MS, "1 h"), (DAY_MS - 1, "23 h"), (DAY_MS, "1 day"),
        (2 * DAY_MS - 1, "1 day"), (2 * DAY_MS, "2 days"),
    ],
)  # fmt: skip
def test_spans_are_rounded_down(span, said):
    assert span_words(span) == said


def test_a_heap_to_keep_off_comes_first_then_what_was_due_longest():
    found = in_order([due(HOUR_MS), due(-HOUR_MS), due(5, What.KEEP_OFF), due(DAY_MS)], T + DAY_MS)
    assert [(one.what, one.due_ms - T) for one in found] == [
        (What.KEEP_OFF, 5), (What.TURN, -HOUR_MS), (What.TURN, HOUR_MS),
    ]  # fmt: skip


def test_days_begin_with_today_which_holds_what_was_due_before():
    found = in_order([due(-3 * DAY_MS), due(HOUR_MS), due(11 * HOUR_MS), due(9 * DAY_MS)], T + 30 * DAY_MS)
    days = list(by_day(found, T, NEW_YORK))
    assert [(day.heading, len(day.dues)) for day in days] == [
        ("Today, Mon 30 Nov", 2), ("Tomorrow, Tue 1 Dec", 1), ("Wed 9 Dec", 1),
    ]  # fmt: skip
    assert [clock_words(one, T, NEW_YORK) for one in days[0].dues] == ["now", "15:00"]


@given(st.lists(st.integers(-20, 20), max_size=20))
def test_the_order_of_the_sources_does_not_matter(hours):
    found = [due(hour * HOUR_MS, place=f"p{number}") for number, hour in enumerate(hours)]
    assert in_order(found, T + DAY_MS) == in_order(reversed(found), T + DAY_MS)


def test_every_kind_has_words():
    assert all(title(due(what=what)) for what in What)


@pytest.mark.parametrize(
    ("now", "until", "words"),
    [
        ("2026-11-26T20:00:00Z", "2026-11-28T05:00:00Z", "until tomorrow night"),  # Thursday
        ("2026-11-27T20:00:00Z", "2026-11-30T05:00:00Z", "before Monday"),
        ("2026-11-28T20:00:00Z", "2026-11-30T05:00:00Z", "before Monday"),
        ("2026-11-29T20:00:00Z", "2026-12-01T05:00:00Z", "until tomorrow night"),  # Sunday
        ("2026-11-28T02:00:00Z", "2026-11-30T05:00:00Z", "before Monday"),  # Friday evening in New York
        ("2026-10-30T20:00:00Z", "2026-11-02T05:00:00Z", "before Monday"),  # the clocks go back on that Sunday
    ],
)
def test_who_leaves_on_friday_hears_what_falls_due_before_monday(now, until, words):
    assert until_back(parse_time(now), NEW_YORK) == (parse_time(until), words)


def test_the_fewest_words():
    assert short_words(due(0, latest=DAY_MS), T) == "turn it, due now, 1 day of slack"
    off = Due(due_ms=T, place="p1", what=What.KEEP_OFF, why="fire danger: leave it shut")
    assert short_words(off, T) == "keep off (fire danger)"


@pytest.mark.parametrize(
    ("now", "until", "words"),
    [
        ("2026-11-26T12:30:00Z", "2026-11-27T05:00:00Z", "today"),  # Thursday
        ("2026-11-27T12:30:00Z", "2026-11-30T05:00:00Z", "before Monday"),
        ("2026-11-28T12:30:00Z", "2026-11-30T05:00:00Z", "before Monday"),
        ("2026-11-29T12:30:00Z", "2026-11-30T05:00:00Z", "today"),
    ],
)
def test_a_digest_tells_of_its_day_and_before_a_weekend_of_that(now, until, words):
    assert today(parse_time(now), NEW_YORK) == (parse_time(until), words)
