"""Faults of the watch itself, and places that lost their last thermometer: told at once, shown, and told when over."""

import pytest
from engine_both_doors import Recorder, same
from engine_yard import DAY, HOUR, MIN, T0, Drive, bedding, core, yard

from monitor.app.loop.loop_faults import fault, fault_letter, fault_over
from monitor.engine import Engine
from monitor.model.alarm_kinds import CATALOG, FAULTS, Alarm
from monitor.model.words import Priority


def tell(drive, at, event):
    kind, payload = event
    return drive.feed(at, kind.value, payload)


@pytest.mark.parametrize("what", FAULTS)
def test_a_fault_is_told_at_once_and_told_when_it_is_over(what):
    drive = Drive(yard())
    tell(drive, T0, fault(what, "the stick is gone"))
    assert drive.rings(what) == [T0]
    assert len(drive.notices("the stick is gone")) == 1
    tell(drive, T0 + MIN, fault(what, "the stick is gone"))
    assert drive.rings(what) == [T0]
    tell(drive, T0 + 2 * MIN, fault_over(what))
    assert drive.state_of(f"/{what}") == "returned unacknowledged"
    tell(drive, T0 + 3 * MIN, fault_over(what))
    tell(drive, T0 + HOUR, fault(what, "again"))
    assert drive.rings(what) == [T0, T0 + HOUR]


def test_a_fault_that_never_was_ends_without_a_word():
    drive = Drive(yard())
    tell(drive, T0, fault_over(Alarm.BACKUP))
    assert drive.engine.state.links == {}
    assert drive.alarms("backup") == []


def test_a_fault_survives_a_restart_and_tells_its_newest_reason():
    drive = Drive(yard())
    tell(drive, T0, fault(Alarm.BACKUP, "the stick is gone"))
    drive.engine = Engine.restore(drive.engine.snapshot())
    tell(drive, T0 + MIN, fault(Alarm.BACKUP, "the stick is full"))
    assert "the stick is full" in drive.engine.words("/backup", T0 + MIN).text


def test_a_full_disk_wakes_people():
    assert CATALOG["disk"].wakes
    assert "Make room" in fault_letter(Alarm.DISK, "the disk is full", yard(), T0, T0).text


def test_a_source_may_have_the_name_of_a_fault():
    drive = Drive(yard())
    drive.feed(T0, "link", {"what": "source", "name": "disk", "up": False, "why": "no cable"})
    tell(drive, T0 + MIN, fault(Alarm.DISK, "full"))
    tell(drive, T0 + 2 * MIN, fault_over(Alarm.DISK))
    drive.advance(T0 + HOUR)
    assert drive.state_of("/link/disk") == "unacknowledged"
    assert drive.state_of("/disk") == "returned unacknowledged"


def test_a_bin_whose_only_thermometer_is_carried_away_is_told_though_its_moisture_probe_stays():
    drive = Drive(yard(probes={"b1-t": bedding("b1"), "b1-m": yard().probes["b1-m"], "p1-a": core("p1")}))
    drive.read(T0, b1_t=20)
    drive.work(T0 + HOUR, "p1", "probe in", probe="b1-t")
    assert drive.rings("unwatched") == [T0 + HOUR]
    text = drive.engine.words("b1/unwatched", T0 + HOUR).text
    assert "no thermometer has watched it since 20:00, when b1-t was taken away" in text
    drive.work(T0 + 2 * HOUR, "b1", "probe in", probe="b1-t")
    assert drive.state_of("b1/unwatched") == "returned unacknowledged"


def test_a_place_whose_probe_leaves_the_settings_is_told():
    drive = Drive(yard())
    drive.settle(T0 + HOUR, yard(probes={k: v for k, v in yard().probes.items() if k != "b2-t"}))
    assert drive.rings("unwatched", "b2") == [T0 + HOUR]
    drive.settle(T0 + 2 * HOUR, yard())
    assert drive.state_of("b2/unwatched") == "returned unacknowledged"


def test_a_place_that_never_had_a_probe_and_a_pile_that_is_emptied_are_nobodys_surprise():
    drive = Drive(yard(probes={"p1-a": core("p1")}))
    drive.work(T0 + HOUR, "p1", "moved", to="p2")
    drive.work(T0 + 2 * HOUR, "p2", "emptied")
    assert drive.rings("unwatched") == []


def test_a_bin_whose_moisture_probe_alone_is_silent_is_not_known_and_says_which():
    drive = Drive(yard(probes={"b1-t": bedding("b1"), "b1-m": yard().probes["b1-m"], "p1-a": core("p1")}))
    drive.hold(T0, T0 + HOUR, b1_t=20, b1_m=75, p1_a=40)
    drive.hold(T0 + HOUR + 10 * MIN, T0 + 3 * HOUR, b1_t=20, p1_a=40)
    words = drive.engine.watched_words(T0 + 3 * HOUR)
    assert "Sunny bin: its moisture probes have been silent since 20:00" in words
    assert [one.known for one in drive.engine.watched(T0 + 3 * HOUR) if one.place == "b1"] == [False]


