"""What people are told in the life of a heap: it holds, meets its rule, cools, heats up again and is ready for worms."""

from dataclasses import replace

import numpy as np
import pytest
from engine_yard import DAY, HOUR, MIN, T0, Drive, air, core, yard

from monitor.model.thresholds import PileThresholds, ProbeThresholds

CALM = ProbeThresholds(spike_step_milli_k=200_000)
LIMITS = PileThresholds(ready_age_ms=8 * DAY, ready_dwell_ms=DAY, ready_ambient_span_ms=DAY)
COURSE = [(0, 20), (1, 60), (5, 60), (6, 35), (7, 35), (7.5, 45), (8, 35), (9, 22), (12, 22)]
"""(day, °C) of its hotter probe; the other is a degree colder."""


def lived(delay=0):
    """A heap whose readings arrive `delay` ms after they were taken."""
    piles = {"p2": replace(yard().piles["p2"], thresholds=LIMITS)}
    probes = {"p2-a": core("p2"), "p2-b": core("p2"), "air": air()}
    drive = Drive(yard(piles=piles, bins={}, probes=probes, probe_thresholds=CALM))
    drive.work(T0, "p2", "built")
    days, celsius = zip(*COURSE, strict=True)
    for at in range(T0 + MIN, T0 + 12 * DAY, 30 * MIN):
        hot = float(np.interp((at - T0) / DAY, days, celsius))
        drive.read(at, received=at + delay, p2_a=hot, p2_b=hot - 1, air=15)
    return drive


@pytest.fixture(scope="module")
def drive():
    return lived()


def changes(drive, kind):
    return [
        (e.draft.before, e.draft.after, e.draft.reason, e.draft.probe)
        for e in drive.effects
        if e.draft.kind.value == kind
    ]


def told(drive, words):
    """(day, hour of the yard, priority, text) of the messages that say so, digests apart."""
    return [
        (e.at, e.draft.values["priority"], e.draft.text)
        for e in drive.notices(words)
        if e.draft.axis not in ("digest", "repeat")
    ]


def test_each_phase_says_which_probe_decided_it(drive):
    assert changes(drive, "phase") == [
        (None, "heating", "built", ""),
        ("heating", "holding", "held", "p2-b"),
        ("holding", "cooling", "cooled", "p2-a"),
        ("cooling", "ready for worms", "cool enough for worms", "p2-a"),
    ]
    why = [e.draft.why for e in drive.effects if e.draft.kind.value == "phase"]
    assert why[0] == "Bay 2 is heating: built."
    assert why[1] == "Bay 2 is holding: its coldest probe was at or above the hold temperature for 60 min."
    assert [e.draft.values["batch"] for e in drive.effects if e.draft.kind.value == "phase"] == ["p2-2026-11-01"] * 4


def test_its_rule_runs_and_is_met_once(drive):
    assert changes(drive, "rule") == [
        ("not begun", "running", "rule progress", ""),
        ("running", "met", "rule progress", ""),
    ]
    met = [e.draft for e in drive.effects if e.draft.kind.value == "rule"][1]
    assert met.axis == "us-112-54-static"
    assert met.values == {"run_h": 72, "longest_run_h": 72, "needed_h": 72, "batch": "p2-2026-11-01"}
    assert abs(met.since - T0 - 3.9 * DAY) < MIN, "its colder probe passes 55 °C after nine tenths of the first day"
    ((at, priority, text),) = told(drive, "met its rule at 16:36")
    assert at - met.since < 30 * MIN
    assert priority == "low"
    assert text.startswith("Bay 2: ")


def test_holding_waits_for_the_digest(drive):
    assert told(drive, "at temperature throughout") == []
    (digest,) = drive.notices("at temperature throughout, coldest 56.7 °C")
    assert digest.draft.axis == "digest"


def test_a_heap_that_heats_up_again_and_one_that_is_cool_enough_are_told_at_once(drive):
    ((at, priority, text),) = told(drive, "heating up again")
    assert (at, priority) == (T0 + 7 * DAY + 6 * HOUR + MIN, "medium")
    assert text.startswith("Bay 2: heating up again, hottest 40 °C since 00:59.")
    ((_, priority, text),) = told(drive, "cool enough for worms")
    assert priority == "medium"
    assert text.startswith("Bay 2: cool enough for worms, 22 °C since ")


def test_news_of_long_ago_are_lines_of_the_digest(drive):
    late = lived(delay=3 * DAY)
    assert changes(late, "phase")[1:] == changes(drive, "phase")[1:]
    for words in ("heating up again", "cool enough for worms", "met its rule"):
        assert told(late, words) == []
        assert [e for e in late.notices(words) if e.draft.axis == "digest"] or late.digest_lines(words)


def test_new_material_makes_its_rule_begin_anew_and_be_told_again():
    drive = Drive(yard(bins={}, probes={"p2-a": core("p2")}, probe_thresholds=CALM))
    drive.work(T0, "p2", "built")
    drive.hold(T0 + MIN, T0 + 4 * DAY, HOUR, p2_a=60)
    drive.work(T0 + 4 * DAY + MIN, "p2", "added", what="straw")
    drive.hold(T0 + 4 * DAY + HOUR, T0 + 8 * DAY, HOUR, p2_a=60)
    assert [after for _, after, _, _ in changes(drive, "rule")] == ["running", "met", "not begun", "running", "met"]
    assert changes(drive, "rule")[2][2] == "raw added"
    assert len(told(drive, "met its rule")) == 2
    assert len(drive.notices("at temperature throughout")) == 1, "that it holds is told once"
