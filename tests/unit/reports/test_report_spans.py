"""The time of a report: whole days of the yard's own zone, also where clocks are changed."""

from datetime import date
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.model.times import DAY_MS, HOUR_MS, parse_time
from monitor.reports import Span, beside, last_whole_month, month_named, season_named

NEW_YORK, AUCKLAND = ZoneInfo("America/New_York"), ZoneInfo("Pacific/Auckland")


def test_a_month_begins_and_ends_at_local_midnight() -> None:
    october = month_named("2026-10", NEW_YORK)
    assert (october.start, october.end) == (parse_time("2026-10-01T04:00:00Z"), parse_time("2026-11-01T04:00:00Z"))
    assert october.has(october.start)
    assert not october.has(october.start - 1)
    assert october.has(october.end - 1)
    assert not october.has(october.end)


def test_the_month_in_which_clocks_go_back_is_an_hour_longer() -> None:
    # In the US clocks went back on 1 November 2026 and forward on 8 March 2026 (15 U.S.C. 260a).
    november, march = month_named("2026-11", NEW_YORK), month_named("2026-3", NEW_YORK)
    assert november.end - november.start == 30 * DAY_MS + HOUR_MS
    assert march.end - march.start == 31 * DAY_MS - HOUR_MS


def test_an_instant_belongs_to_the_yards_own_month() -> None:
    at = parse_time("2026-11-01T03:59:59Z")  # still Halloween in New York
    assert month_named("2026-10", NEW_YORK).month_of(at) == "2026-10"
    assert month_named("2026-10", AUCKLAND).month_of(at) == "2026-11"


@pytest.mark.parametrize("zone", [NEW_YORK, AUCKLAND])
def test_months_follow_one_another_without_gap_or_overlap(zone: ZoneInfo) -> None:
    months = [month_named(f"2026-{number:02d}", zone) for number in range(1, 13)]
    year = season_named("2026", zone)
    assert [one.end for one in months[:-1]] == [one.start for one in months[1:]]
    assert (months[0].start, months[-1].end) == (year.start, year.end)
    assert year.months == [f"2026-{number:02d}" for number in range(1, 13)]
    assert [beside(months[0], more) for more in range(12)] == months
    assert beside(months[0], -1).name == "December 2025"


@given(
    st.integers(parse_time("2000-01-01T00:00:00Z"), parse_time("2100-01-01T00:00:00Z")),
    st.sampled_from([NEW_YORK, AUCKLAND]),
)
def test_the_last_whole_month_is_over_and_ended_less_than_a_month_ago(at: int, zone: ZoneInfo) -> None:
    month = last_whole_month(at, zone)
    assert month.end <= at < beside(month, 1).end


@pytest.mark.parametrize(
    ("text", "said"),
    [("2026-13", "no month"), ("2026", "no month"), ("October", "such as 2026-10"), ("0000-01", "no month")],
)
def test_a_month_that_is_none_is_refused(text: str, said: str) -> None:
    with pytest.raises(ValueError, match=said):
        month_named(text, NEW_YORK)


@pytest.mark.parametrize("text", ["26", "2026-10", "9999", "1969", "last"])
def test_a_season_that_is_none_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match="write a year"):
        season_named(text, NEW_YORK)


@pytest.mark.parametrize(
    ("first", "last", "name"),
    [
        (date(2026, 10, 1), date(2026, 10, 31), "October 2026"),
        (date(2026, 1, 1), date(2026, 12, 31), "2026"),
        (date(2026, 10, 1), date(2026, 10, 30), "1 October to 30 October 2026"),
        (date(2025, 12, 31), date(2026, 1, 1), "31 December 2025 to 1 January 2026"),
        (date(2026, 2, 3), date(2026, 2, 3), "3 February 2026"),
    ],
)
def test_names_for_people(first: date, last: date, name: str) -> None:
    assert Span(first, last, NEW_YORK).name == name
