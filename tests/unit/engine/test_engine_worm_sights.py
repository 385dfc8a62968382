"""Worms that somebody saw on the lid, or dead: an alarm from the log alone, which the log ends too."""

import pytest
from engine_yard import DAY, HOUR, MIN, T0, Drive, yard

KEY = "b1/worms-unwell"


def look(drive, at, worms, **more):
    drive.work(at, "b1", "inspected", worms=worms, **more)
    return drive.engine.last


def correct(drive, of, work=None):
    drive.feed(drive.engine.last + MIN, "correction", {"of": of, "work": work, "by": "Ann"})


def priority(drive):
    return [dict(one.draft.values)["priority"] for one in drive.effects if one.draft.kind == "notice"][-1]


@pytest.mark.parametrize(
    ("worms", "said", "urgent"),
    [("dead", "Sunny bin: dead worms since", "high"), ("on the lid", "Sunny bin: worms on the lid since", "medium")],
)
def test_worms_that_suffer_are_an_alarm_at_once(worms, said, urgent):
    drive = Drive(yard())
    look(drive, T0 + 10 * MIN, worms)
    assert drive.state_of(KEY) == "unacknowledged"
    drive.advance(T0 + 12 * MIN)
    (notice,) = drive.notices(said)
    assert "Air it first" in notice.draft.text
    assert priority(drive) == urgent


@pytest.mark.parametrize("worms", ["plenty", "few"])
def test_a_look_that_finds_them_well_ends_it(worms):
    drive = Drive(yard())
    look(drive, T0 + HOUR, "dead")
    look(drive, T0 + DAY, worms)
    assert drive.state_of(KEY) in ("returned unacknowledged", "normal")


def test_a_look_that_says_nothing_of_the_worms_changes_nothing():
    drive = Drive(yard())
    look(drive, T0 + HOUR, "dead")
    drive.work(T0 + DAY, "b1", "inspected", smell="earthy")
    assert drive.state_of(KEY) == "unacknowledged"
    drive = Drive(yard())
    drive.work(T0 + DAY, "b1", "inspected", smell="ammonia", squeeze="5")
    assert KEY not in drive.engine.state.alarms


def test_worms_that_left_and_then_died_are_told_anew_as_worse():
    drive = Drive(yard())
    look(drive, T0 + HOUR, "on the lid")
    look(drive, T0 + 2 * HOUR, "dead")
    record = drive.engine.state.alarms[KEY]
    assert record.stage == 1
    assert record.since == T0 + HOUR
    assert priority(drive) == "high"


@pytest.mark.parametrize("late", [3 * HOUR, 12 * HOUR, 3 * DAY])
def test_a_look_that_is_logged_late_rings_all_the_same(late):
    drive = Drive(yard())
    drive.advance(T0 + 4 * DAY)
    drive.work(T0 + 4 * DAY - late, "b1", "inspected", worms="dead", entered=T0 + 4 * DAY + MIN)
    drive.feed(
        T0 + 4 * DAY + 2 * MIN,
        "work",
        {"kind": "inspected", "place": "b1", "time": T0 + 4 * DAY - late, "worms": "dead"},
    )
    assert drive.state_of(KEY) == "unacknowledged"
    drive.advance(T0 + 4 * DAY + 10 * MIN)
    assert drive.notices("dead worms since")


def test_a_look_out_of_an_old_log_says_nothing_of_today():
    drive = Drive(yard())
    drive.advance(T0 + 100 * DAY)
    drive.work(T0 + 80 * DAY, "b1", "inspected", worms="dead", entered=T0 + 100 * DAY + MIN)
    drive.feed(
        drive.engine.last + MIN, "work", {"kind": "inspected", "place": "b1", "time": T0 + 80 * DAY, "worms": "dead"}
    )
    assert KEY not in drive.engine.state.alarms


def test_an_alarm_that_rings_does_not_end_by_its_age():
    drive = Drive(yard())
    look(drive, T0 + HOUR, "dead")
    drive.advance(T0 + 30 * DAY)
    drive.feed(
        T0 + 30 * DAY + MIN, "work", {"kind": "inspected", "place": "b1", "time": T0 + 2 * HOUR, "worms": "dead"}
    )
    assert drive.engine.state.alarms[KEY].on


def test_an_older_look_that_is_logged_late_does_not_speak_for_today():
    drive = Drive(yard())
    look(drive, T0 + DAY, "plenty")
    drive.work(T0 + HOUR, "b1", "inspected", worms="dead", entered=T0 + 2 * DAY)
    assert KEY not in drive.engine.state.alarms or drive.state_of(KEY) == "normal"


def test_undoing_the_look_ends_the_alarm_and_undoing_the_end_brings_it_back():
    drive = Drive(yard())
    ill = look(drive, T0 + HOUR, "dead")
    well = look(drive, T0 + 2 * HOUR, "plenty")
    correct(drive, well)
    assert drive.state_of(KEY) == "unacknowledged"
    correct(drive, ill)
    assert drive.state_of(KEY) in ("returned unacknowledged", "normal")


def test_a_look_that_was_put_right_counts_as_it_is_now():
    drive = Drive(yard())
    of = look(drive, T0 + HOUR, "dead")
    correct(drive, of, {"kind": "inspected", "place": "b1", "time": T0 + HOUR, "worms": "few"})
    assert drive.state_of(KEY) in ("returned unacknowledged", "normal")


def test_an_emptied_bin_holds_no_worms_that_suffer():
    drive = Drive(yard())
    look(drive, T0 + HOUR, "dead")
    drive.work(T0 + 2 * HOUR, "b1", "emptied")
    emptied = drive.engine.last
    assert drive.state_of(KEY) in ("returned unacknowledged", "normal")
    correct(drive, emptied)
    assert drive.state_of(KEY) == "unacknowledged"


def test_other_bins_are_not_concerned():
    drive = Drive(yard())
    look(drive, T0 + HOUR, "dead")
    assert [key for key, one in drive.engine.state.alarms.items() if one.on and "worms" in key] == [KEY]