def test_probes_outside_silent_never_heard_and_hand_readings_are_told_apart():
    drive = Drive(yard())
    drive.read(T0, p1_a=40, p1_b=40, b1_t=20, b1_u=20)
    drive.work(T0 + MIN, "p1", "turned")
    drive.feed(T0 + 2 * MIN, "readings", {"rows": [[T0 + MIN, "hand:b2", 20_000_000, "Cel"]], "ahead": [], "by": "Ann"})
    found = {one.place: (one.by.value, one.known, one.why, one.who) for one in drive.engine.watched(T0 + 10 * MIN)}
    assert found == {
        "p1": ("probes", False, "outside", ""),
        "p2": ("empty", True, "", ""),
        "b1": ("probes", True, "", ""),
        "b2": ("hand", True, "", "Ann"),
    }
    drive.advance(T0 + 8 * 24 * HOUR)
    later = {one.place: (one.by.value, one.known, one.why) for one in drive.engine.watched(T0 + 8 * 24 * HOUR)}
    assert later["b1"] == ("probes", False, "silent")
    assert later["b2"] == ("probes", False, "never heard")


def dead_probes(**more):
    drive = Recorder(yard(bins={}, probes={"p1-a": core("p1")}, **more))
    drive.hold(T0 + MIN, T0 + 2 * HOUR, p1_a=60)
    return drive


def priority(drive, key="p1/silent/p1-a"):
    return drive.engine.state.alarms[key].priority


def test_where_nothing_lies_a_silent_probe_is_the_probes_fault_alone():
    drive = dead_probes()
    drive.work(T0 + 2 * HOUR + MIN, "p1", "moved", to="p2", note="probes left")
    drive.advance(T0 + 5 * DAY)
    assert priority(drive) is Priority.LOW
    told = [e.draft.text for e in drive.notices("(p1-a)") if e.draft.axis != "digest"]
    assert len(told) == 1, "it is low: then it stands in the digest"
    assert "By the log nothing lies here" in told[0]
    assert "measure the pile" not in told[0]
    same(drive, T0 + 6 * DAY)


def test_a_probe_that_was_silent_before_matters_less_once_its_heap_is_gone_and_more_once_there_is_one():
    drive = dead_probes()
    drive.advance(T0 + 6 * HOUR)
    assert priority(drive) is Priority.MEDIUM
    drive.work(T0 + 6 * HOUR, "p1", "emptied")
    assert priority(drive) is Priority.LOW
    since = drive.engine.state.alarms["p1/silent/p1-a"].since
    drive.advance(T0 + 4 * DAY)
    assert not [e for e in drive.notices("measure the pile") if e.at > T0 + 6 * HOUR]
    drive.work(T0 + 4 * DAY, "p1", "built")
    assert priority(drive) is Priority.MEDIUM
    assert drive.engine.state.alarms["p1/silent/p1-a"].since == since
    drive.advance(T0 + 4 * DAY + 5 * MIN)
    assert [e for e in drive.notices("measure the pile") if e.at >= T0 + 4 * DAY], "now somebody must look"
    same(drive, T0 + 5 * DAY)


def test_an_emptying_that_is_taken_back_makes_it_matter_again():
    drive = dead_probes()
    drive.advance(T0 + 6 * HOUR)
    drive.work(T0 + 6 * HOUR, "p1", "emptied")
    of = drive.engine.last
    drive.feed(T0 + 7 * HOUR, "correction", {"of": of, "work": None, "by": "Ann"})
    assert priority(drive) is Priority.MEDIUM


def test_of_a_place_that_never_held_a_heap_nobody_knows_that_nothing_lies_there():
    drive = Recorder(yard(bins={}, probes={"p2-a": core("p2")}))
    drive.advance(T0 + DAY)
    assert priority(drive, "p2/silent/p2-a") is Priority.MEDIUM


def test_in_an_emptied_bin_too():
    drive = Recorder(yard(probes={"b1-t": bedding("b1")}))
    drive.hold(T0, T0 + HOUR, b1_t=20)
    drive.work(T0 + HOUR + MIN, "b1", "emptied")
    drive.advance(T0 + DAY)
    assert priority(drive, "b1/silent/b1-t") is Priority.LOW
    drive.work(T0 + DAY, "b1", "bedded")
    assert priority(drive, "b1/silent/b1-t") is Priority.MEDIUM


@pytest.mark.parametrize(
    ("kind", "more"), [("emptied", {}), ("built", {}), ("moved", {"to": "p2", "note": "probes left"})]
)
def test_a_probe_that_stops_in_an_emptied_place_was_hot_in_the_heap_that_is_gone(kind, more):
    drive = Recorder(yard(bins={}, probes={"p1-a": core("p1")}))
    drive.hold(T0 + MIN, T0 + 2 * HOUR, p1_a=73)
    drive.work(T0 + 2 * HOUR + MIN, "p1", kind, **more)
    drive.hold(T0 + 2 * HOUR + 5 * MIN, T0 + 2 * HOUR + 25 * MIN, p1_a=66)
    drive.advance(T0 + 10 * HOUR)
    assert drive.rings("hot-and-lost") == []
    assert drive.rings("silent")
    same(drive, T0 + 12 * HOUR)


def test_one_that_stops_while_its_heap_lies_there_is_told_as_ever():
    drive = Recorder(yard(bins={}, probes={"p1-a": core("p1")}))
    drive.hold(T0 + MIN, T0 + 2 * HOUR, p1_a=73)
    drive.advance(T0 + 10 * HOUR)
    assert drive.rings("hot-and-lost")
    same(drive, T0 + 12 * HOUR)
