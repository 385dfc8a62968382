"""What a heap's walk lets people hear: which number an alarm tells, what is told once, and what a rework may tell."""

from dataclasses import replace

import pytest
from engine_yard import DAY, HOUR, MIN, T0, Drive, air, bedding, core, yard

from monitor.engine.asking.foreseen import foreseen, foreseen_of
from monitor.engine.batches.batch_effects import FRESH_MS, after_rework, refresh_latent, tell_walk
from monitor.engine.output.alarm_notices import settle
from monitor.model.alarm_kinds import Alarm
from monitor.model.progress import RuleProgress
from monitor.model.settings import Bin, Pile
from monitor.model.words import Method, Phase, RuleState
from monitor.model.work import Work, WorkKind
from monitor.piles import COLDEST, ON, ChangeKind, OutingState, Reason, WalkChange

NOW = T0 + 4 * DAY
PROBES = {"p1-a": core("p1"), "p1-b": core("p1"), "p2-a": core("p2"), "b1-t": bedding("b1"), "air": air()}


@pytest.fixture
def drive():
    piles = {
        "p1": Pile(name="Bay 1", rule="us-112-54-turned", method=Method.TURNED, built=T0),
        "p2": Pile(name="Bay 2", rule="none", method=Method.STATIC),
    }
    made = Drive(yard(piles=piles, bins={"b1": Bin(name="Sunny bin")}, probes=PROBES))
    made.hold(T0 + MIN, NOW, HOUR, p1_a=60, p1_b=57, b1_t=20, air=10)
    made.engine.core.at = NOW
    made.effects.clear()
    return made


@pytest.fixture
def of(drive):
    return drive.engine.core


@pytest.fixture
def run(of):
    found = of.run_at("p1")
    for known in (found.tellings, found.walk.alarms, of.state.alarms):
        known.clear()
    return found


def progress_of(state, since):
    return RuleProgress(state=state, since=since, look_again=None, values={}, wants_turnings=False)


def change(kind, axis, after, reason, **more):
    known = {"before": None, "since": NOW - HOUR, "probe": "p1-b", "coldest_milli": 41_000, "hottest_milli": 52_000}
    return WalkChange(kind=kind, axis=axis, after=after, reason=reason, **known | more)


def alarm(axis, reason, after=ON, **more):
    return change(ChangeKind.ALARM, axis, after, reason, **more)


def drafts(of):
    settle(of)
    found, of.effects = of.effects, []
    return [one.draft for one in found]


def notices(of):
    return told_in(drafts(of))


def told_in(found):
    return [one.values.get("alarm") for one in found if one.kind.value == "notice" and one.axis != "digest"]


# Alarms ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("axis", "reason", "value", "limit", "variant", "stage"),
    [
        (Alarm.STALLED, Reason.NEVER_WARM, 52_000, 40_000, "", 0),
        (Alarm.STALLED, Reason.NEVER_HOT, 52_000, 55_000, "no-hold", 0),
        (Alarm.COLD_CORNER, Reason.CORNER, 41_000, 55_000, "", 0),
        (Alarm.TURNING_DUE, Reason.EVERY_FEW_DAYS, 41_000, 55_000, "", 0),
        (Alarm.TURNING_DUE, Reason.BELOW, 52_000, 55_000, "cooled", 1),
        (Alarm.TURNING_DUE, Reason.NOT_BACK, 52_000, 55_000, "cooled", 1),
        (Alarm.COOLED_UNMET, Reason.COOLED_UNMET, 52_000, 55_000, "", 0),
    ],
)
def test_each_alarm_of_a_heap_rings_with_the_number_that_decided_it(
    of, run, axis, reason, value, limit, variant, stage
):
    tell_walk(of, run, [alarm(axis, reason)])
    record = of.state.alarms[f"p1/{axis}"]
    values = record.values
    assert (values.value_milli, values.limit_milli, values.variant, record.stage) == (value, limit, variant, stage)
    assert (record.since, record.last, record.probe) == (NOW - HOUR, run.walk.now, "p1-b")
    of_rule = axis in (Alarm.TURNING_DUE, Alarm.COOLED_UNMET)
    assert values.rule == (run.rule_id if of_rule else "")
    assert bool(values.progress) is of_rule
    assert values.hottest_of_heap_milli == (52_000 if axis == Alarm.COLD_CORNER else None)
    tell_walk(of, run, [alarm(axis, Reason.OVER, "off")])
    assert not of.state.alarms[f"p1/{axis}"].on


