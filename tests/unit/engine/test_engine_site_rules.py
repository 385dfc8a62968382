"""A rule of the site's own reaches the engine by the settings alone, and a batch keeps the one it began with."""

import pytest
from engine_yard import DAY, HOUR, MIN, T0, Drive, core, yard

from monitor.engine import Engine
from monitor.engine.context.batch_runs import rule_of
from monitor.model.settings import Pile
from monitor.model.words import Method

TEXT = """\
title = "Our county"
jurisdiction = "Our county"
section = "Ordinance 7"
methods = ["turned"]
feedstock = "leaves"
wording = "Some time at 140 °F or hotter."
source = "the county's office"
status = "seen"
[[alternatives]]
hold = "140 degF"
[[alternatives.parts]]
kind = "run"
duration = "48h"
"""


def settings(rules, rule="our-county"):
    piles = {"p1": Pile(name="Bay 1", rule=rule, method=Method.TURNED, built=T0)}
    return yard(piles=piles, bins={}, probes={"p1-a": core("p1")}, rules=rules)


def rule_changes(drive):
    return [(e.draft.axis, e.draft.after) for e in drive.effects if e.draft.kind.value == "rule"]


@pytest.fixture
def drive():
    return Drive(settings({"our-county": TEXT}))


def test_progress_follows_the_text_in_the_settings(drive):
    drive.hold(T0 + MIN, T0 + 2 * DAY, HOUR, p1_a=59)
    assert rule_changes(drive) == []
    drive.hold(T0 + 2 * DAY + HOUR, T0 + 5 * DAY, HOUR, p1_a=61)
    assert rule_changes(drive) == [("our-county", "running"), ("our-county", "met")]


def test_a_batch_keeps_its_rule_when_the_settings_lose_it(drive):
    drive.hold(T0 + MIN, T0 + DAY, HOUR, p1_a=61)
    drive.settle(T0 + DAY + MIN, settings({}, rule="us-112-54-turned"))
    again = Drive(engine=Engine.restore(drive.engine.snapshot()))
    again.history = drive.history
    again.hold(T0 + DAY + HOUR, T0 + 4 * DAY, HOUR, p1_a=61)
    assert rule_changes(again) == [("our-county", "met")]


def test_a_corrected_text_is_held_against_the_whole_record(drive):
    drive.hold(T0 + MIN, T0 + 3 * DAY, HOUR, p1_a=59)
    assert rule_changes(drive) == []
    corrected = TEXT.replace("140 degF", "131 degF")
    drive.settle(T0 + 3 * DAY + MIN, settings({"our-county": corrected}))
    (run,) = drive.engine.state.runs.values()
    assert rule_of(run).hold_milli_c == 55_000
    drive.read(T0 + 3 * DAY + HOUR, p1_a=59)
    assert rule_changes(drive)[-1] == ("our-county", "met")


def test_replay_gives_the_same(drive):
    drive.hold(T0 + MIN, T0 + 4 * DAY, HOUR, p1_a=61)
    other = Drive(settings({"our-county": TEXT}))
    other.hold(T0 + MIN, T0 + 2 * DAY, HOUR, p1_a=61)
    last = Drive(engine=Engine.restore(other.engine.snapshot()))
    last.history = other.history
    last.hold(T0 + 2 * DAY + MIN, T0 + 4 * DAY, HOUR, p1_a=61)
    assert other.lines() + last.lines() == drive.lines()
