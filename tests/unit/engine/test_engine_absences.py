"""Absences in the record: others are told meanwhile, an entry taken back brings people back, and junk changes nothing."""

import pytest
from engine_yard import DAY, HOUR, MIN, T0, Drive, yard

from monitor.engine import Engine
from monitor.model.settings import Contact
from monitor.model.times import show_time

QUIET = {"quiet_start_minute": 0, "quiet_end_minute": 0, "channels": ("wire",)}
CONTACTS = {"ann": Contact(name="Ann", **QUIET), "ben": Contact(name="Ben", order=2, **QUIET)}


def absent(contact="ann", start=T0, end=T0 + DAY, **more):
    said = {"contact": contact, "start": show_time(start), "end": show_time(end)}
    return {"time": T0, "place": "yard", "kind": "away"} | said | more


def drive_with(*events):
    drive = Drive(yard(contacts=CONTACTS))
    for at, kind, payload in events:
        drive.feed(at, kind, payload)
    return drive


def called(drive):
    """Return who hears of a fault that comes now."""
    drive.feed(drive.engine.last + MIN, "link", {"what": "source", "name": "shed", "up": False, "why": "no cable"})
    drive.advance(drive.engine.last + 15 * MIN)
    return {effect.draft.after for effect in drive.notices("no cable")}


def test_the_deputy_is_called_while_the_first_is_away():
    assert called(drive_with()) == {"ann"}
    assert called(drive_with((T0, "work", absent()))) == {"ben"}
    assert called(drive_with((T0, "work", absent(end=T0 + MIN)), (T0 + HOUR, "work", absent("ben")))) == {"ann"}


def test_it_survives_a_restart():
    drive = drive_with((T0, "work", absent()))
    drive.engine = Engine.restore(drive.engine.snapshot())
    assert called(drive) == {"ben"}


def test_taken_back_or_put_right_people_are_back():
    back = drive_with((T0, "work", absent()), (T0 + MIN, "correction", {"of": T0, "work": None, "by": ""}))
    assert back.engine.state.desk.absences == []
    assert called(back) == {"ann"}
    right = absent("ben", time=T0)
    other = drive_with((T0, "work", absent()), (T0 + MIN, "correction", {"of": T0, "work": right, "by": ""}))
    assert [one.contact for one in other.engine.state.desk.absences] == ["ben"]
    assert called(other) == {"ann"}
    other.feed(T0 + 2 * HOUR, "correction", {"of": T0, "work": None, "by": ""})
    assert other.engine.state.desk.absences == []


def test_it_comes_with_a_file_too_each_row_by_itself():
    drive = drive_with((T0, "imported", {"work": [absent(), absent("ben")], "rows": []}))
    drive.feed(T0 + MIN, "correction", {"of": T0, "row": 1, "work": None, "by": ""})
    assert [one.contact for one in drive.engine.state.desk.absences] == ["ann"]


@pytest.mark.parametrize(
    "junk", [{"start": ""}, {"end": "soon"}, {"end": show_time(T0 - DAY)}, {"contact": ""}, {"contact": "stranger"}]
)
def test_what_means_nothing_sends_nobody_away(junk):
    assert called(drive_with((T0, "work", absent() | junk))) == {"ann"}


def test_before_you_go_says_who_is_away_and_when_nobody_is_left():
    drive = drive_with((T0, "work", absent()), (T0 + MIN, "work", absent("ben", T0 + 2 * HOUR, T0 + 3 * HOUR)))
    told = drive.engine.before_you_go(T0 + HOUR)
    assert "Away: Ann until " in told
    assert "Nobody is on duty from 21:00 to 22:00; Ann would be told all the same." in told
    assert drive.engine.nobody_on_duty(T0 + HOUR, T0 + 4 * HOUR, T0 + DAY) == []