def test_an_alarm_without_a_number_has_no_limit_and_one_of_a_pile_that_is_gone_rings_nowhere(of, run):
    tell_walk(of, run, [alarm(Alarm.STALLED, Reason.NEVER_WARM, hottest_milli=None)])
    assert of.state.alarms["p1/stalled"].values.limit_milli is None
    del of.state.settings.piles["p1"]
    tell_walk(of, run, [alarm(Alarm.COLD_CORNER, Reason.CORNER)])
    assert "p1/cold-corner" not in of.state.alarms


def test_a_round_is_told_as_the_spot_that_people_know(of, run):
    tell_walk(of, run, [alarm(Alarm.STALLED, Reason.NEVER_WARM, probe=COLDEST)])
    assert of.state.alarms["p1/stalled"].probe == "hand:p1"
    tell_walk(of, run, [change(ChangeKind.PHASE, "phase", "cooling", Reason.COOLED, probe=COLDEST, before="holding")])
    (draft,) = [one for one in drafts(of) if one.kind.value == "phase"]
    assert draft.why == "Bay 1 is cooling: its hottest spot stayed below the hold temperature."


def test_an_alarm_that_was_too_old_to_ring_rings_once_the_record_has_come_up(of, run):
    tell_walk(of, run, [alarm(Alarm.STALLED, Reason.NEVER_WARM)])
    record = of.state.alarms["p1/stalled"]
    run.walk.alarms[Alarm.STALLED] = NOW - HOUR
    drafts(of)
    refresh_latent(of, run)
    assert of.touched == []
    record.latent = True
    refresh_latent(of, run)
    assert of.touched == ["p1/stalled"]


# Notices ---------------------------------------------------------------------------------------------------------


def phase(after, reason=Reason.HELD, before="heating", **more):
    return change(ChangeKind.PHASE, "phase", after, reason, before=before, **more)


def test_each_phase_is_recorded_and_holding_is_told_once(of, run):
    tell_walk(of, run, [phase("holding")])
    (draft,) = [one for one in drafts(of) if one.kind.value == "phase"]
    assert (draft.before, draft.after, draft.since, draft.reason) == ("heating", "holding", NOW - HOUR, "held")
    assert draft.values["coldest_c"] == 41
    assert run.tellings == ["holding"]
    tell_walk(of, run, [phase("holding")])
    assert run.tellings == ["holding"]


@pytest.mark.parametrize(
    ("told", "notice"),
    [
        (phase("ready for worms", Reason.COOL_ENOUGH, "cooling"), "ready"),
        (change(ChangeKind.REHEATING, "reheating", "", Reason.REHEATED), "reheating"),
        (change(ChangeKind.SUGGESTED, "suggested turning", "", Reason.LIKE_TURNED), "suggested-turning"),
    ],
)
def test_ready_for_worms_reheating_and_a_turning_that_nobody_logged_are_told(of, run, told, notice):
    tell_walk(of, run, [told])
    assert notices(of) == [notice]


