"""The page on how it is tried: each test that it names exists, and each thing that the README says works has one."""

import ast
import re
from functools import cache
from pathlib import Path

import pytest

from tests.faults import weather

HERE = Path(__file__).parents[3]
PAGE = (HERE / "docs/reliability.md").read_text("utf-8")
NAMED = sorted(set(re.findall(r"`((?:unit|io|faults)/[\w/]+\.py::test_\w+)`", PAGE)))


@cache
def named_in(path):
    tree = ast.parse((HERE / "tests" / path).read_text("utf-8"))
    return {node.name for node in ast.walk(tree) if isinstance(node, ast.FunctionDef)}


def rows(text):
    return [line.split("|")[1].strip() for line in text.splitlines() if line.startswith("| ")][1:]


@pytest.mark.parametrize("named", NAMED)
def test_each_test_that_the_page_names_exists(named):
    path, _, name = named.partition("::")
    assert name in named_in(path)


def test_each_thing_that_the_readme_says_works_has_its_row_here_in_its_order():
    readme = (HERE / "README.md").read_text("utf-8")
    told = rows(readme[readme.index("## What works today") : readme.index("Not yet:")])
    promised = rows(PAGE[PAGE.index("## Every promise and its test") :])
    assert len(promised) == len(told) > 30
    assert [one for one, row in zip(promised, told, strict=True) if not row.startswith(one)] == []


def test_each_row_of_a_promise_names_a_test():
    lines = [line for line in PAGE[PAGE.index("## Every promise and its test") :].splitlines() if line.startswith("| ")]
    assert [line for line in lines[1:] if "::test_" not in line] == []


def test_every_kind_of_fault_can_come():
    assert set(weather.KINDS) == set(weather.DAYS_BETWEEN)
    assert all(hasattr(weather.Weather, "_" + kind.replace(" ", "_")) for kind in weather.KINDS)
