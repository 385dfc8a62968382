"""Rule files: what can be written in them, and the sentence for every fault."""

import pytest

from monitor.model.errors import ConfigurationError
from monitor.model.times import DAY_MS, HOUR_MS, MINUTE_MS
from monitor.proof.rules import (
    Condition,
    Constant,
    Days,
    Duties,
    Join,
    Limits,
    Mean,
    Run,
    RunBeforeTurnings,
    Status,
    Total,
    Turnings,
    Window,
    Within,
    parse_rule,
)

GOOD = """
title = "Test rule"
jurisdiction = "Tern Hollow"
section = "1"
methods = ["turned"]
feedstock = "leaves"
wording = "Keep it hot."
source = "our own"
status = "seen"

[[alternatives]]
hold = "131 degF"
limit = "170 degF"

[[alternatives.parts]]
kind = "days"
days = 15
turnings = 5
turnings_apart = "2d"
"""


def test_a_rule_file_is_read():
    rule = parse_rule(GOOD, "ours.toml", "ours")
    assert rule.status is Status.SEEN
    assert rule.live.join is Join.ALL
    assert rule.live.limits == Limits(low_milli_c=55_000, high_milli_c=76_667, low_text="131 °F", high_text="170 °F")
    assert rule.live.parts == (Days(count=15, consecutive=True, turnings=Turnings(count=5, apart_ms=2 * DAY_MS)),)
    assert rule.wants_turnings


def test_parts_of_every_kind_joined_by_any():
    text = GOOD[: GOOD.index("[[alternatives]]")] + (
        '[[conditions]]\nkey = "covered"\ntext = "Covered"\n'
        '[[alternatives]]\nhold = "55.5 degC"\nstrict = true\njoin = "any"\n'
        '[[alternatives.parts]]\nkind = "run"\nduration = "72h"\n'
        '[[alternatives.parts]]\nkind = "total"\nduration = "10d"\nturnings = 1\n'
        '[[alternatives.parts]]\nkind = "days"\ndays = 5\nscattered = true\n'
    )
    rule = parse_rule(text, "ours.toml", "ours")
    assert rule.conditions == (Condition(key="covered", text="Covered"),)
    assert rule.live.limits.strict
    assert rule.live.join is Join.ANY
    assert rule.live.parts == (
        Run(duration_ms=72 * HOUR_MS),
        Total(duration_ms=10 * DAY_MS, turnings=Turnings(count=1)),
        Days(count=5),
    )