def test_a_suggested_turning_mutes_for_as_long_as_a_heap_may_recover(of, run):
    tell_walk(of, run, [alarm(Alarm.TURNING_DUE, Reason.EVERY_FEW_DAYS)])
    drafts(of)
    mute = of.thresholds_of(run).suggested_mute_ms
    gone = change(ChangeKind.SUGGESTED, "suggested turning", "", Reason.LIKE_TURNED, since=NOW - mute)
    tell_walk(of, run, [gone])
    assert of.state.alarms["p1/turning-due"].muted_until is None
    tell_walk(of, run, [replace(gone, since=NOW - mute + 1)])
    assert of.state.alarms["p1/turning-due"].muted_until == NOW + 1


def test_news_of_long_ago_is_a_line_of_the_digest(of, run):
    ready = [phase("ready for worms", Reason.COOL_ENOUGH, "cooling")]
    run.walk.now = NOW - FRESH_MS + 1
    tell_walk(of, run, ready)
    assert notices(of) == ["ready"]
    run.walk.now = NOW - FRESH_MS
    tell_walk(of, run, ready)
    assert notices(of) == []
    assert any("cool enough for worms" in line.text for line in of.state.desk.lines)


def test_an_import_tells_nothing(of, run):
    of.quiet = True
    tell_walk(of, run, [phase("ready for worms", Reason.COOL_ENOUGH, "cooling")])
    assert notices(of) == []


def rule(after, **more):
    return change(ChangeKind.RULE, "rule", after, Reason.RULE, before="running", **more)


def test_a_met_rule_is_told_once_until_it_is_void(of, run):
    tell_walk(of, run, [rule("met")])
    found = drafts(of)
    assert [one.after for one in found if one.kind.value == "rule"] == ["met"]
    assert told_in(found) == ["rule-met"]
    assert (run.rule, run.tellings) == (RuleState.MET, ["rule-met"])
    tell_walk(of, run, [rule("met")])
    assert "rule-met" not in notices(of)
    tell_walk(of, run, [rule("not begun")])
    assert run.tellings == []


# After a rework --------------------------------------------------------------------------------------------------


def test_what_is_later_than_what_was_told_is_told_as_ever(of, run):
    told = phase("holding", since=NOW - DAY)
    later = phase("cooling", Reason.COOLED, "holding", since=NOW - HOUR)
    after_rework(of, run, [told, later], Phase.HOLDING, NOW - 2 * HOUR)
    found = [(one.before, one.after, one.reason) for one in drafts(of) if one.kind.value == "phase"]
    assert found == [("holding", "cooling", "cooled")]
    after_rework(of, run, [told, later], Phase.HOLDING, NOW - HOUR)
    found = [(one.before, one.after, one.reason) for one in drafts(of) if one.kind.value == "phase"]
    assert found == [("holding", "cooling", "record changed")], "it should have been known"


def test_where_the_record_ends_as_it_was_told_nothing_is_said(of, run):
    after_rework(of, run, [phase("cooling", since=NOW - DAY), phase("holding", since=NOW)], Phase.HOLDING, NOW - HOUR)
    assert [one for one in drafts(of) if one.kind.value == "phase"] == []
    after_rework(of, run, [], None, NOW)
    assert [one for one in drafts(of) if one.kind.value == "phase"] == []


def test_one_change_tells_of_ready_and_marks_holding_as_told(of, run):
    after_rework(of, run, [phase("ready for worms", Reason.COOL_ENOUGH)], Phase.HEATING, NOW)
    found = drafts(of)
    assert [one.reason for one in found if one.kind.value == "phase"] == ["record changed"]
    assert told_in(found) == ["ready"]
    after_rework(of, run, [phase("holding")], None, NOW)
    assert [one.reason for one in drafts(of) if one.kind.value == "phase"] == ["built"]
    assert run.tellings == ["holding"]


