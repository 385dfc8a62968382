"""Dangerous heat, clocks and links to the degree and the millisecond: what rings, when it ends, and what asks for a look."""

from dataclasses import replace

import pytest
from engine_yard import DAY, HOUR, MIN, T0, Drive, bedding, core, yard

from monitor.model.thresholds import PileThresholds, ProbeThresholds

HOT, TOO_HOT, FIRE = 71.111, 76.667, 82.222  # °C: 160, 170, 180 °F to the thousandth
CALM = ProbeThresholds(spike_step_milli_k=200_000)


def heap(**more):
    probes = {"p1-a": core("p1"), "p1-b": core("p1"), **more}
    return Drive(yard(bins={}, piles={"p1": yard().piles["p1"]}, probes=probes, probe_thresholds=CALM))


def draft(drive, alarm):
    return [e.draft for e in drive.effects if e.draft.kind.value == "alarm" and e.draft.axis == alarm][-1]


@pytest.mark.parametrize(("alarm", "limit"), [("too-hot", TOO_HOT), ("fire", FIRE)])
def test_too_hot_and_fire_ring_at_their_limit_and_end_half_a_degree_below(alarm, limit):
    drive = heap()
    drive.read(T0, p1_a=60, p1_b=60)
    drive.read(T0 + MIN, p1_a=limit - 0.001, p1_b=60)
    assert drive.rings(alarm) == []
    drive.read(T0 + 2 * MIN, p1_a=limit, p1_b=60)
    assert drive.rings(alarm) == [T0 + 2 * MIN]
    rung = draft(drive, alarm)
    assert (rung.probe, rung.since, rung.values["value"], rung.values["limit"]) == ("p1-a", T0 + 2 * MIN, limit, limit)
    drive.read(T0 + 3 * MIN, p1_a=limit - 0.5, p1_b=60)
    assert drive.state_of(f"p1/{alarm}") == "unacknowledged"
    drive.read(T0 + 4 * MIN, p1_a=limit - 0.501, p1_b=60)
    assert drive.state_of(f"p1/{alarm}") == "returned unacknowledged"


def test_hot_rings_after_six_hours_at_its_limit_by_whichever_probe_is_hottest():
    drive = heap()
    drive.hold(T0, T0 + 3 * HOUR, p1_a=HOT, p1_b=60)
    drive.read(T0 + 3 * HOUR + 5 * MIN, p1_b=HOT + 0.5)
    drive.hold(T0 + 3 * HOUR + 10 * MIN, T0 + 6 * HOUR - MIN, p1_a=60, p1_b=HOT + 0.5)
    drive.advance(T0 + 6 * HOUR - 1)
    assert drive.rings("hot") == []
    drive.advance(T0 + 6 * HOUR)
    assert drive.rings("hot") == [T0 + 6 * HOUR]
    assert (draft(drive, "hot").since, draft(drive, "hot").probe) == (T0, "p1-b")
    drive.read(T0 + 6 * HOUR + MIN, p1_a=HOT - 0.4, p1_b=60)
    assert drive.state_of("p1/hot") == "unacknowledged"
    drive.read(T0 + 6 * HOUR + 2 * MIN, p1_a=HOT - 0.6, p1_b=60)
    assert drive.state_of("p1/hot") == "returned unacknowledged"


def test_a_heap_that_cools_below_hot_for_a_moment_begins_its_six_hours_anew():
    drive = heap()
    drive.hold(T0, T0 + 3 * HOUR, p1_a=HOT, p1_b=60)
    drive.read(T0 + 3 * HOUR + MIN, p1_a=HOT - 0.501, p1_b=60)
    drive.hold(T0 + 3 * HOUR + 10 * MIN, T0 + 9 * HOUR, p1_a=HOT, p1_b=60)
    assert drive.rings("hot") == []
    drive.hold(T0 + 9 * HOUR + 10 * MIN, T0 + 9 * HOUR + 20 * MIN, p1_a=HOT, p1_b=60)
    assert drive.rings("hot") == [T0 + 9 * HOUR + 10 * MIN]


def test_each_pile_goes_by_its_own_limits():
    own = replace(yard().piles["p1"], thresholds=PileThresholds(too_hot_milli_c=73_000, deadband_milli_k=2_000))
    drive = Drive(yard(bins={}, piles={"p1": own}, probes={"p1-a": core("p1")}, probe_thresholds=CALM))
    drive.read(T0, p1_a=73)
    assert drive.rings("too-hot") == [T0]
    drive.read(T0 + MIN, p1_a=71.1)
    assert drive.state_of("p1/too-hot") == "unacknowledged"
    drive.read(T0 + 2 * MIN, p1_a=70.9)
    assert drive.state_of("p1/too-hot") == "returned unacknowledged"


def gross(drive, at, celsius, probe="p1-a"):
    """A value that conditioning flags, since no heap is that hot."""
    drive.feed(at, "readings", {"rows": [[at, probe, celsius * 1_000_000, "Cel"]], "ahead": []})