BAD = {
    "missing": ('title = "Test rule"\n', "", "key `title`: it is missing; write a text in quotes."),
    "empty": (
        '"Keep it hot."',
        '"  "',
        "key `wording`: '  ' is not a text with anything in it; write a text in quotes.",
    ),
    "status": ('"seen"', '"sure"', 'key `status`: \'sure\' is not known; write "seen" or "seen-2nd" or "memory".'),
    "method": (
        '["turned"]',
        '["stirred"]',
        (
            "key `methods`: ['stirred'] names no method or one that is not known; write a list of \"passive\" or "
            '"turned" or "aerated static" or "in-vessel".'
        ),
    ),
    "unit": (
        '"131 degF"',
        '"131"',
        (
            "key `alternatives[1].hold`: '131' is not a temperature; "
            'write a number and its unit, such as "131 degF" or "55 degC".'
        ),
    ),
    "absurd": (
        '"131 degF"',
        '"131 degC"',
        "key `alternatives[1].hold`: '131 degC' is no temperature of compost; write one above 0 and up to 100 degC.",
    ),
    "upper": (
        '"170 degF"',
        '"50 degC"',
        "key `alternatives[1].limit`: 50 °C is not above the hold temperature 131 °F; write a higher one.",
    ),
    "upper as low": (
        '"170 degF"',
        '"131 degF"',
        "key `alternatives[1].limit`: 131 °F is not above the hold temperature 131 °F; write a higher one.",
    ),
    "freezing": (
        '"131 degF"',
        '"0 degC"',
        "key `alternatives[1].hold`: '0 degC' is no temperature of compost; write one above 0 and up to 100 degC.",
    ),
    "boiling": (
        '"131 degF"',
        '"100.001 degC"',
        "key `alternatives[1].hold`: '100.001 degC' is no temperature of compost; write one above 0 and up to 100 degC.",
    ),
    "flag as number": (
        'limit = "170 degF"',
        "strict = 1",
        "key `alternatives[1].strict`: 1 is neither true nor false; write true or false without quotes.",
    ),
    "too many days": (
        "days = 15",
        "days = 1001",
        (
            "key `alternatives[1].parts[1].days`: 1001 is not such a number; "
            "write a whole number from 1 to 1000 without quotes."
        ),
    ),
    "no time": (
        '"2d"',
        '"0d"',
        (
            "key `alternatives[1].parts[1].turnings_apart`: '0d' lasts no time at all; "
            'write a whole number and s, m, h or d, such as "72h".'
        ),
    ),
    "kind": (
        '"days"',
        '"weeks"',
        (
            "key `alternatives[1].parts[1].kind`: 'weeks' is not a kind of requirement; "
            'write "run" or "total" or "days" or "window" or "mean" or "run before each turning" or '
            '"constant temperature".'
        ),
    ),
    "number": (
        "days = 15",
        "days = 0",
        (
            "key `alternatives[1].parts[1].days`: 0 is not such a number; "
            "write a whole number from 1 to 1000 without quotes."
        ),
    ),
    "duration": (
        '"2d"',
        '"two days"',
        (
            "key `alternatives[1].parts[1].turnings_apart`: 'two days' is not a duration; "
            'write a whole number and s, m, h or d, such as "72h".'
        ),
    ),
    "apart without turnings": (
        "turnings = 5\n",
        "",
        "key `alternatives[1].parts[1].turnings_apart`: it says how far apart but not how many; add `turnings`.",
    ),
    "unknown": (
        "turnings = 5",
        "turnings = 5\nturning = 6",
        (
            "key `alternatives[1].parts[1].turning`: this key is not known; "
            "use only `days`, `kind`, `scattered`, `turnings`, `turnings_apart`."
        ),
    ),
    "flag": (
        "days = 15",
        'days = 15\nscattered = "yes"',
        (
            "key `alternatives[1].parts[1].scattered`: 'yes' is neither true nor false; "
            "write true or false without quotes."
        ),
    ),
    "no parts": (
        GOOD[GOOD.index("[[alternatives.parts]]") :],
        "",
        "key `alternatives[1].parts`: it is missing; begin each with a line [[alternatives.parts]].",
    ),
    "order": (
        "\n[[alternatives]]",
        (
            '\n[[alternatives]]\nhold = "60 degC"\n[[alternatives.parts]]\nkind = "run"\nduration = "72h"\n'
            "\n[[alternatives]]"
        ),
        "key `alternatives`: the first is not the one with the lowest `hold`; put that one first.",
    ),
}


MORE = """
[[conditions]]
key = "curing"
text = "Cured"

[[duties]]
key = "monitoring"
text = "Read daily"
every = "1d"
per_length = "150 ft"
per_volume = "200 yd3"
depth_min = "12 in"
depth_max = "24 in"

[[alternatives]]
hold = "60 degC"

[[alternatives.parts]]
kind = "window"
span = "5d"

[[alternatives.parts.within]]
kind = "run"
duration = "4h"
hold = "65 degC"
limit = "70 degC"
strict = true

[[alternatives.parts.within]]
kind = "mean"
mean = "62 degC"
strict = true

[[alternatives.parts]]
kind = "mean"
span = "14d"
mean = "61 degC"

[[alternatives.parts]]
kind = "run before each turning"
duration = "3d"
turnings = 3

[[alternatives.parts]]
kind = "constant temperature"
numerator = 131700000
per_degree = "0.14"
floor = "20m"
below = "30m"
"""
RICH = GOOD.replace("\n[[alternatives]]", '\ncaution = "Mind this."\n\n[[alternatives]]', 1) + MORE


