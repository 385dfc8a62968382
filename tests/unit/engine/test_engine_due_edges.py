"""What falls due, at its edges: how long a handful speaks, who has seen to it, and what a heap in danger forbids."""

import pytest
from engine_yard import DAY, HOUR, MIN, T0, Drive, bedding, core, yard

from monitor.diary.due import What
from monitor.model.settings import Bin, Pile
from monitor.model.sightings import CRUMBLES, RUNS
from monitor.model.thresholds import PileThresholds
from monitor.model.units import Quantity
from monitor.model.words import Method


def dues(drive, at, place):
    return {one.what: one for one in drive.engine.due(at) if one.place == place and one.what is not What.READ}


def looked(squeeze="", place="b1", at=T0 + HOUR, kind="inspected"):
    return {"kind": kind, "place": place, "time": at} | ({"squeeze": squeeze} if squeeze else {})


def unprobed(*works):
    drive = Drive(yard(probes={}))
    for one in works:
        drive.feed(one["time"], "work", one)
    return drive


@pytest.mark.parametrize(("squeeze", "what"), [(CRUMBLES, What.WATER), (RUNS, What.BEDDING), ("3", None)])
def test_a_handful_speaks_for_a_fortnight_and_for_its_own_bin(squeeze, what):
    last = T0 + HOUR + 14 * DAY
    for at, speaks in ((T0 + 2 * HOUR, True), (last, True), (last + 1, False)):
        assert set(dues(unprobed(looked(squeeze)), at, "b1")) == ({what} if what and speaks else set())
    assert dues(unprobed(looked(squeeze)), T0 + 2 * HOUR, "b2") == {}


@pytest.mark.parametrize(
    ("squeeze", "then", "seen_to"),
    [
        (CRUMBLES, looked(kind="watered", at=T0 + 2 * HOUR), True),
        (CRUMBLES, looked(kind="watered", at=T0 + 30 * MIN), False),
        (CRUMBLES, looked(kind="watered", at=T0 + 2 * HOUR, place="b2"), False),
        (CRUMBLES, looked(kind="bedded", at=T0 + 2 * HOUR), False),
        (CRUMBLES, looked(at=T0 + 2 * HOUR), False),  # a look without a handful
        (CRUMBLES, looked("3", at=T0 + 2 * HOUR), True),
        (CRUMBLES, looked("3", at=T0 + 30 * MIN), False),  # an earlier handful, logged after
        (RUNS, looked(kind="bedded", at=T0 + 2 * HOUR), True),
        (RUNS, looked(kind="watered", at=T0 + 2 * HOUR), False),
        (RUNS, looked(kind="emptied", at=T0 + 2 * HOUR), True),
    ],
)
def test_what_a_handful_asks_for_is_due_until_somebody_has_seen_to_it(squeeze, then, seen_to):
    drive = Drive(yard(probes={}))
    drive.feed(T0 + HOUR, "work", looked(squeeze))
    drive.feed(T0 + 3 * HOUR, "work", then)
    assert (dues(drive, T0 + 4 * HOUR, "b1") == {}) is seen_to


def test_a_bin_with_a_moisture_probe_goes_by_it_and_not_by_a_handful():
    drive = Drive(yard(bins={"b1": Bin(name="Bin")}, probes={"b1-m": bedding("b1", Quantity.MOISTURE)}))
    drive.hold(T0, T0 + 2 * HOUR, b1_m=75)
    drive.feed(T0 + HOUR, "work", looked(CRUMBLES))
    assert dues(drive, T0 + 2 * HOUR, "b1") == {}


def test_once_the_moisture_probe_is_silent_the_handful_counts():
    drive = Drive(yard(bins={"b1": Bin(name="Bin")}, probes={"b1-m": bedding("b1", Quantity.MOISTURE)}))
    drive.read(T0, b1_m=75)
    drive.feed(T0 + HOUR, "work", looked(CRUMBLES))
    assert What.WATER in dues(drive, T0 + 3 * HOUR, "b1"), "though the program has not run since, to find it silent"


@pytest.mark.parametrize(("value", "what", "told"), [(55, What.WATER, "54"), (90, What.BEDDING, "91")])
def test_of_two_moisture_probes_the_one_farther_off_is_told_and_a_silent_one_says_nothing(value, what, told):
    probes = {name: bedding("b1", Quantity.MOISTURE) for name in ("b1-m", "b1-n-m")}
    drive = Drive(yard(bins={"b1": Bin(name="Bin")}, probes=probes))
    drive.read(T0, b1_m=value, b1_n_m=float(told))
    assert dues(drive, T0 + MIN, "b1")[what].why.endswith(f", {told} %")
    for at in range(T0 + 10 * MIN, T0 + 4 * HOUR, 10 * MIN):
        drive.read(at, b1_m=value)
    assert dues(drive, drive.engine.last, "b1")[what].why.endswith(f", {value} %")
    drive.advance(T0 + 9 * HOUR)
    assert dues(drive, T0 + 9 * HOUR, "b1") == {}, "nobody knows"


def heap(*probes):
    drive = Drive(
        yard(probes={"p1-a": core("p1"), **{name: core("p1", quantity=Quantity.MOISTURE) for name in probes}})
    )
    for at in (T0, T0 + 40 * MIN):
        drive.read(at, p1_a=60, **{name.replace("-", "_"): 35 for name in probes})
    return drive


