"""Things that fall due by the engine's memory: which heap is shut, what a turning waits for, how far ahead a rule is seen."""

from types import SimpleNamespace

import pytest
from engine_yard import DAY, HOUR, MIN, T0, Drive, air, core, yard

from monitor.alarms import AlarmRecord
from monitor.diary.due import What
from monitor.engine.context.state import Logged
from monitor.engine.output import falling_due as module
from monitor.engine.output.falling_due import _ahead, _shut, _turning, falling_due, told_by_alarm, waiting_for_turnings
from monitor.engine.output.summaries import soon_due
from monitor.model.alarm_kinds import Alarm
from monitor.model.progress import RuleProgress
from monitor.model.settings import Pile
from monitor.model.words import Method, Phase, RuleState
from monitor.model.work import Work, WorkKind

NOW = T0 + 4 * DAY
PILES = {
    "p1": Pile(name="Bay 1", rule="us-112-54-turned", method=Method.TURNED, built=T0),
    "p2": Pile(name="Bay 2", rule="us-112-54-static", method=Method.STATIC),
}


@pytest.fixture
def of():
    made = Drive(yard(piles=PILES, bins={}, probes={"p1-a": core("p1"), "air": air()}))
    made.hold(T0 + MIN, NOW, HOUR, p1_a=60, air=10)
    made.engine.core.at = NOW
    made.engine.core.state.alarms.clear()
    made.engine.core.run_at("p1").walk.alarms.clear()
    return made.engine.core


@pytest.fixture
def run(of):
    return of.run_at("p1")


def progress(**more):
    known = {
        "state": RuleState.RUNNING, "since": T0, "look_again": None, "values": {}, "wants_turnings": True, "turnings_left": 3,
        "days_left": 9, "turnings_apart_ms": 2 * DAY,
    }  # fmt: skip
    return RuleProgress(**known | more)


def alarm(of, alarm, place="p1", on=True, since=T0):
    of.state.alarms[f"{place}/{alarm}"] = AlarmRecord(place, alarm, on=on, since=since)


# Shut ------------------------------------------------------------------------------------------------------------


def test_a_heap_that_may_burn_is_shut_and_nothing_else_is_due_there(of):
    assert _shut(of) == {}
    alarm(of, Alarm.TOO_HOT, since=T0 + 1)
    alarm(of, Alarm.FIRE, since=T0 + 9)
    alarm(of, Alarm.FIRE, "gone")
    (due,) = falling_due(of, NOW)
    assert due.forbids
    assert due.due_ms == T0 + 9, "a fire before all else, however late it began"
    of.state.alarms["p1/fire"].on = False
    assert _shut(of)["p1"].due_ms == T0 + 1
    of.state.alarms["p1/too-hot"].on = False
    assert _shut(of) == {}
    assert not any(one.forbids for one in falling_due(of, NOW))


def test_of_two_alarms_that_shut_a_heap_the_older_is_told(of):
    alarm(of, Alarm.TOO_HOT, since=T0 + 5)
    alarm(of, Alarm.HOT_AND_LOST, since=T0 + 3)
    assert _shut(of)["p1"].due_ms == T0 + (3 if Alarm.HOT_AND_LOST in module.SHUT else 5)


@pytest.mark.parametrize(
    ("what", "asked"),
    [
        (What.TURN, Alarm.TURNING_DUE),
        (What.TURN, Alarm.HOT),
        (What.READ, Alarm.ROUND_DUE),
        (What.WATER, Alarm.TOO_DRY),
        (What.BEDDING, Alarm.TOO_WET),
    ],
)
def test_what_an_alarm_asks_for_is_not_told_twice(of, what, asked):
    one = SimpleNamespace(what=what, place="p1", forbids=False)
    assert not told_by_alarm(of, one)
    alarm(of, asked, on=False)
    assert not told_by_alarm(of, one)
    alarm(of, asked, "p2")
    assert not told_by_alarm(of, one)
    alarm(of, asked)
    assert told_by_alarm(of, one)
    assert told_by_alarm(of, SimpleNamespace(what=What.TEST, place="p9", forbids=True)), "nobody should go there"


# Turnings --------------------------------------------------------------------------------------------------------


def test_a_heap_waits_for_turnings_unless_its_rule_wants_none(of, run):
    assert waiting_for_turnings(of) == ["p1"]
    run.walk.progress = progress(wants_turnings=False)
    assert waiting_for_turnings(of) == []
    run.walk.progress = None
    assert waiting_for_turnings(of) == ["p1"]
    run.method = Method.STATIC
    assert waiting_for_turnings(of) == []


def test_a_turning_is_due_for_heat_for_cold_or_for_the_rule(of, run):
    assert _turning(of, run, "p1", NOW, progress()).what is What.TURN
    run.walk.alarms[Alarm.TURNING_DUE] = T0 + 7
    run.walk.gone_cold = True
    assert _turning(of, run, "p1", NOW, None).due_ms == T0 + 7
    alarm(of, Alarm.HOT, since=T0 + 5)
    assert _turning(of, run, "p1", NOW, None).due_ms == T0 + 5, "heat cannot wait"
    of.state.alarms["p1/hot"].on = False
    run.walk.gone_cold = False
    assert _turning(of, run, "p1", NOW, None) is None
    assert _turning(of, run, "p1", NOW, progress(wants_turnings=False)) is None
    run.walk.first_hold = None
    assert _turning(of, run, "p1", NOW, progress()) is None
    run.method = Method.STATIC
    assert _turning(of, run, "p1", NOW, progress()) is None


