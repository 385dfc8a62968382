"""The rules that come with the program, and what is said of a bad rule file."""

import pytest

from monitor.model.errors import ConfigurationError, MisuseError
from monitor.model.times import DAY_MS, HOUR_MS
from monitor.model.words import Method
from monitor.proof import (
    Days,
    Join,
    Limits,
    Run,
    Status,
    Total,
    Turnings,
    find_rule,
    load_rule,
    parse_rule,
    refuse_method,
    rule_ids,
)
from monitor.proof.rules import unbroken

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


def test_every_rule_of_the_program_can_be_read():
    assert rule_ids() == (
        "backyard-130f-3d",
        "de-bioabfv",
        "eu-2019-1009-cmc3",
        "uk-wales-abp-windrow",
        "us-112-54-static",
        "us-112-54-turned",
        "us-205-203-static",
        "us-205-203-windrow",
        "us-503-pfrp-static",
        "us-503-pfrp-windrow",
    )
    for rule_id in rule_ids():
        rule = load_rule(rule_id)
        assert rule.id == rule_id
        assert rule.hold_milli_c == min(way.limits.low_milli_c for way in rule.alternatives)


# (hold, upper limit, strict, parts) of every alternative; figures and their sources: standards 1.1.
FIVE = Turnings(count=5)
FIGURES = {
    # 40 CFR 503 App. B B.1: 55 degC, 3 days; windrow 15 days with 5 turnings (seen second hand).
    "us-503-pfrp-static": [(55_000, None, Run(duration_ms=3 * DAY_MS))],
    "us-503-pfrp-windrow": [(55_000, None, Days(count=15, turnings=FIVE))],
    # 7 CFR 205.203(c)(2): 131 to 170 degF, the only rule here with an upper limit (seen second hand).
    "us-205-203-static": [(55_000, 76_667, Run(duration_ms=3 * DAY_MS))],
    "us-205-203-windrow": [(55_000, 76_667, Days(count=15, turnings=FIVE))],
    # 21 CFR 112.54(b): 131 degF, 3 consecutive days; turned 15 days, not necessarily consecutive (seen second hand).
    "us-112-54-static": [(55_000, None, Run(duration_ms=3 * DAY_MS))],
    "us-112-54-turned": [(55_000, None, Days(count=15, turnings=FIVE))],
    # BioAbfV Annex 2 no. 2.2.2.1: 55 degC two weeks, 60 degC six days, 65 degC three days (seen).
    "de-bioabfv": [(55_000, None, Days(count=14)), (60_000, None, Days(count=6)), (65_000, None, Days(count=3))],
    # Regulation (EU) 2019/1009 CMC 3 point 3 (from memory).
    "eu-2019-1009-cmc3": [
        (55_000, None, Days(count=14)),
        (60_000, None, Days(count=7)),
        (65_000, None, Days(count=5)),
        (70_000, None, Days(count=3)),
    ],
    # SI 2006/1293 (W.127) Sch. 1 Part II: 60 degC, 8 days, 3 turnings no less than 2 days apart (seen).
    "uk-wales-abp-windrow": [(60_000, None, Days(count=8, turnings=Turnings(count=3, apart_ms=2 * DAY_MS)))],
    # Common practice, no published source.
    "backyard-130f-3d": [(54_444, None, Run(duration_ms=3 * DAY_MS))],
}


@pytest.mark.parametrize("rule_id", FIGURES)
def test_figures_are_those_of_the_source(rule_id):
    ways = load_rule(rule_id).alternatives
    found = [(way.limits.low_milli_c, way.limits.high_milli_c, *way.parts) for way in ways]
    assert found == FIGURES[rule_id]
    assert not any(way.limits.strict for way in ways)


def test_rules_from_memory_serve_for_information():
    unchecked = {rule_id for rule_id in rule_ids() if load_rule(rule_id).for_information}
    assert unchecked == {"eu-2019-1009-cmc3", "backyard-130f-3d"}


def test_none_is_the_absence_of_a_rule():
    assert find_rule("none") is None
    assert find_rule("us-112-54-turned") == load_rule("us-112-54-turned")
    with pytest.raises(MisuseError, match=r"There is no rule 'us-112'; there are backyard-130f-3d, .* for no rule"):
        find_rule("us-112")


def test_a_method_that_is_not_covered_is_refused_in_one_sentence():
    rule = load_rule("us-112-54-static")
    assert refuse_method(rule, Method.STATIC) is None
    assert refuse_method(rule, None) is None
    assert refuse_method(rule, Method.TURNED) == (
        "Rule us-112-54-static (21 CFR 112.54(b)(1)) covers aerated static and in-vessel composting, not turned."
    )


def test_a_rule_file_is_read():
    rule = parse_rule(GOOD, "ours.toml", "ours")
    assert rule.status is Status.SEEN
    assert rule.live.join is Join.ALL
    assert rule.live.limits == Limits(low_milli_c=55_000, high_milli_c=76_667, low_text="131 °F", high_text="170 °F")
    assert rule.live.parts == (Days(count=15, turnings=Turnings(count=5, apart_ms=2 * DAY_MS)),)
    assert rule.wants_turnings


def test_parts_of_every_kind_joined_by_any():
    text = GOOD[: GOOD.index("[[alternatives]]")] + (
        'conditions = ["Covered"]\n'
        '[[alternatives]]\nhold = "55.5 degC"\nstrict = true\njoin = "any"\n'
        '[[alternatives.parts]]\nkind = "run"\nduration = "72h"\n'
        '[[alternatives.parts]]\nkind = "total"\nduration = "10d"\nturnings = 1\n'
        '[[alternatives.parts]]\nkind = "days"\ndays = 5\nconsecutive = true\n'
    )
    rule = parse_rule(text, "ours.toml", "ours")
    assert rule.conditions == ("Covered",)
    assert rule.live.limits.strict
    assert rule.live.join is Join.ANY
    assert rule.live.parts == (
        Run(duration_ms=72 * HOUR_MS),
        Total(duration_ms=10 * DAY_MS, turnings=Turnings(count=1)),
        Days(count=5, consecutive=True),
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
    "kind": (
        '"days"',
        '"weeks"',
        (
            "key `alternatives[1].parts[1].kind`: 'weeks' is not a kind of requirement; "
            'write "run" or "total" or "days".'
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
            "use only `consecutive`, `days`, `kind`, `turnings`, `turnings_apart`."
        ),
    ),
    "flag": (
        "days = 15",
        'days = 15\nconsecutive = "yes"',
        (
            "key `alternatives[1].parts[1].consecutive`: 'yes' is neither true nor false; "
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


def test_the_strict_reading_of_days_is_one_run():
    strict = unbroken(load_rule("us-112-54-turned").live)
    assert strict is not None
    assert strict.parts == (Run(duration_ms=15 * DAY_MS, turnings=Turnings(count=5)),)
    assert unbroken(load_rule("us-112-54-static").live) is None