@pytest.mark.parametrize(("before", "fire"), [(65, True), (64.9, False)])
def test_two_impossible_values_in_a_row_are_a_fire_only_where_the_heap_was_that_hot_before(before, fire):
    drive = heap()
    drive.read(T0, p1_a=before, p1_b=40)
    gross(drive, T0 + MIN, 130)
    assert drive.rings("fire") == []
    assert drive.rings("look-at-probe") == [T0 + MIN]
    assert draft(drive, "look-at-probe").values == {
        "value": 130, "limit": FIRE, "batch": drive.engine.state.batches.lying["p1"],
    }  # fmt: skip
    gross(drive, T0 + 2 * MIN, 131)
    assert drive.rings("fire") == ([T0 + 2 * MIN] if fire else [])
    assert drive.rings("look-at-probe") == [T0 + MIN], "asked for once"
    drive.read(T0 + 3 * MIN, p1_a=60, p1_b=40)
    assert drive.state_of("p1/look-at-probe/p1-a") == "returned unacknowledged"
    assert drive.state_of("p1/fire") == ("returned unacknowledged" if fire else "normal")


def test_a_good_reading_between_two_impossible_ones_breaks_their_row():
    drive = heap()
    drive.read(T0, p1_a=70, p1_b=40)
    for n in range(3):
        gross(drive, T0 + (2 * n + 1) * MIN, 130)
        drive.read(T0 + (2 * n + 2) * MIN, p1_a=70, p1_b=40)
    assert drive.rings("fire") == []
    assert len(drive.rings("look-at-probe")) == 3


def test_another_hot_probe_of_the_heap_confirms_a_fire_too():
    drive = heap()
    drive.read(T0, p1_a=40, p1_b=65)
    gross(drive, T0 + MIN, 130)
    gross(drive, T0 + 2 * MIN, 130)
    assert drive.rings("fire") == [T0 + 2 * MIN]
    assert drive.rings("too-hot") == [], "no other alarm is begun by a value that may be a broken wire"


# Readings that wait for the clock ---------------------------------------------------------------------------------------


def waiting(drive, at, *celsius, probe="p1-a"):
    hot = [[probe, round(one * 1_000_000), "Cel", T0 + 9 * DAY] for one in celsius]
    drive.feed(at, "clock", {"state": "waiting", "hot": hot})


def test_two_readings_of_fire_heat_that_wait_for_the_clock_are_a_fire():
    drive = heap()
    waiting(drive, T0, 81, FIRE)
    assert drive.rings("fire") == []
    assert drive.rings("look-at-probe") == [T0]
    waiting(drive, T0 + MIN, FIRE + 1)
    assert drive.rings("fire") == [T0 + MIN]
    assert (draft(drive, "fire").since, draft(drive, "fire").values["value"]) == (T0 + MIN, FIRE + 1)


def test_a_cooler_reading_between_breaks_their_row():
    drive = heap()
    waiting(drive, T0, FIRE, FIRE - 0.001, FIRE)
    assert drive.rings("fire") == []


@pytest.mark.parametrize(
    ("probe", "celsius"),
    [
        ("p1-a", 85),  # the value that a common digital probe sends before it has measured
        ("p1-a", 101),  # beyond everything possible
        ("p1-m", 90),  # no thermometer
        ("b1-t", 90),  # in a bin
        ("gone", 90),
    ],
)
def test_what_cannot_be_a_fire_of_a_heap_waits_in_silence(probe, celsius):
    probes = {"p1-a": core("p1"), "b1-t": bedding("b1"), "p1-m": replace(yard().probes["b1-m"], place="p1")}
    drive = Drive(yard(probes=probes))
    for n in range(3):
        waiting(drive, T0 + n * MIN, celsius, probe=probe)
    assert drive.rings("fire") == drive.rings("look-at-probe") == []


def test_the_hottest_possible_value_may_be_a_fire():
    drive = heap()
    waiting(drive, T0, 85.0625, ProbeThresholds().gross_high_milli_c / 1000)
    assert drive.rings("fire") == [T0]


@pytest.mark.parametrize("state", ["jumped", "off"])
def test_a_wrong_clock_is_told_with_how_wrong_it_is_until_it_is_confirmed(state):
    drive = heap()
    drive.feed(T0, "clock", {"state": state, "by_ms": -180_000, "off_ms": 0})
    assert drive.rings("clock") == [T0]
    assert draft(drive, "clock").values == {"by_ms": -180_000} | ({"variant": "nodes"} if state == "off" else {})
    drive.feed(T0 + MIN, "clock", {"state": "unconfirmed"})
    assert drive.state_of("/clock/") == "unacknowledged", "nobody knows yet"
    drive.feed(T0 + 2 * MIN, "clock", {"state": "confirmed"})
    assert drive.state_of("/clock/") == "returned unacknowledged"


