"""The files of rules of duration: the one that comes with the program, and what makes one bad."""

import pytest

from monitor.model.errors import ConfigurationError, MisuseError
from monitor.model.times import DAY_MS
from monitor.model.words import BinKind
from monitor.proof.rules import duration_rule_ids, load_duration_rule, parse_duration_rule, rule_ids

GOOD = """
title = "t"
jurisdiction = "j"
section = "s"
wording = "w"
source = "from memory"
status = "memory"
[moisture]
low_percent = 70
high_percent = 90
every = "7d"
[layers]
at_most = "1 in"
[[declared]]
key = "feedstocks"
text = "only allowed ones"
[[beds]]
kinds = ["flow"]
days = 60
"""


def test_the_figures_of_the_organic_rule_on_vermicompost():
    # standards.md §1.3, from memory: 70 to 90 %, 12 months, 4 months, 60 days.
    rule = load_duration_rule("us-nop-5021-vermicompost")
    assert (rule.low_milli_pct, rule.high_milli_pct, rule.moisture_every_ms, rule.layer_mm) == (
        70_000,
        90_000,
        7 * DAY_MS,
        25,
    )
    assert rule.for_information
    times = {kind: (bed.months, bed.days, bed.indoors) for bed in rule.beds for kind in bed.kinds}
    assert times.pop(BinKind.FLOW) == (0, 60, None)
    assert times.pop(BinKind.WINDROW) == (12, 0, False)
    assert set(times.values()) == {(4, 0, True)}
    assert set(times) == set(BinKind) - {BinKind.FLOW, BinKind.WINDROW}


def test_each_kind_of_bed_has_one_time_and_no_rule_of_time_and_temperature_has_its_id():
    for rule_id in duration_rule_ids():
        kinds = [kind for bed in load_duration_rule(rule_id).beds for kind in bed.kinds]
        assert len(kinds) == len(set(kinds))
    assert not set(duration_rule_ids()) & set(rule_ids())


def test_a_rule_that_is_not_there():
    with pytest.raises(MisuseError, match="There is no rule of duration 'x'; there are us-nop-5021-vermicompost"):
        load_duration_rule("x")


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("low_percent = 70", "low_percent = 90", "key `moisture.high_percent`: it is not more than `low_percent`"),
        ("low_percent = 70", 'low_percent = "70 %"', "key `moisture.low_percent`"),
        ('every = "7d"', 'every = "weekly"', "key `moisture.every`"),
        ('at_most = "1 in"', "", "key `layers.at_most`: it is missing"),
        ('kinds = ["flow"]', 'kinds = ["heap"]', r"key `beds\[1\].kinds`.*names no kind of bed"),
        ('kinds = ["flow"]', 'kinds = "flow"', r"key `beds\[1\].kinds`"),
        ("days = 60", "days = 60\nmonths = 2", "in months or in days"),
        ("days = 60", "", "in months or in days"),
        ("days = 60", "days = 0", "whole number"),
        ("days = 60", "days = 60\nindoor = true", r"key `beds\[1\].indoor`: this key is not known"),
        ("[layers]", "[layer]", "key `layers`: it is missing; begin it with a line"),
        ("[moisture]", "moisture = 3\n[x]", "key `moisture`: it is not a table"),
        ('status = "memory"', 'status = "sure"', "key `status`"),
        ('title = "t"', "", "key `title`: it is missing"),
        ('title = "t"', "title = ", "this is not TOML"),
    ],
)
def test_a_bad_file_is_refused(old, new, said):
    parse_duration_rule(GOOD, "good.toml", "good")
    with pytest.raises(ConfigurationError, match=said):
        parse_duration_rule(GOOD.replace(old, new), "bad.toml", "bad")