def test_a_turning_counts_from_the_last_one_or_from_the_first_hold(of, run, monkeypatch):
    asked = []
    monkeypatch.setattr(module, "turn_due", lambda wanted, at: asked.append(wanted))
    run.walk.first_hold, run.walk.turned_at = T0 + 5, None
    _turning(of, run, "p1", NOW, progress())
    run.walk.turned_at = T0 + 3
    _turning(of, run, "p1", NOW, progress())
    run.walk.turned_at = T0 + 9
    _turning(of, run, "p1", NOW, progress())
    assert [one.last for one in asked] == [T0 + 5, T0 + 5, T0 + 9]
    assert (asked[0].turnings, asked[0].days, asked[0].apart_ms) == (3, 9, 2 * DAY)


# The course ahead ------------------------------------------------------------------------------------------------


def test_a_rule_is_seen_ahead_with_all_turnings_that_it_wants(run):
    turning = SimpleNamespace(due_ms=NOW + HOUR)
    look = (NOW, 26 * HOUR)
    assert _ahead(run, "p1", progress(), turning, look).turning_ms == NOW + HOUR + 2 * 2 * DAY
    assert _ahead(run, "p1", progress(), SimpleNamespace(due_ms=T0), look).turning_ms == NOW + 4 * DAY, "not before now"
    assert _ahead(run, "p1", progress(turnings_apart_ms=0), turning, look).turning_ms == NOW + HOUR + 2 * DAY, (
        "a day apart"
    )
    assert _ahead(run, "p1", progress(turnings_left=1), turning, look).turning_ms == NOW + HOUR
    assert _ahead(run, "p1", progress(), None, look).turning_ms is None
    assert _ahead(run, "p1", progress(wants_turnings=False), turning, look).turning_ms is None


def test_what_nobody_measured_for_longer_than_a_round_proves_no_day(run):
    gap = 26 * HOUR
    run.walk.now = NOW - gap
    assert _ahead(run, "p1", progress(), None, (NOW, gap)).known_ms == NOW - gap
    run.walk.now = NOW - gap - 1
    assert _ahead(run, "p1", progress(), None, (NOW, gap)).known_ms == NOW


def test_what_is_done_is_said_out_of_what_is_needed(run):
    values = {"days": 4, "days_needed": 15, "turnings": 9, "turnings_needed": 5, "longest_run_h": 7}
    assert _ahead(run, "p1", progress(values=values), None, (NOW, HOUR)).done == "4 of 15 days, 5 of 5 turnings"


def kinds(of, run, at=NOW):
    return {one.what for one in module._heap(of, run, "p1", at)}


def test_a_heap_that_is_ready_waits_to_be_tried_and_one_that_cools_for_its_day(of, run, monkeypatch):
    found = []
    monkeypatch.setattr(module, "after_ready", lambda place, batch, since, tried: found.append((since, tried)) or [])
    monkeypatch.setattr(module, "ready_from", lambda walk, limits: NOW - DAY)
    run.walk.phase = Phase.READY
    assert run.walk.shown_phase is Phase.READY
    kinds(of, run)
    for at in (NOW - DAY - 1, NOW - DAY):
        of.state.works.append(Logged(at, Work(time=at, place="p1", kind=WorkKind.SAMPLED)))
        kinds(of, run)
    assert found == [(NOW - DAY, False), (NOW - DAY, False), (NOW - DAY, True)]


@pytest.mark.parametrize(("since", "expected"), [(NOW + 1, True), (NOW, False)])
def test_a_heap_that_cools_is_expected_to_be_ready_later_and_never_now(of, run, monkeypatch, since, expected):
    monkeypatch.setattr(module, "ready_from", lambda walk, limits: since)
    told = []
    monkeypatch.setattr(module, "ready_expected", lambda *what: told.append(what[2]) or SimpleNamespace(what="x"))
    run.walk.phase = Phase.COOLING
    kinds(of, run)
    assert told == ([since] if expected else [])


def test_a_heap_of_less_than_four_weeks_is_expected_by_its_age(of, run, monkeypatch):
    monkeypatch.setattr(module, "ready_from", lambda walk, limits: None)
    told = []
    monkeypatch.setattr(module, "ready_expected", lambda *what: told.append(what[2]) or SimpleNamespace(what="x"))
    limits = of.thresholds_of(run)
    run.walk.phase, run.walk.raw_at = Phase.COOLING, T0 + DAY
    last = T0 + DAY + limits.ready_age_ms - limits.ready_dwell_ms
    kinds(of, run, last - 1)
    kinds(of, run, last)
    assert told == [T0 + DAY + limits.ready_age_ms]
    run.walk.raw_at = None
    kinds(of, run)
    assert told[-1] == T0 + limits.ready_age_ms


def test_a_digest_leaves_out_what_an_alarm_tells_and_what_is_only_expected(of, monkeypatch):
    one = SimpleNamespace(
        what=What.TURN, place="p1", forbids=False, expected=False, due_ms=NOW, id="x", slack_ms=lambda at: 0
    )
    monkeypatch.setattr("monitor.engine.output.summaries.falling_due", lambda core, at: [one])
    monkeypatch.setattr("monitor.engine.output.summaries.short_words", lambda due, at: "turn it")
    assert [line.words for line in soon_due(of, NOW).lines] == ["turn it"]
    one.expected = True
    assert soon_due(of, NOW).lines == ()
    one.expected = False
    alarm(of, Alarm.TURNING_DUE)
    assert soon_due(of, NOW).lines == ()