@pytest.mark.parametrize(
    ("length", "milli_m"),
    [("305 mm", 305), ("30.5 cm", 305), ("1 m", 1_000), ("2 in", 51), ("1 ft", 305), ("150 ft", 45_720)],
)
def test_a_length_is_read_in_every_unit_that_people_use(length, milli_m):
    rule = parse_rule(RICH.replace('"150 ft"', f'"{length}"'), "ours.toml", "ours")
    assert rule.conditions[1].per_milli_m == milli_m


@pytest.mark.parametrize(("volume", "milli_m3"), [("1 m3", 1_000), ("150 m3", 150_000), ("1 yd3", 765)])
def test_a_volume_too(volume, milli_m3):
    rule = parse_rule(RICH.replace('"200 yd3"', f'"{volume}"'), "ours.toml", "ours")
    assert rule.conditions[1].per_milli_m3 == milli_m3


def test_a_rule_file_with_everything_is_read():
    rule = parse_rule(RICH, "ours.toml", "ours")
    assert rule.caution == "Mind this."
    assert rule.conditions == (
        Condition(key="curing", text="Cured"),
        Duties(
            key="monitoring",
            text="Read daily",
            every_ms=DAY_MS,
            per_milli_m=45_720,
            per_milli_m3=152_911,
            depth_min_milli_m=305,
            depth_max_milli_m=610,
        ),
    )
    hot = Limits(low_milli_c=65_000, high_milli_c=70_000, strict=True, low_text="65 °C", high_text="70 °C")
    assert rule.alternatives[1].parts == (
        Window(
            span_ms=5 * DAY_MS,
            within=(
                Within(part=Run(duration_ms=4 * HOUR_MS), limits=hot),
                Within(part=Mean(low_milli_c=62_000, strict=True, text="62 °C")),
            ),
        ),
        Window(span_ms=14 * DAY_MS, within=(Within(part=Mean(low_milli_c=61_000, text="61 °C")),)),
        RunBeforeTurnings(duration_ms=3 * DAY_MS, count=3),
        Constant(numerator_days=131_700_000, per_degree_milli=140, floor_ms=20 * MINUTE_MS, below_ms=30 * MINUTE_MS),
    )
    assert len(rule.all_limits()) == 3


