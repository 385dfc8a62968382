"""The page about security names tests that exist, rules that are in force, and each item of ASVS level 1 once."""

import ast
import re
import tomllib
from collections import Counter
from functools import cache
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[3]
TEXT = (ROOT / "docs" / "security.md").read_text(encoding="utf-8")
HELD, NOT_APPLICABLE, NOT_HELD = "held", "not applicable", "not held"
NAMED = re.compile(r"`(test_\w+\.py)::(test_\w+)`")
RULE = re.compile(r"`ruff (S\d+)`")

# OWASP ASVS 4.0.3, the items of level 1, from memory: each part with its last numbers.
LEVEL_1 = {
    "2.1": range(1, 13), "2.2": range(1, 4), "2.3": [1], "2.5": range(1, 7), "2.7": range(1, 5), "2.8": [1],
    "3.1": [1], "3.2": range(1, 4), "3.3": range(1, 3), "3.4": range(1, 6), "3.7": [1],
    "4.1": [1, 2, 3, 5], "4.2": [1, 2], "4.3": [1, 2],
    "5.1": range(1, 6), "5.2": range(1, 9), "5.3": range(1, 11), "5.5": range(1, 5),
    "6.2": [1], "7.1": [1, 2], "7.4": [1], "8.2": range(1, 4), "8.3": range(1, 5),
    "9.1": range(1, 4), "10.3": range(1, 4), "11.1": range(1, 6),
    "12.1": [1], "12.3": range(1, 6), "12.4": [1, 2], "12.5": [1, 2], "12.6": [1],
    "13.1": [1, 3], "13.2": range(1, 4), "13.3": [1],
    "14.2": range(1, 4), "14.3": [2, 3], "14.4": range(1, 8), "14.5": range(1, 4),
}  # fmt: skip


@cache
def names_in(name):
    """Return the names of the tests in the one file of this name; None where there is none, or more than one."""
    files = list((ROOT / "tests").rglob(name))
    if len(files) != 1:
        return None
    tree = ast.parse(files[0].read_text(encoding="utf-8"))
    return {one.name for one in ast.walk(tree) if isinstance(one, ast.FunctionDef | ast.AsyncFunctionDef)}


def items(text=TEXT):
    """Return (number, gist, how it stands, why, by what it is shown) of each row of the ASVS tables."""
    return re.findall(r"^\| (\d+\.\d+\.\d+) \| (.+?) \| (.+?) \| (.*?) \| (.*?) \|$", text, re.MULTILINE)


def threats():
    part = TEXT.split("## Threats", 1)[1].split("\n## ", 1)[0]
    rows = re.findall(r"^\| (.+?) \| (.+?) \| (.+?) \| (.+?) \|$", part, re.MULTILINE)
    return [row for row in rows if row[0] not in ("threat", "---")]


def in_force(rule):
    """Return whether ruff refuses this wherever the program is."""
    with (ROOT / "pyproject.toml").open("rb") as file:
        lint = tomllib.load(file)["tool"]["ruff"]["lint"]
    off = {
        *lint["ignore"],
        *(one for where, some in lint["per-file-ignores"].items() if "tests" not in where for one in some),
    }
    return "S" in lint["select"] and not [one for one in off if rule.startswith(one)]


def test_each_test_that_is_named_exists():
    named = NAMED.findall(TEXT)
    assert len(named) > 100
    assert [f"{file}::{test}" for file, test in named if test not in (names_in(file) or ())] == []
    assert TEXT.count(".py::") == len(named), "every name has the form that is checked here"


def test_each_rule_of_the_linter_that_is_named_is_in_force():
    named = {*RULE.findall(TEXT), *re.findall(r"\b(S\d{3})\b", TEXT.split("## The source", 1)[1].split("## ", 1)[0])}
    assert len(named) > 5
    assert [rule for rule in sorted(named) if not in_force(rule)] == []


def test_every_item_of_level_1_stands_there_once_and_in_order():
    assert [number for number, *_ in items()] == [f"{part}.{last}" for part, some in LEVEL_1.items() for last in some]


@pytest.mark.parametrize(("number", "gist", "stands", "why", "shown"), items())
def test_an_item_is_shown_by_a_test_or_says_why_not(number, gist, stands, why, shown):
    assert stands in (HELD, NOT_APPLICABLE, NOT_HELD)
    assert bool(NAMED.findall(shown) or RULE.findall(shown)) is (stands == HELD), number
    assert stands == HELD or len(why) > 5, f"{number}: say why, or what to do"
    assert len(gist.split()) <= 14, f"{number}: in a few words of our own"


def test_the_counts_are_those_of_the_tables():
    count = Counter(stands for _, _, stands, *_ in items())
    told = f"**{count[HELD]} held, {count[NOT_APPLICABLE]} not applicable, {count[NOT_HELD]} not held**"
    assert told in TEXT
    assert f"has {sum(count.values())} items as we remember it" in TEXT


def test_each_threat_is_held_by_a_test_and_says_what_is_left():
    assert len(threats()) > 15
    for threat, done, shown, left in threats():
        assert NAMED.findall(shown), threat
        assert len(done) > 20, threat
        assert len(left) > 10, threat


def test_each_kind_of_exception_from_the_rules_is_explained():
    kinds = {
        rule
        for path in (ROOT / "monitor").rglob("*.py")
        for rule in re.findall(r"# noqa: (?:\w+, )*(S\d+)", path.read_text(encoding="utf-8"))
    }
    assert kinds == {"S608", "S310", "S603", "S104"}, "a new kind: look at it, and say so in docs/security.md"


def test_a_test_that_was_renamed_would_be_missed():
    assert names_in("test_no_such_file.py") is None
    assert "test_nothing_of_this_name" not in names_in("test_docs_security.py")
    assert "test_each_test_that_is_named_exists" in names_in("test_docs_security.py")
    assert not in_force("S311"), "off for the simulator"
    assert not in_force("S101")
