"""The alarms of a heap's course: when each begins, by which probe, with which number against which limit, and its end."""

import pytest
from engine_yard import DAY, HOUR, MIN, T0, Drive, air, core, yard

from monitor.model.thresholds import ProbeThresholds

CALM = ProbeThresholds(spike_step_milli_k=200_000)
COURSE = ("stalled", "cooled-unmet", "cold-corner", "turning-due")


def drive_of():
    probes = {name: core(name[:2]) for name in ("p1-a", "p1-b", "p2-a", "p2-b")}
    return Drive(yard(bins={}, probes={**probes, "air": air()}, probe_thresholds=CALM))


def hold(drive, first, last, a, b, pile="p1"):
    """Read the pile's two probes every hour, days counted from the building."""
    start = T0 + round(first * DAY) + MIN
    drive.hold(start, T0 + round(last * DAY), HOUR, **{f"{pile}_a": a, f"{pile}_b": b}, air=15)


def rung(drive):
    """(alarm, probe, since, value, limit, variant) of each alarm of the course as it began."""
    return [
        (d.axis, d.probe, d.since, d.values.get("value"), d.values.get("limit"), d.values.get("variant", ""))
        for d in (e.draft for e in drive.effects)
        if d.kind.value == "alarm" and d.axis in COURSE and d.after == "unacknowledged"
    ]


def test_a_heap_that_does_not_heat_up_is_told_after_three_days_by_its_hottest():
    drive = drive_of()
    hold(drive, 0, 4, 30, 32)
    assert rung(drive) == [("stalled", "p1-b", T0 + 3 * DAY, 32, 40, "")]
    hold(drive, 4, 5, 41, 39)
    assert drive.state_of("p1/stalled") == "returned unacknowledged"


def test_one_that_is_warm_but_never_hot_is_told_after_seven():
    drive = drive_of()
    hold(drive, 0, 8, 48, 50)
    assert rung(drive) == [("stalled", "p1-b", T0 + 7 * DAY, 50, 55, "no-hold")]
    hold(drive, 8, 9, 56, 50)
    assert drive.state_of("p1/stalled") == "returned unacknowledged"


def test_a_static_heap_that_cooled_before_its_rule_was_met_is_told_with_its_progress():
    drive = drive_of()
    drive.work(T0 + MIN, "p2", "built")
    hold(drive, 0.01, 2, 60, 58, "p2")
    hold(drive, 2, 3, 40, 42, "p2")
    ((alarm, probe, since, value, limit, variant),) = rung(drive)
    assert (alarm, probe, value, limit, variant) == ("cooled-unmet", "p2-b", 42, 55, "")
    assert T0 + 2.4 * DAY < since < T0 + 2.6 * DAY, "twelve hours below, outside the last reading's hour"
    values = next(e.draft.values for e in drive.effects if e.draft.axis == "cooled-unmet")
    assert (values["rule"], values["run_h"], values["needed_h"]) == ("us-112-54-static", 0, 72)
    assert 46 < values["longest_run_h"] < 48


def test_a_turned_heap_that_does_not_come_back_within_two_days_is_told_so():
    drive = drive_of()
    hold(drive, 0, 2, 60, 58)
    drive.work(T0 + 2 * DAY + MIN, "p1", "turned")
    drive.hold(T0 + 2 * DAY + 5 * MIN, T0 + 2 * DAY + 35 * MIN, 10 * MIN, p1_a=16, p1_b=16, air=15)
    hold(drive, 2.1, 5, 45, 44)
    assert rung(drive) == [("cooled-unmet", "p1-a", T0 + 4 * DAY + MIN, 45, 55, "")]
    hold(drive, 5, 5.2, 60, 60)
    assert drive.state_of("p1/cooled-unmet") == "returned unacknowledged"


def test_a_cold_corner_names_the_coldest_and_the_hottest_beside_it():
    drive = drive_of()
    hold(drive, 0, 2, 60, 58)
    hold(drive, 2, 4, 60, 50)
    ((alarm, probe, since, value, limit, _),) = rung(drive)
    assert (alarm, probe, value, limit) == ("cold-corner", "p1-b", 50, 55)
    assert T0 + 2.95 * DAY < since < T0 + 3 * DAY + HOUR
    assert [e.draft.values["other"] for e in drive.effects if e.draft.axis == "cold-corner"] == [60]
    hold(drive, 4, 4.1, 60, 56)
    assert drive.state_of("p1/cold-corner") == "returned unacknowledged"


def test_a_turning_is_due_after_three_days_and_told_with_the_coldest():
    drive = drive_of()
    hold(drive, 0, 5, 60, 58)
    assert rung(drive) == [("turning-due", "p1-b", T0 + 3 * DAY + MIN, 58, 55, "")]
    values = next(e.draft.values for e in drive.effects if e.draft.axis == "turning-due")
    wanted = {
        "rule": "us-112-54-turned",
        "days": 3,
        "days_needed": 15,
        "turnings": 0,
        "turnings_needed": 5,
        "turnings_logged": 0,
    }
    assert {name: values[name] for name in wanted} == wanted
    drive.work(T0 + 5 * DAY + MIN, "p1", "turned")
    assert drive.state_of("p1/turning-due") == "returned unacknowledged"


def test_a_heap_that_went_cold_is_told_with_the_hottest_and_anew_where_its_turning_was_due():
    drive = drive_of()
    hold(drive, 0, 2, 60, 58)
    hold(drive, 2, 3, 50, 48)
    ((alarm, probe, since, value, limit, variant),) = rung(drive)
    assert (alarm, probe, value, limit, variant) == ("turning-due", "p1-a", 50, 55, "cooled")
    assert T0 + 2.45 * DAY < since < T0 + 2.55 * DAY
    due = drive_of()
    hold(due, 0, 4, 60, 58)
    hold(due, 4, 5, 50, 48)
    assert [round((at - T0) / DAY, 1) for at in due.rings("turning-due")] == [3.0, 4.5]
    told = [e.draft.text for e in due.notices("gone cold before its rule was met") if e.draft.axis != "digest"]
    assert told, "its words are others now"


@pytest.mark.parametrize(("note", "due"), [("", True), ("not a turning", False)])
def test_a_move_counts_as_the_turning_that_was_due_unless_its_note_says_otherwise(note, due):
    drive = drive_of()
    hold(drive, 0, 4, 60, 58)
    drive.work(T0 + 4 * DAY + MIN, "p1", "moved", to="p2", note=note)
    assert drive.state_of("p1/turning-due") == "returned unacknowledged"
    on = drive.engine.state.alarms.get("p2/turning-due")
    assert (on is None or not on.on) is due
