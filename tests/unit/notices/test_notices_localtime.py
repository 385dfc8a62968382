"""Local instants across the change of clocks."""

import itertools
from datetime import date
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.model.times import DAY_MS, HOUR_MS, parse_time
from monitor.notices.instants import dated, mark, redated, said
from monitor.notices.localtime import instant, local, next_daily, say_span, spans_near

ZONES = ["UTC", "America/New_York", "Europe/Berlin", "Australia/Lord_Howe", "Pacific/Apia", "Asia/Kathmandu"]


def test_a_time_that_comes_twice_is_the_first_and_a_missing_one_comes_after_the_gap():
    zone = ZoneInfo("America/New_York")
    assert instant(date(2026, 11, 1), 90, zone) == parse_time("2026-11-01T05:30:00Z")
    assert instant(date(2026, 3, 8), 150, zone) == parse_time("2026-03-08T07:30:00Z")
    assert instant(date(2026, 3, 8), 1440, zone) == parse_time("2026-03-09T04:00:00Z")


@given(st.sampled_from(ZONES), st.integers(0, 1439), st.integers(0, 800))
def test_a_daily_instant_comes_once_each_local_date(name, minute, start_day):
    zone = ZoneInfo(name)
    at = parse_time("2011-06-01T00:00:00Z") + start_day * DAY_MS
    seen = []
    for _ in range(20):
        at = next_daily(at, minute, zone)
        seen.append(at)
    steps = {late - early for early, late in itertools.pairwise(seen)}
    assert all(22 * HOUR_MS <= step <= 26 * HOUR_MS for step in steps)
    # A local date is missing in the whole record only where the zone jumped over it.
    dates = [local(one, zone).date() for one in seen]
    assert len(set(dates)) == len(dates)
    assert next_daily(seen[5] - 1, minute, zone) == seen[5]


def test_a_span_that_is_over_does_not_begin_again_in_the_repeated_hour():
    zone = ZoneInfo("America/New_York")

    def inside(at):
        return any(start <= at < end for _, start, end in spans_near(at, 22 * 60, 90, zone))

    assert inside(parse_time("2026-11-01T05:29:59Z"))
    assert not inside(parse_time("2026-11-01T05:30:00Z"))
    assert not inside(parse_time("2026-11-01T06:10:00Z"))  # 01:10 for the second time


@pytest.mark.parametrize(
    ("ms", "text"),
    [
        (-5, "0 s"),
        (25 * 60_000, "25 min"),
        (3 * HOUR_MS, "3 h"),
        (26 * HOUR_MS + 60_000, "26 h"),
        (DAY_MS * 5, "5 days"),
    ],
)
def test_spans_are_no_finer_than_people_need(ms, text):
    assert say_span(ms) == text


def test_a_message_that_was_sent_names_its_days_by_their_dates():
    zone = ZoneInfo("America/New_York")
    sent = parse_time("2026-03-04T20:10:00Z")  # a Wednesday
    text = "Shade bin: too wet, 87 % since yesterday 16:00, last turned Sun 15:10, put off until 18:00, opened 28 Feb 09:00"
    assert redated(text, sent, zone) == (
        "Shade bin: too wet, 87 % since 3 Mar 16:00, last turned 1 Mar 15:10, put off until 18:00, opened 28 Feb 09:00"
    )


def test_kept_instants_are_dated_for_the_record():
    zone = ZoneInfo("America/New_York")
    at = parse_time("2026-03-04T20:10:00Z")
    text = f"since {mark(at - 3_600_000)}, {mark(at - 86_400_000)}, {mark(at - 400 * 86_400_000)}"
    assert dated(text, at, zone) == "since 14:10, 3 Mar 15:10, 28 Jan 2025 15:10"
    assert said(text, at, zone) == "since 14:10, yesterday 15:10, 28 Jan 2025 15:10"