_PARTS = "alternatives[2].parts"
BAD_MORE = {
    "caution": ('"Mind this."', '""', "key `caution`: '' is not a text with anything in it; write a text in quotes."),
    "condition key": (
        '"curing"',
        '"Curing!"',
        "key `conditions[1].key`: 'Curing!' is not a name; write small letters, digits and hyphens, such as \"curing\".",
    ),
    "condition text": ('text = "Cured"\n', "", "key `conditions[1].text`: it is missing; write a text in quotes."),
    "condition unknown": (
        'text = "Cured"\n',
        'text = "Cured"\nevery = "1d"\n',
        "key `conditions[1].every`: this key is not known; use only `key`, `text`.",
    ),
    "same key": (
        'key = "monitoring"',
        'key = "curing"',
        "key `conditions`: the key 'curing' is used twice; give every condition and duty its own.",
    ),
    "every": (
        'every = "1d"',
        'every = "daily"',
        "key `duties[1].every`: 'daily' is not a duration; write a whole number and s, m, h or d, such as \"72h\".",
    ),
    "length": (
        '"150 ft"',
        '"150 feet"',
        'key `duties[1].per_length`: \'150 feet\' is not a length; write a number and its unit, such as "150 ft" or "30 cm".',
    ),
    "volume": (
        '"200 yd3"',
        '"200 ft"',
        'key `duties[1].per_volume`: \'200 ft\' is not a volume; write a number and its unit, such as "200 yd3" or "150 m3".',
    ),
    "nothing": (
        '"150 ft"',
        '"0 ft"',
        'key `duties[1].per_length`: \'0 ft\' is nothing at all; write a number and its unit, such as "150 ft" or "30 cm".',
    ),
    "depths": (
        '"24 in"',
        '"20 cm"',
        "key `duties[1].depth_max`: it is less than `depth_min`; write a greater one.",
    ),
    "empty duty": (
        'every = "1d"\nper_length = "150 ft"\nper_volume = "200 yd3"\ndepth_min = "12 in"\ndepth_max = "24 in"\n',
        "",
        "key `duties[1].key`: this duty states nothing to measure; add `every`, `per_length`, `per_volume` or a depth.",
    ),
    "span": (
        'span = "5d"\n',
        "",
        f'key `{_PARTS}[1].span`: it is missing; write a whole number and s, m, h or d, such as "72h".',
    ),
    "within kind": (
        'kind = "run"\nduration = "4h"',
        'kind = "days"\nduration = "4h"',
        f'key `{_PARTS}[1].within[1].kind`: \'days\' is not a kind of requirement; write "run" or "total" or "mean".',
    ),
    "within too long": (
        'duration = "4h"',
        'duration = "6d"',
        f"key `{_PARTS}[1].within[1].duration`: it is longer than the `span` of its window; write a shorter one.",
    ),
    "within limits": (
        'hold = "65 degC"\n',
        "",
        f"key `{_PARTS}[1].within[1].limit`: it stands without a `hold` of its own; add `hold`, or leave it out.",
    ),
    "within upper": (
        '"70 degC"',
        '"64 degC"',
        f"key `{_PARTS}[1].within[1].limit`: 64 °C is not above the hold temperature 65 °C; write a higher one.",
    ),
    "two means": (
        'kind = "run"\nduration = "4h"\nhold = "65 degC"\nlimit = "70 degC"\nstrict = true',
        'kind = "mean"\nmean = "61 degC"',
        f"key `{_PARTS}[1].within`: there is more than one mean; ask for one mean.",
    ),
    "mean": (
        'mean = "62 degC"',
        'mean = "hot"',
        (
            f"key `{_PARTS}[1].within[2].mean`: 'hot' is not a temperature; "
            'write a number and its unit, such as "131 degF" or "55 degC".'
        ),
    ),
    "mean upper": (
        'mean = "61 degC"',
        'mean = "61 degC"\nlimit = "70 degC"',
        f"key `{_PARTS}[2].limit`: this key is not known; use only `kind`, `mean`, `span`, `strict`.",
    ),
    "within mean unknown": (
        'mean = "62 degC"',
        'mean = "62 degC"\nlimit = "70 degC"',
        f"key `{_PARTS}[1].within[2].limit`: this key is not known; use only `kind`, `mean`, `strict`.",
    ),
    "within unknown": (
        'duration = "4h"',
        'duration = "4h"\nturnings = 2',
        (
            f"key `{_PARTS}[1].within[1].turnings`: this key is not known; "
            "use only `duration`, `hold`, `kind`, `limit`, `strict`."
        ),
    ),
    "window unknown": (
        'span = "5d"',
        'span = "5d"\nstrict = true',
        f"key `{_PARTS}[1].strict`: this key is not known; use only `kind`, `span`, `within`.",
    ),
    "duty unknown": (
        'per_length = "150 ft"',
        'per_lenght = "150 ft"',
        (
            "key `duties[1].per_lenght`: this key is not known; "
            "use only `depth_max`, `depth_min`, `every`, `key`, `per_length`, `per_volume`, `text`."
        ),
    ),
    "way unknown": (
        'hold = "60 degC"',
        'hold = "60 degC"\ndays = 3',
        "key `alternatives[2].days`: this key is not known; use only `hold`, `join`, `limit`, `parts`, `strict`.",
    ),
    "before": (
        "turnings = 3",
        "turnings = 0",
        f"key `{_PARTS}[3].turnings`: 0 is not such a number; write a whole number from 1 to 1000 without quotes.",
    ),
    "numerator": (
        "131700000",
        '"131700000"',
        (
            f"key `{_PARTS}[4].numerator`: '131700000' is not such a number; "
            "write a whole number from 1 to 1000000000000 without quotes."
        ),
    ),
    "per degree": (
        '"0.14"',
        "0.14",
        f'key `{_PARTS}[4].per_degree`: 0.14 is not such a fraction; write a decimal fraction in quotes, such as "0.14".',
    ),
    "per degree nothing": (
        '"0.14"',
        '"0.000"',
        (
            f"key `{_PARTS}[4].per_degree`: '0.000' is not such a fraction; "
            'write a decimal fraction in quotes, such as "0.14".'
        ),
    ),
    "numerator too large": (
        "131700000",
        "1000000000001",
        (
            f"key `{_PARTS}[4].numerator`: 1000000000001 is not such a number; "
            "write a whole number from 1 to 1000000000000 without quotes."
        ),
    ),
    "floor": (
        'floor = "20m"\n',
        "",
        f'key `{_PARTS}[4].floor`: it is missing; write a whole number and s, m, h or d, such as "72h".',
    ),
    "below": (
        'below = "30m"',
        'below = "20m"',
        f"key `{_PARTS}[4].below`: it is not longer than `floor`; write a longer duration.",
    ),
}


