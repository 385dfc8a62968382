"""Times as people type them."""

import pytest

from monitor.app.console.time_words import parse_when
from monitor.model.errors import MisuseError
from monitor.model.times import parse_time

ZONE = "America/New_York"
NOW = parse_time("2026-10-20T16:00:00Z")  # Tuesday, noon


def when(text, **more):
    return parse_when(text, NOW, ZONE, "--at", **more)


@pytest.mark.parametrize(
    ("text", "instant"),
    [
        ("now", "2026-10-20T16:00:00Z"),
        ("9:30pm", "2026-10-21T01:30:00Z"),
        ("9:30 PM", "2026-10-21T01:30:00Z"),
        ("9 a.m.", "2026-10-20T13:00:00Z"),
        ("12am", "2026-10-20T04:00:00Z"),
        ("12pm", "2026-10-20T16:00:00Z"),
        ("noon", "2026-10-20T16:00:00Z"),
        ("14:05", "2026-10-20T18:05:00Z"),
        ("Oct 5 9am", "2026-10-05T13:00:00Z"),
        ("October 5, 2025 at 9:15 am", "2025-10-05T13:15:00Z"),
        ("5 Oct 14:05", "2026-10-05T18:05:00Z"),
        ("9am Oct 5", "2026-10-05T13:00:00Z"),
        ("Dec 5 9am", "2025-12-05T14:00:00Z"),
        ("Oct 5", "2026-10-05T04:00:00Z"),
        ("feb 29", "2024-02-29T05:00:00Z"),
        ("yesterday 18:00", "2026-10-19T22:00:00Z"),
        ("yesterday at 6pm", "2026-10-19T22:00:00Z"),
        ("Sunday 14:00", "2026-10-18T18:00:00Z"),
        ("tue 8am", "2026-10-20T12:00:00Z"),
        ("20 min ago", "2026-10-20T15:40:00Z"),
        ("in 2 h", "2026-10-20T18:00:00Z"),
        ("13/5 9am", "2026-05-13T13:00:00Z"),
        ("10/18/26 9am", "2026-10-18T13:00:00Z"),
        ("5.5.", "2026-05-05T04:00:00Z"),
        ("2026-07-18", "2026-07-18T04:00:00Z"),
        ("2026-07-18 14:05", "2026-07-18T18:05:00Z"),
        ("2026-07-18T14:05", "2026-07-18T18:05:00Z"),
        ("2026-07-18 2pm", "2026-07-18T18:00:00Z"),
        ("2026-07-18T14:05:00-05:00", "2026-07-18T19:05:00Z"),
    ],
)
def test_what_people_type_is_understood(text, instant):
    assert when(text) == parse_time(instant)


def test_a_day_to_come_is_the_next_one():
    assert when("Oct 5 9am", ahead=True) == parse_time("2027-10-05T13:00:00Z")
    assert when("Monday 9am", ahead=True) == parse_time("2026-10-26T13:00:00Z")


@pytest.mark.parametrize("text", ["10/5", "10/5 9am", "5.10. 14:00", "10/5/26", "9am 10/5"])
def test_a_day_in_figures_is_asked_about(text):
    with pytest.raises(MisuseError, match=r"write 10 May or 5 Oct|write 5 Oct or 10 May"):
        when(text)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "soon",
        "yesterday",
        "sunday",
        "25:00",
        "13pm",
        "0am",
        "Oct 32",
        "Feb 30",
        "Okt 5",
        "9:75pm",
        "12/31/x",
        "31/31",
        "30/2",
        "mon tue",
    ],
)
def test_what_is_no_time_is_refused_with_what_would_be(text):
    with pytest.raises(MisuseError, match="is no time; write"):
        when(text)


@pytest.mark.parametrize("ahead", [False, True])
def test_every_example_that_a_refusal_offers_is_taken_there(ahead):
    """*in 2 h* was offered for work that was done, and refused when it was typed."""
    with pytest.raises(MisuseError) as raised:
        when("soon", ahead=ahead)
    offered = str(raised.value).partition("write ")[2].rstrip(".").replace("or ", "").split(", ")
    assert len(offered) > 3
    for text in offered:
        assert ahead or when(text) <= when("now") or text[0].isdigit()
    assert ("in 2 h" in offered) is ahead


@pytest.mark.parametrize(
    "text", ["0001-01-01T00:00:00Z", "0001-01-01T00:00:00+23:00", "0001-01-01", "9999-12-31T23:00:00Z"]
)
def test_a_time_at_the_end_of_the_calendar_is_refused(text):
    """Found for a law of its fuzzer: its local time lies beyond the calendar, and showing it ended with a fault."""
    with pytest.raises(MisuseError, match="is no time"):
        when(text)