@pytest.mark.parametrize(
    ("work", "due"),
    [
        (looked(place="p1", kind="watered", at=T0 + HOUR), False),
        (looked(place="p1", kind="watered", at=T0 - MIN), True),
        (looked(place="p2", kind="watered", at=T0 + HOUR), True),
        (looked(place="p1", kind="seen", at=T0 + HOUR), True),
        (looked(place="p1", kind="emptied", at=T0 + HOUR), False),
    ],
)
def test_a_dry_heap_wants_water_until_it_gets_some_or_is_gone(work, due):
    drive = heap("p1-m")
    drive.feed(T0 + HOUR, "work", work)
    assert (What.WATER in dues(drive, T0 + HOUR + MIN, "p1")) is due


def test_a_heap_is_dry_since_its_first_probe_showed_it():
    drive = heap("p1-m", "p1-n-m")
    drive.read(T0 + HOUR, p1_m=50, p1_n_m=34)
    one = dues(drive, T0 + HOUR, "p1")[What.WATER]
    assert (one.due_ms, one.why) == (T0, "it is too dry, 34 %")
    drive.advance(T0 + 30 * HOUR)
    assert What.WATER not in dues(drive, T0 + 30 * HOUR, "p1"), "its probe is silent"


def hot(celsius, hours=3, method=Method.TURNED, **more):
    rule = "us-112-54-turned" if method is Method.TURNED else "us-112-54-static"
    known = {"name": "Bay 1", "rule": rule, "method": method, "built": T0} | more
    pile = Pile(**{what: one for what, one in known.items() if one is not None})
    drive = Drive(yard(piles={"p1": pile}, bins={}, probes={"p1-a": core("p1"), "p1-b": core("p1")}))
    drive.hold(T0, T0 + hours * HOUR, p1_a=celsius, p1_b=celsius)
    return drive


def test_a_heap_that_is_hot_is_turned_only_where_it_is_turned_at_all():
    assert What.TURN in dues(hot(72), T0 + 3 * HOUR, "p1")
    assert What.TURN not in dues(hot(72, method=Method.STATIC), T0 + 3 * HOUR, "p1")
    assert What.TURN in dues(hot(60, hours=0), T0, "p1")
    assert What.TURN not in dues(hot(50), T0 + 3 * HOUR, "p1"), "it has not held yet"


def test_the_worst_alarm_that_forbids_work_stands_for_all_work_at_the_heap():
    drive = hot(78)
    drive.hold(T0 + 3 * HOUR + MIN, T0 + 5 * HOUR, p1_a=84, p1_b=78)
    (one,) = dues(drive, T0 + 5 * HOUR, "p1").values()
    assert (one.what, one.why.split(":")[0], one.due_ms) == (What.KEEP_OFF, "fire danger", T0 + 3 * HOUR + MIN)
    first = dues(hot(78), T0 + 3 * HOUR, "p1")[What.KEEP_OFF]
    assert (first.why.split(":")[0], first.due_ms) == ("too hot", T0)


def test_a_rule_that_runs_is_expected_and_one_that_is_met_is_not():
    drive = hot(60, hours=30, method=Method.STATIC)
    expected = dues(drive, T0 + 30 * HOUR, "p1")[What.EXPECT]
    assert expected.due_ms == T0 + 3 * DAY
    drive.hold(T0 + 30 * HOUR + 10 * MIN, T0 + 80 * HOUR, p1_a=60, p1_b=60)
    assert drive.run().rule.value == "met"
    assert What.EXPECT not in dues(drive, T0 + 80 * HOUR, "p1")


def test_what_was_expected_of_a_heap_that_nobody_has_heard_of_since_is_expected_no_longer():
    drive = hot(60, hours=30, method=Method.STATIC)
    assert What.EXPECT in dues(drive, T0 + 3 * DAY - 1, "p1")
    assert What.EXPECT not in dues(drive, T0 + 3 * DAY, "p1")


def test_a_cooling_heap_is_ready_when_it_has_stayed_cool_or_is_old_enough():
    quick = PileThresholds(ready_age_ms=2 * DAY, ready_dwell_ms=DAY)
    drive = hot(60, hours=4, thresholds=quick, rule=None)
    drive.hold(T0 + 4 * HOUR + 10 * MIN, T0 + 20 * HOUR, p1_a=45, p1_b=45)
    assert drive.run().walk.phase.value == "cooling"
    expected = dues(drive, T0 + 20 * HOUR, "p1")[What.EXPECT]
    assert (expected.due_ms, expected.why) == (T0 + 2 * DAY, "not ready for worms before it is 48 h old")
    drive.hold(T0 + 20 * HOUR + 10 * MIN, T0 + 40 * HOUR, p1_a=45, p1_b=45)
    assert What.EXPECT not in dues(drive, T0 + 40 * HOUR, "p1"), "its age keeps it no longer, and its heat nobody knows"
    drive.hold(T0 + 40 * HOUR + 10 * MIN, T0 + 50 * HOUR, p1_a=20, p1_b=20)
    later = dues(drive, T0 + 50 * HOUR, "p1")[What.EXPECT]
    assert later.why == "ready for worms then if it stays cool"
    assert T0 + 64 * HOUR < later.due_ms < T0 + 64 * HOUR + 10 * MIN
    assert What.TEST not in dues(drive, T0 + 50 * HOUR, "p1")


def test_a_heap_that_has_left_its_place_is_due_for_nothing():
    drive = hot(60, hours=30)
    drive.work(T0 + 30 * HOUR + MIN, "p1", "emptied")
    assert dues(drive, T0 + 31 * HOUR, "p1") == {}
