"""Turnings out of a file are long over: their probes are back, nobody is told of them, and one verdict comes of them."""

import json
from datetime import UTC, datetime, timedelta

import pytest
from click.testing import CliRunner

from monitor.app.command import heaptender

YARD = """
[site]
name = "Test yard"
time_zone = "America/New_York"
temperature_unit = "degF"
data = "data"
[piles.p1]
name = "Bay 1"
rule = "us-112-54-turned"
method = "turned"
built = 2026-02-20T09:00:00Z
[probes.p1-a]
place = "p1"
role = "core"
{air}
"""
BUILT = datetime(2026, 2, 20, 9, tzinfo=UTC)
AIR = '[probes.air]\nplace = "ambient"'


def stamp(hours):
    return (BUILT + timedelta(hours=hours)).isoformat().replace("+00:00", "Z")


def call(yard, *words, code=0):
    run = CliRunner().invoke(heaptender, [*words, "--config", str(yard / "heaptender.toml")])
    assert run.exit_code == code, run.output
    return run.output


def imported(yard, values, air=""):
    """Import readings each hour (hour: °C) and turnings on day 3, 6, 9, 12 and 15."""
    (yard / "heaptender.toml").write_text(YARD.replace("{air}", air))
    rows = [f"{stamp(hour + 0.5)},p1-a,temperature,{value},Cel" for hour, value in values]
    rows += [f"{stamp(hour + 0.5)},air,temperature,15,Cel" for hour, _ in values if air]
    (yard / "r.csv").write_text("time,probe,quantity,value,unit\n" + "\n".join(rows) + "\n")
    works = [f"{stamp(day * 24)},p1,turned" for day in (3, 6, 9, 12, 15)]
    (yard / "w.csv").write_text("time,place,kind\n" + "\n".join(works) + "\n")
    call(yard, "import", str(yard / "r.csv"), "--work", str(yard / "w.csv"))


def status(yard):
    told = json.loads(call(yard, "status", "--json"))
    return told["piles"][0], {one["probe"]: one["words"] for one in told["probes"]}


WARM = [(hour, 60 + hour % 3) for hour in range(24 * 18)]


@pytest.mark.parametrize("air", ["", AIR])
def test_a_season_that_stayed_warm_counts_whole_with_or_without_a_probe_in_the_air(tmp_path, air):
    imported(tmp_path, WARM, air)
    pile, words = status(tmp_path)
    assert ", out" not in words["p1-a"]
    assert pile["rule_state"] == "met"
    told = json.loads(call(tmp_path, "certify", "--batch", pile["batch"], "--json"))
    assert (told["verdict"], told["turnings"]) == ("met", 5)
    assert "outside since" not in call(tmp_path, "export", "notices")


def test_a_probe_that_the_readings_show_outside_does_not_count_meanwhile(tmp_path):
    outside = {day * 24 + hour for day in (3, 6, 9, 12, 15) for hour in range(4)}
    imported(tmp_path, [(hour, 16 if hour in outside else value) for hour, value in WARM])
    pile, words = status(tmp_path)
    assert ", out" not in words["p1-a"]
    assert pile["rule_state"] == "met"
    assert json.loads(call(tmp_path, "certify", "--batch", pile["batch"], "--json"))["verdict"] == "met"
