"""docs/by-hand.md from its first line to its last, as somebody without any probe types it."""

import json
import re
import shlex
from pathlib import Path

import pytest
from click.testing import CliRunner

from monitor.app.command import heaptender
from monitor.model.times import HOUR_MS, parse_time

PAGE = (Path(__file__).parents[3] / "docs" / "by-hand.md").read_text(encoding="utf-8")
TYPED = [shlex.split(line)[1:] for line in re.findall(r"^ {4}(heaptender .*)$", PAGE, re.MULTILINE)]
ENDS_WITH = {"certify": 1, "status": 1}
"""A heap of one day has not met its rule, and no daemon runs here."""


@pytest.fixture
def yard(tmp_path):
    (tmp_path / "heaptender.toml").write_text(re.search(r"```toml\n(.+?)```", PAGE, re.DOTALL)[1])
    return tmp_path


def types(yard, *words):
    run = CliRunner().invoke(
        heaptender, [*words, "--config", str(yard / "heaptender.toml")], standalone_mode=False, catch_exceptions=False
    )
    return run.return_value or 0, run.output


def test_everything_on_the_page_works_when_typed(yard):
    said = {}
    for words in TYPED:
        code, text = types(yard, *words)
        assert code == ENDS_WITH.get(words[0], 0), f"{words}: {text}"
        said[" ".join(words)] = text
    assert "Not read: middle." in said["log round p1 143 - 145 --by Ann --at 30 min ago"]
    status = said["status"]
    assert "rule us-112-54-turned running" in status
    assert "by hand, Ann" in status
    assert "Next round due by tomorrow" in status
    assert "next round due by tomorrow" in said["status --leaving"]
    certificate = said["certify --batch p1"]
    assert "Temperatures were read from a thermometer by a person; only those instants were measured." in certificate
    assert "Between two rounds at most 26 h apart the temperature is assumed to run straight" in certificate
    pile = json.loads(types(yard, "status", "--json")[1])["piles"][0]
    last, due, breaks = (parse_time(pile["next_round"][key]) for key in ("last", "due", "chain_breaks"))
    assert (due - last, breaks - last) == (24 * HOUR_MS, 26 * HOUR_MS)
    assert pile["by_hand"]["spots"] == 3


@pytest.mark.parametrize("typed", re.findall(r"`(62 degC|145F)`", PAGE))
def test_units_that_the_page_names_are_understood(yard, typed):
    code, text = types(yard, "log", "reading", "p1", *typed.split(), "--spot", "west")
    assert (code, text.startswith("Written down as 1: Bay 1 ")) == (0, True)


def test_slips_that_the_page_names_are_asked_about_and_a_fire_is_not(yard):
    types(yard, "log", "round", "p1", "145", "140", "141", "--at", "2 h ago")
    for slip in ("14.5", "60"):
        code, text = types(yard, "log", "reading", "p1", slip, "--spot", "west")
        assert (code, "Not written down yet." in text) == (1, True)
    code, text = types(yard, "log", "reading", "p1", "185", "--spot", "west")
    assert code == 0
    assert "185 °F is fire danger" in text
    assert types(yard, "log", "undo", "2")[0] == 0
