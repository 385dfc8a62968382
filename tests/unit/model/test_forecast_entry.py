"""A forecast as it is typed, and why some are refused."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.model.forecast_entry import degrees_of, degrees_understood, forecast_fault, forecast_said

TODAY = date(2026, 7, 18)


@pytest.mark.parametrize(
    ("typed", "kept", "milli"),
    [
        ("97", "97 degF", 36_111),
        ("97F", "97 degF", 36_111),
        ("36 °C", "36 degC", 36_000),
        ("+5c", "5 degC", 5_000),
        ("-4", "-4 degF", -20_000),
        ("", "", None),
    ],
)
def test_degrees_are_kept_with_their_unit(typed, kept, milli):
    assert degrees_understood(typed, "degF") == kept
    assert degrees_of(kept) == milli


@pytest.mark.parametrize("typed", ["hot", "97 98", "97K", "1e3", "9" * 9, "97°", "٩٧"])
def test_what_is_no_temperature_is_refused_in_words(typed):
    if typed == "97°":
        assert degrees_understood(typed, "degC") == "97 degC"
        return
    with pytest.raises(ValueError, match="is no temperature; write a number"):
        degrees_understood(typed, "degF")


def fault(**fields):
    return forecast_fault({"day": "2026-07-19", **fields}, TODAY, "degF")


@pytest.mark.parametrize(
    ("fields", "named", "said"),
    [
        ({}, "high", "a forecast says a high or a low"),
        ({"high": "150 degF"}, "high", "no air has a high of 150 °F; write the high of the air, such as 97 °F"),
        ({"low": "-90 degC"}, "low", "no air has a low of -130 °F; write the low of the air, such as 28 °F"),
        ({"high": "97 degF", "low": "98 degF"}, "low", "its low, 98 °F, is above its high, 97 °F"),
        ({"high": "97 degF", "day": "2026-07-17"}, "day", "2026-07-17 is over"),
        ({"high": "97 degF", "day": "2026-07-29"}, "day", "2026-07-29 is more than 10 days ahead"),
        ({"high": "97 degF", "day": "soon"}, "day", '"soon" is no day; write one such as 2026-07-19'),
        ({"high": "much"}, "high", '"much" is no temperature'),
    ],
)
def test_a_forecast_that_cannot_be_is_refused_in_words(fields, named, said):
    name, wrong = fault(**fields)
    assert name == named
    assert wrong.startswith(said)


def test_a_good_one_and_none_at_all_pass():
    assert fault(high="97 degF", low="71 degF") == ("", "")
    assert forecast_fault({"note": "hail"}, TODAY, "degF") == ("", "")


@given(st.text(max_size=20), st.text(max_size=20), st.text(max_size=20))
def test_no_text_breaks_it(day, high, low):
    name, wrong = forecast_fault({"day": day, "high": high, "low": low}, TODAY, "degC")
    assert bool(name) is bool(wrong)
    assert isinstance(forecast_said(day, high, low), str)


@given(st.integers(-76, 134), st.integers(0, 10))
def test_every_air_that_can_be_is_taken(degrees, ahead):
    fields = {"day": str(TODAY + timedelta(days=ahead)), "high": degrees_understood(str(degrees), "degF")}
    assert forecast_fault(fields, TODAY, "degF") == ("", "")


def test_it_is_said_as_people_say_days():
    assert forecast_said("2026-07-19", "97 degF", "71 degF") == "forecast for Sun 19 Jul: high 97 °F, low 71 °F"
    assert forecast_said("2026-07-19", "", "20 degC") == "forecast for Sun 19 Jul: low 20 °C"
    assert forecast_said("", "", "") == ""
