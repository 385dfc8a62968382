"""Amounts: one parser, exact factors, what was typed kept."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.model.amounts import UNITS, Dimension, known_amount, offered, parse_amount, unit_named


@pytest.mark.parametrize(
    ("unit", "base"),
    [
        # NIST SP 811, appendix B.8: exact. Of a hundred thousand, so that a wrong last digit shows.
        ("lb", 45_359_237),
        ("short ton", 90_718_474_000),
        ("kg", 100_000_000),
        ("in", 2_540_000),
        ("ft2", 9_290_304_000),
        ("ft3", 2_831_684_659),
        ("gal", 378_541_178),
        ("yd3", 76_455_485_798),
        ("imp gal", 454_609_000),
        ("L", 100_000_000),
        ("m3", 100_000_000_000),
        ("min", 6_000_000),
    ],
)
def test_factors_are_exact(unit, base):
    assert parse_amount(f"100000 {unit}").base == base


@pytest.mark.parametrize(
    "form", [("5lb",), ("5 lb",), ("5", "lb"), ("5 pounds",), ("5", "Pounds"), ("5lb", "lbs"), (" 5 LB. ",)]
)
def test_an_amount_in_one_piece_or_two_is_one_thing(form):
    found = parse_amount(*form)
    assert (found.number, found.unit, found.base) == ("5", "lb", 2268)


def test_what_was_typed_is_kept():
    found = parse_amount("1,5 Pails")
    assert (found.number, found.measure, found.unit, found.dimension) == (
        "1.5",
        "Pails",
        "bucket",
        Dimension.CONTAINERS,
    )
    assert found.base is None


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("5 lbz", 'did you mean "lb"'),
        ("5 furlongs", "known are g, kg, t, oz, lb, short ton"),
        ("many", "write a number and a unit"),
        ("-5 kg", "write a number and a unit"),
        ("0 kg", "more than 0"),
        ("1,000 lb", "write 1000 or 1.000"),
        ("3 tons", "short ton"),
        ("1/0 lb", "divided by 0"),
        ("9" * 40 + " kg", "write a number"),
    ],
)
def test_what_cannot_be_meant_is_refused_with_what_would_be_right(text, says):
    with pytest.raises(ValueError, match=says.replace("(", r"\(")):
        parse_amount(text)


def test_two_measures_are_one_too_many():
    with pytest.raises(ValueError, match="two measures"):
        parse_amount("5 lb", "kg")


def test_a_ton_is_2000_lb_in_a_us_yard_and_asked_about_elsewhere():
    assert parse_amount("2 tons", us=True).base == 1_814_369
    with pytest.raises(ValueError, match="two things"):
        unit_named("ton")


def test_a_us_yard_is_offered_its_own_units():
    us = offered((Dimension.MASS, Dimension.VOLUME), us=True)
    assert {"lb", "gal", "ft3", "yd3"} <= set(us)
    assert not {"kg", "L", "m3"} & set(us)


def test_a_record_is_read_with_what_the_yard_understood_and_never_raises():
    assert known_amount("2", "tons", "short ton").base == 1_814_369
    assert known_amount("20", "L").base == 20_000
    assert known_amount("", "L") is None
    assert known_amount("some", "of it").base is None
    assert known_amount("7", "").base is None


@given(st.text(max_size=30), st.text(max_size=10))
def test_no_text_brings_it_down(text, measure):
    try:
        found = parse_amount(text, measure)
    except ValueError:
        return
    assert found.unit in {*UNITS, ""}


@given(st.sampled_from(sorted(UNITS)), st.fractions(min_value=Fraction(1, 100), max_value=10**6))
def test_base_units_are_rounded_once(unit, amount):
    factor = UNITS[unit].factor
    text = f"{amount.numerator}/{amount.denominator}"
    if factor is not None and len(text) <= 15:
        assert abs(parse_amount(f"{text} {unit}").base - amount * factor) <= Fraction(1, 2)