@pytest.mark.parametrize("case", BAD_MORE)
def test_a_fault_in_any_new_key_is_refused_with_a_sentence(case):
    there, instead, sentence = BAD_MORE[case]
    assert there in RICH
    with pytest.raises(ConfigurationError) as refused:
        parse_rule(RICH.replace(there, instead, 1), "ours.toml", "ours")
    assert refused.value.problems == [f"ours.toml, {sentence}"]


@pytest.mark.parametrize(
    ("there", "instead"),
    [
        ("days = 15", "days = 1000"),
        ("days = 15", "days = 1"),
        ('hold = "60 degC"', 'hold = "100 degC"'),
        ('hold = "60 degC"', 'hold = "131 degF"'),  # of the same temperature as the first
        ('"170 degF"', '"131.002 degF"'),
        ('"24 in"', '"12 in"'),
        ('duration = "4h"', 'duration = "5d"'),
        ('below = "30m"', 'below = "1201s"'),
        ("131700000", "1000000000000"),
        ('"0.14"', '"0.001"'),
        ('limit = "70 degC"\nstrict = true\n', ""),
        ('every = "1d"\nper_length = "150 ft"\nper_volume = "200 yd3"\ndepth_min = "12 in"\n', ""),
        ('depth_max = "24 in"\n', ""),
    ],
)
def test_what_is_just_within_its_bounds_is_read(there, instead):
    assert there in RICH
    assert parse_rule(RICH.replace(there, instead, 1), "ours.toml", "ours").id == "ours"


def test_conditions_as_a_list_of_texts_are_refused():
    text = GOOD.replace("\n[[alternatives]]", '\nconditions = ["Covered"]\n\n[[alternatives]]', 1)
    with pytest.raises(ConfigurationError) as refused:
        parse_rule(text, "ours.toml", "ours")
    assert refused.value.problems == [
        "ours.toml, key `conditions`: it is not a list of tables; begin each with a line [[conditions]]."
    ]


@pytest.mark.parametrize("case", BAD)
def test_a_bad_rule_file_is_refused_with_a_sentence(case):
    there, instead, sentence = BAD[case]
    assert there in GOOD
    with pytest.raises(ConfigurationError) as refused:
        parse_rule(GOOD.replace(there, instead, 1), "ours.toml", "ours")
    assert refused.value.problems == [f"ours.toml, {sentence}"]


def test_all_faults_are_told_at_once():
    text = GOOD.replace('"seen"', '"sure"').replace('"leaves"', "7").replace("section", "sektion")
    with pytest.raises(ConfigurationError) as refused:
        parse_rule(text, "ours.toml", "ours")
    keys = [problem.split("`")[1] for problem in refused.value.problems]
    assert keys == ["section", "feedstock", "status", "sektion"]


def test_what_is_not_toml_is_refused():
    with pytest.raises(ConfigurationError, match=r"ours.toml: this is not TOML \(.*line 2.*\); correct it there."):
        parse_rule('title = "a"\nx = 5 5\n', "ours.toml", "ours")


@pytest.mark.parametrize("name", ["none", "Ours", "our rule", ""])
def test_a_name_that_cannot_be_used_is_refused(name):
    with pytest.raises(ConfigurationError, match="cannot name a rule"):
        parse_rule(GOOD, "ours.toml", name)
