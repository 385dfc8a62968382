"""What a heap is thrown together of, as people say it and as the record keeps it."""

from contextlib import suppress

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.model.mix_parts import parse_parts, parts_of, parts_said, parts_text


@pytest.mark.parametrize(
    ("typed", "kept", "said"),
    [
        ("3 bags of leaves and 2 barrows of stable litter", "leaves=3 bag; stable litter=2 barrow",
         "3 bags of leaves, 2 barrows of stable litter"),
        ("leaves = 3 bags and stable litter=1 barrow", "leaves=3 bag; stable litter=1 barrow",
         "3 bags of leaves, 1 barrow of stable litter"),
        ("1,5 kg coffee grounds, 2 short tons hay", "coffee grounds=1.5 kg; hay=2 short ton",
         "1.5 kg of coffee grounds, 2 short ton of hay"),
        ("leaves 3 bags + 10 L water", "leaves=3 bag; water=10 L", "3 bags of leaves, 10 L of water"),
        ("1 1/2 yd3 of chips and bark", "chips and bark=1 1/2 yd3", "1 1/2 yd3 of chips and bark"),
        (" 20 lb of straw, and 3 bags of leaves", "straw=20 lb; leaves=3 bag", "20 lb of straw, 3 bags of leaves"),
        ("p1-2026-10-05 = 40 kg; d14 = 2 barrows", "p1-2026-10-05=40 kg; d14=2 barrow",
         "40 kg of p1-2026-10-05, 2 barrows of d14"),
    ],
)  # fmt: skip
def test_parts_are_read_as_people_say_them(typed: str, kept: str, said: str) -> None:
    parts = parse_parts(typed, us=True)
    assert parts_text(parts) == kept
    assert parts_said(kept) == said
    again = parts_of(kept)
    assert [one.name for one in again] == [one.name for one in parts]
    assert [one.amount and (one.amount.base, one.amount.unit) for one in again] == [
        one.amount and (one.amount.base, one.amount.unit) for one in parts
    ]


@pytest.mark.parametrize(
    ("typed", "wrong"),
    [
        ("", "no part is named"),
        ("leaves", 'how much "leaves"'),
        ("3 leaves", "no unit that is known"),
        ("leaves=3", '3 of what? Write the unit too, such as "3 bags of leaves"'),
        ("=3 bags", "names no material"),
        ("3 bags of leaves and leaves = 2 kg", '"leaves" is named twice'),
        ("0 kg of leaves", "no unit that is known"),
        ("5 foo of leaves", "no unit that is known"),
        ("leaves=2 ton", "can be two things"),
    ],
)
def test_wrong_parts_say_what_would_be_right(typed: str, wrong: str) -> None:
    with pytest.raises(ValueError, match=r".") as fault:
        parse_parts(typed)
    assert wrong in str(fault.value)


_NAMES = st.sampled_from(
    ["leaves", "stable litter", "coffee grounds", "chips and bark", "p1-2026-10-05", "h31/overs", "d14"]
)


@given(
    st.dictionaries(
        _NAMES, st.tuples(st.integers(1, 9999), st.sampled_from(["kg", "L", "bag", "yd3", "short ton"])), min_size=1
    )
)
def test_the_record_gives_back_what_was_typed(parts: dict[str, tuple[int, str]]) -> None:
    typed = "; ".join(f"{name} = {number} {unit}" for name, (number, unit) in parts.items())
    read = parts_of(parts_text(parse_parts(typed)))
    assert {one.name: (one.amount.number, one.amount.unit) for one in read if one.amount} == {
        name: (str(number), unit) for name, (number, unit) in parts.items()
    }


@given(st.text(max_size=60))
def test_any_text_is_parts_or_refused(text: str) -> None:
    with suppress(ValueError):
        assert all(one.name and one.amount for one in parse_parts(text))
    assert isinstance(parts_said(text), str)