@pytest.mark.parametrize(
    ("progress", "before", "after", "reason"),
    [
        (None, RuleState.RUNNING, "not begun", "record changed"),
        (None, RuleState.NOT_BEGUN, None, None),
        (progress_of(RuleState.RUNNING, NOW - HOUR), RuleState.RUNNING, None, None),
        (progress_of(RuleState.RUNNING, NOW - HOUR), RuleState.NOT_BEGUN, "running", "record changed"),
        (progress_of(RuleState.RUNNING, NOW), RuleState.NOT_BEGUN, "running", "rule progress"),
        (progress_of(RuleState.NOT_BEGUN, T0 + 7), RuleState.MET, "not begun", "raw added"),
        (progress_of(RuleState.NOT_BEGUN, T0 + 8), RuleState.MET, "not begun", "record changed"),
    ],
)
def test_a_rule_whose_state_is_another_by_the_new_record_is_told(of, run, progress, before, after, reason):
    run.rule, run.walk.raw_at, run.walk.void_at, run.walk.void_told = before, T0 + 7, None, False
    run.walk.progress = progress
    after_rework(of, run, [], Phase.HOLDING, NOW - HOUR)
    found = [(one.before, one.after, one.reason) for one in drafts(of) if one.kind.value == "rule"]
    assert found == ([] if after is None else [(before.value, after, reason)])


def test_a_rule_that_is_met_by_the_new_record_is_told_but_not_of_an_import(of, run):
    run.walk.void_told, run.walk.progress = False, progress_of(RuleState.MET, NOW)
    run.rule = RuleState.RUNNING
    of.quiet = True
    after_rework(of, run, [], Phase.HOLDING, NOW - HOUR)
    assert notices(of) == []
    of.quiet, run.rule = False, RuleState.RUNNING
    after_rework(of, run, [], Phase.HOLDING, NOW - HOUR)
    assert notices(of) == ["rule-met"]


# What an entry would change --------------------------------------------------------------------------------------


def said(of, kind, place="p1", at=NOW, **more):
    return foreseen_of(of, Work(time=at, place=place, kind=WorkKind(kind), **more), NOW)


def test_what_an_entry_about_a_heap_would_change(of):
    assert said(of, "built") == "The heap that lies here ends after 3 days of its rule, and another begins."
    assert said(of, "built", at=T0) == "", "it says what is so"
    assert said(of, "emptied") == "The heap ends after 3 days of its rule."
    assert said(of, "moved", to="p2").startswith(
        "The heap goes with 3 days of its rule and its probes p1-a and p1-b; that counts"
    )
    assert said(of, "split", to="p2") == "A part goes with 3 days of its rule; the rest stays as it is."
    assert said(of, "merged") == (
        "The heap ends, and the one that takes it in becomes raw again unless both have met the same rule."
    )
    assert said(of, "built", "p2") == "A heap begins.", "it has no rule"
    assert said(of, "added", "p2", what="leaves") == "A heap begins with it."
    assert said(of, "turned", "b1") == said(of, "turned", "nowhere") == ""


def test_raw_material_would_cost_the_progress(of, run):
    assert said(of, "added") == "By raw material it becomes raw again and loses 3 days."
    assert said(of, "added", what="manure") == "It becomes raw again and loses 3 days."
    run.rule = RuleState.MET
    assert said(of, "added").endswith("; what has met the same rule changes nothing.")


def test_a_probe_that_is_carried_counts_where_it_lies(of):
    assert said(of, "probe out", probe="p1-a") == "Readings of p1-a count for nothing until it is put in again."
    assert said(of, "probe in", "p2", probe="p1-a") == (
        "From then on readings of p1-a count for Bay 2, and no longer for Bay 1."
    )
    assert said(of, "probe in", probe="p1-a") == "From then on readings of p1-a count for Bay 1."
    assert said(of, "probe in", probe="no such") == ""


def test_only_kinds_that_change_something_are_foreseen(of):
    found = foreseen(of, "p1", NOW)
    assert WorkKind.EMPTIED in found
    assert WorkKind.NOTE not in found
    assert foreseen(of, "nowhere", NOW) == {}
    of.state.outings["p1-a"] = OutingState(out=NOW)
    assert foreseen(of, "p1", NOW) == found, "asking goes by the log"
