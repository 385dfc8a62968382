"""Units, times and crossings against published values and exact arithmetic."""

from datetime import UTC, datetime, timedelta
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.model import crossings
from monitor.model.times import parse_duration, parse_time, show_duration, show_time
from monitor.model.units import (
    Quantity,
    celsius_milli,
    divide_half_even,
    show_difference,
    show_milli,
    show_temperature,
    to_micro,
    to_milli,
)


@pytest.mark.parametrize(
    ("fahrenheit", "celsius"),
    [(131, 55.0), (170, 76.667), (140, 60.0), (160, 71.111), (150, 65.556), (120, 48.889), (104, 40.0), (113, 45.0)],
)
def test_fahrenheit_limits(fahrenheit, celsius):
    """Source: shared standards, unit convention (131 °F is 55.0 °C exactly, 170 °F is 76.67 °C, ...)."""
    assert celsius_milli(fahrenheit, "degF") == round(celsius * 1000)


@given(st.integers(-400, 4000))
def test_a_limit_in_tenths_of_fahrenheit_comes_back_exact(tenths):
    text = show_temperature(celsius_milli(tenths / 10, "degF"), "degF")
    whole, part = divmod(abs(tenths), 10)
    assert text == f"{'-' if tenths < 0 else ''}{whole}" + (f".{part}" if part else "") + " °F"


@given(st.integers(-(10**12), 10**12), st.integers(1, 10**6))
def test_half_even_is_that_of_exact_fractions(numerator, denominator):
    assert divide_half_even(numerator, denominator) == round(Fraction(numerator, denominator))


@given(st.integers(-10_000_000, 10_000_000))
def test_decimal_text_of_six_places_is_kept_exactly(micro):
    assert to_micro(float(f"{micro / 1e6:.6f}")) == micro


def test_kelvin_offset_is_not_the_misprint():
    """Source: RFC 8428 section 12.1 item 5 misprints the offset as 275.15 K; it is 273.15 K."""
    assert to_milli(to_micro(273.15), "K") == 0


def test_differences():
    assert show_difference(5000, "degF") == "9 °F"
    assert show_difference(500, "degC") == "0.5 °C"


@pytest.mark.parametrize(
    ("text", "ms"),
    [
        ("1970-01-01T00:00:00Z", 0),
        ("2026-03-01T09:00:00Z", 1772355600000),
        ("2026-03-01T04:00:00-05:00", 1772355600000),
        ("2026-03-01t09:00:00.1239z", 1772355600123),
        ("2016-12-31T23:59:60Z", 1483228800000),
    ],
)
def test_rfc_3339(text, ms):
    """Source: RFC 3339 section 5.6 and its leap second example 5.8."""
    assert parse_time(text) == ms


@pytest.mark.parametrize(
    "text", ["", "2026-03-01", "2026-03-01T09:00:00", "2026-02-30T00:00:00Z", "2026-03-01T09:00:00+24:00", "now"]
)
def test_what_is_no_time_is_refused(text):
    with pytest.raises(ValueError, match="is not a time"):
        parse_time(text)


@given(st.integers(-62_135_596_800_000, 253_402_300_799_999))
def test_times_round_trip(ms):
    assert parse_time(show_time(ms)) == ms
    if ms >= 0:
        assert show_time(ms)[:19] == (datetime(1970, 1, 1, tzinfo=UTC) + timedelta(milliseconds=ms)).isoformat()[:19]


def test_durations():
    assert [parse_duration(t) for t in ("90s", "20m", "72h", "15d")] == [90_000, 1_200_000, 259_200_000, 1_296_000_000]
    assert show_duration(parse_duration("72h")) == "72 h"
    assert show_duration(61 * 3_600_000 + 20 * 60_000) == "61 h 20 min"
    assert show_duration(parse_duration("15d")) == "15 days"
    for bad in ("5", "h", "1.5h", "-1h", "1 week"):
        with pytest.raises(ValueError, match="is not a duration"):
            parse_duration(bad)


@given(
    st.integers(0, 10**13), st.integers(1, 10**9), st.integers(-100_000, 100_000), st.integers(1, 200_000), st.data()
)
def test_crossings_are_the_first_and_last_whole_millisecond_inside(start, span, low, rise, data):
    high, end = low + rise, start + span
    limit = data.draw(st.integers(low + 1, high))
    strict = data.draw(st.integers(low, high - 1))

    def up(at):
        return low + Fraction(rise * (at - start), span)

    def down(at):
        return high - Fraction(rise * (at - start), span)

    first = crossings.first_at_or_above(start, low, end, high, limit)
    assert up(first) >= limit > up(first - 1)
    last = crossings.last_at_or_above(start, high, end, low, limit)
    assert down(last) >= limit > down(last + 1)
    first = crossings.first_above(start, low, end, high, strict)
    assert up(first) > strict >= up(first - 1)
    last = crossings.last_above(start, high, end, low, strict)
    assert down(last) > strict >= down(last + 1)


@pytest.mark.parametrize(
    ("milli", "quantity", "text"),
    [
        (55_000, Quantity.TEMPERATURE, "131 °F"),
        (72_540, Quantity.MOISTURE, "72.5 %"),
        (20_900, Quantity.OXYGEN, "20.9 %"),
        (3_100, Quantity.BATTERY, "3.1 V"),
        (-70_000, Quantity.SIGNAL, "-70 dBm"),
    ],
)
def test_a_value_is_shown_in_its_quantitys_own_unit(milli, quantity, text):
    assert show_milli(milli, quantity, "degF") == text