def test_a_clock_ahead_of_the_nodes_is_told_until_the_record_has_caught_up():
    drive = heap()
    drive.feed(T0, "clock", {"state": "confirmed", "off_ms": -HOUR})
    assert drive.rings("clock") == [T0]
    assert draft(drive, "clock").values == {"by_ms": HOUR, "variant": "record"}
    drive.feed(T0 + MIN, "clock", {"state": "confirmed", "off_ms": HOUR})
    assert drive.state_of("/clock/") == "returned unacknowledged", "a clock that is behind makes nothing late"
    drive.feed(T0 + 2 * MIN, "clock", {"state": "confirmed", "off_ms": -1})
    assert drive.rings("clock") == [T0, T0 + 2 * MIN]
    drive.feed(T0 + 3 * MIN, "clock", {"state": "caught up"})
    assert drive.state_of("/clock/") == "returned unacknowledged"


def test_by_the_clock_that_is_ahead_readings_are_not_late():
    """The true time is an hour less than the computer's: a reading an hour old by its clock is fresh."""
    for off, rings in ((-HOUR, True), (0, False)):
        drive = Drive(yard(probes={"b1-t": bedding("b1")}, probe_thresholds=CALM))
        drive.read(T0, b1_t=20)
        drive.feed(T0 + 2 * HOUR, "clock", {"state": "confirmed", "off_ms": off})
        drive.read(T0 + 65 * MIN, received=T0 + 125 * MIN, b1_t=30)
        drive.advance(T0 + 150 * MIN)
        assert bool(drive.rings("overheating")) is rings


def test_a_reading_from_the_future_says_by_how_much_and_of_which_limit():
    drive = heap()
    drive.feed(T0, "readings", {"rows": [], "ahead": [["p1-a", T0 + HOUR]]})
    assert draft(drive, "clock").values["by_ms"] == HOUR
    assert draft(drive, "clock").values["limit_ms"] == ProbeThresholds().ahead_ms
    assert (draft(drive, "clock").place, draft(drive, "clock").probe) == ("p1", "p1-a")


# Links ------------------------------------------------------------------------------------------------------------------


def link(drive, at, up, why="", name="mqtt", what="source"):
    return drive.feed(at, "link", {"what": what, "name": name, "up": up, "why": why})


def test_a_link_rings_after_five_minutes_since_it_went_down_and_with_its_newest_reason():
    drive = heap()
    link(drive, T0, False, "refused")
    link(drive, T0 + 4 * MIN, False, "wrong password")
    drive.advance(T0 + 5 * MIN - 1)
    assert drive.rings("link") == []
    drive.advance(T0 + 5 * MIN)
    assert drive.rings("link") == [T0 + 5 * MIN]
    rung = draft(drive, "link")
    assert (rung.since, rung.probe, rung.place) == (T0, "mqtt", "")
    assert rung.values == {"what": "source", "name": "mqtt", "why": "wrong password"}
    link(drive, T0 + 6 * MIN, False, "no such host")
    assert drive.rings("link") == [T0 + 5 * MIN]
    assert "no such host" in drive.engine.words("/link/mqtt", T0 + 6 * MIN).text
    link(drive, T0 + 7 * MIN, True)
    assert drive.state_of("/link/mqtt") == "returned unacknowledged"
    link(drive, T0 + 8 * MIN, True, "again")
    assert drive.engine.state.links["mqtt"].why == "", "no reason is noted of a link that works"


def test_a_link_that_is_back_within_five_minutes_is_nobodys_news():
    drive = heap()
    link(drive, T0, False)
    link(drive, T0 + 4 * MIN, True)
    drive.advance(T0 + 30 * MIN)
    assert drive.alarms("link") == []
    link(drive, T0 + 31 * MIN, False)
    drive.advance(T0 + 35 * MIN)
    assert drive.alarms("link") == [], "each time counts afresh"
    drive.advance(T0 + 36 * MIN)
    assert drive.rings("link") == [T0 + 36 * MIN]


def test_a_fault_is_told_since_it_was_found_and_never_since_later():
    drive = heap()
    drive.feed(T0 + HOUR, "link", {"what": "backup", "name": "x", "up": False, "since": T0, "why": "full"})
    assert draft(drive, "backup").since == T0
    assert draft(drive, "backup").values == {"why": "full"}
    drive.feed(T0 + 2 * HOUR, "link", {"what": "disk", "name": "x", "up": False, "since": T0 + 9 * HOUR})
    assert (draft(drive, "disk").since, draft(drive, "disk").values) == (T0 + 2 * HOUR, {})
    drive.feed(T0 + 3 * HOUR, "link", {"what": "backup", "name": "x", "up": False, "since": T0 + HOUR, "why": "gone"})
    assert drive.engine.state.alarms["/backup"].since == T0, "one fault, whatever its reason by now"
