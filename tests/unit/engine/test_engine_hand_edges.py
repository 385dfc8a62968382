"""Readings by hand to the minute: how late one still rings, how long it is held, and when it and a probe differ."""

import pytest
from engine_yard import DAY, HOUR, MIN, T0, Drive, bedding, core, yard

from monitor.model.thresholds import BinThresholds, PileThresholds, ProbeThresholds
from monitor.model.units import Quantity

CALM = ProbeThresholds(spike_step_milli_k=200_000)
LATE = CALM.hand_late_ms


def drive_of(probes=None):
    return Drive(yard(probes=probes or {}, probe_thresholds=CALM))


def read(drive, at, place, celsius, spot="", entered=None, by="Ann"):
    series = f"hand:{place}:{spot}" if spot else f"hand:{place}"
    row = [at, series, round(celsius * 1_000_000), "Cel"]
    return drive.feed(at if entered is None else entered, "readings", {"rows": [row], "ahead": [], "by": by})


def told_late(drive):
    return drive.notices("was read by hand")


# How late ---------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("place", "celsius", "alarm"), [("p1", 85, "fire"), ("b1", 36, "worms-in-danger")])
@pytest.mark.parametrize(("late", "rings"), [(LATE, True), (LATE + 1, False)])
def test_a_reading_by_hand_rings_up_to_twelve_hours_late_and_is_told_of_after(place, celsius, alarm, late, rings):
    drive = drive_of()
    read(drive, T0, place, celsius, entered=T0 + late)
    assert bool(drive.rings(alarm)) is rings
    assert len(told_late(drive)) == (0 if rings else 1)


@pytest.mark.parametrize(
    ("place", "celsius", "told"),
    [
        ("p1", PileThresholds().fire_milli_c / 1000, True),
        ("p1", PileThresholds().fire_milli_c / 1000 - 0.001, False),
        ("b1", BinThresholds().danger_any_milli_c / 1000, False),
        ("b1", BinThresholds().danger_any_milli_c / 1000 + 0.001, True),
    ],
)
def test_only_a_danger_that_was_logged_late_is_told_of(place, celsius, told):
    drive = drive_of()
    read(drive, T0, place, celsius, entered=T0 + LATE + 1)
    assert bool(told_late(drive)) is told


def test_an_older_reading_than_the_newest_of_its_spot_changes_nothing_but_a_fire_is_told_of():
    drive = drive_of()
    read(drive, T0 + HOUR, "p1", 60, spot="west")
    read(drive, T0, "p1", 85, spot="west", entered=T0 + 2 * HOUR)
    assert drive.rings("fire") == []
    assert len(told_late(drive)) == 1
    assert drive.engine.state.hands["hand:p1:west"].milli == 60_000
    read(drive, T0 + 3 * HOUR, "p1", 85, spot="west")
    assert drive.rings("fire") == [T0 + 3 * HOUR]


@pytest.mark.parametrize(("celsius", "rings"), [(100, True), (101, True), (400, False)])
def test_a_value_too_hot_to_be_believed_proves_nothing_but_may_be_a_fire(celsius, rings):
    drive = drive_of()
    read(drive, T0 + HOUR, "p1", celsius)
    assert bool(drive.rings("fire")) is rings


# How long it is held ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("place", ["p1", "b1"])
def test_a_reading_by_hand_is_held_for_its_gap_and_no_longer(place):
    drive = drive_of()
    thresholds = (drive.settings.piles if place == "p1" else drive.settings.bins)[place].thresholds
    read(drive, T0, place, 40 if place == "p1" else 20)
    spot = drive.engine.state.hands[f"hand:{place}"]
    assert (spot.held_until, spot.held, spot.on_time, spot.by, spot.at) == (
        T0 + thresholds.hand_gap_ms, True, True, "Ann", T0,
    )  # fmt: skip
    drive.advance(T0 + thresholds.hand_gap_ms - 1)
    assert spot.held
    drive.advance(T0 + thresholds.hand_gap_ms)
    assert not drive.engine.state.hands[f"hand:{place}"].held


def test_one_that_is_logged_when_its_gap_is_over_is_not_held_at_all():
    drive = drive_of()
    gap = drive.settings.bins["b1"].thresholds.hand_gap_ms
    read(drive, T0, "b2", 20, entered=T0 + gap - 1)
    assert drive.engine.state.hands["hand:b2"].held
    read(drive, T0, "b1", 20, entered=T0 + gap)
    assert not drive.engine.state.hands["hand:b1"].held


@pytest.mark.parametrize(("more", "held"), [(-1, True), (0, False)])
def test_the_reading_before_one_that_is_taken_back_is_held_for_its_own_gap(more, held):
    drive = drive_of()
    gap = drive.settings.piles["p1"].thresholds.hand_gap_ms
    read(drive, T0, "p1", 40)
    read(drive, T0 + HOUR, "p1", 45)
    gone = {"reading": {"time": T0 + HOUR, "probe": "hand:p1"}, "by": "Ann"}
    drive.feed(T0 + gap + more, "correction", gone)
    spot = drive.engine.state.hands["hand:p1"]
    assert (spot.time, spot.held) == (T0, held)


def test_each_spot_is_held_for_itself():
    drive = drive_of()
    gap = drive.settings.bins["b1"].thresholds.hand_gap_ms
    read(drive, T0, "b1", 20, spot="east")
    read(drive, T0 + HOUR, "b1", 20, spot="west")
    drive.advance(T0 + gap)
    assert [drive.engine.state.hands[f"hand:b1:{spot}"].held for spot in ("east", "west")] == [False, True]
    drive.advance(T0 + gap + HOUR)
    assert not drive.engine.state.hands["hand:b1:west"].held


# When a reading by hand and a probe differ ------------------------------------------------------------------------------


def bin_of(celsius=20):
    drive = drive_of({"b1-t": bedding("b1"), "b1-m": bedding("b1", Quantity.MOISTURE)})
    drive.read(T0, b1_t=celsius, b1_m=75)
    return drive


@pytest.mark.parametrize(("celsius", "differ"), [(25, False), (25.001, True), (15, False), (14.999, True)])
def test_more_than_five_degrees_between_a_hand_and_a_probe_ask_for_a_look(celsius, differ):
    drive = bin_of()
    read(drive, T0 + MIN, "b1", celsius)
    said = drive.engine.apart("b1", T0 + 2 * MIN)
    assert bool(said) is differ
    assert bool(drive.digest_lines("b1-t")) is differ
    if differ:
        assert said.endswith(": look at the probe")
        assert "b1-t" in said


@pytest.mark.parametrize(("apart", "compared"), [(CALM.silent_min_ms, True), (CALM.silent_min_ms + 1, False)])
def test_only_a_probes_value_of_the_same_hour_is_compared(apart, compared):
    drive = bin_of()
    read(drive, T0 - apart, "b1", 40, entered=T0 + MIN)
    assert bool(drive.engine.state.apart) is compared


def test_the_nearest_probe_and_the_nearest_spot_are_compared():
    drive = drive_of({"b1-t": bedding("b1"), "b1-u": bedding("b1")})
    drive.read(T0, b1_t=20, b1_u=28)
    read(drive, T0 + MIN, "b1", 40)
    assert (drive.engine.state.apart["b1"].probe, drive.engine.state.apart["b1"].milli) == ("b1-u", 28_000)
    read(drive, T0 + 2 * MIN, "b1", 32, spot="west")
    assert drive.engine.state.apart == {}, "one of its probes is near"


def test_a_difference_is_over_when_the_probe_comes_near_and_not_before():
    drive = bin_of()
    read(drive, T0 + MIN, "b1", 30)
    drive.read(T0 + 10 * MIN, b1_t=24.999, b1_m=30)
    assert drive.engine.state.apart, "a moisture of 30 % is no temperature"
    assert "25 °C" in drive.engine.apart("b1", T0 + 11 * MIN), "what the probe shows by now"
    drive.read(T0 + 20 * MIN, b1_t=25)
    assert drive.engine.state.apart == {}
    assert drive.engine.apart("b1", T0 + 21 * MIN) == ""


def test_what_a_probe_shows_elsewhere_by_now_is_not_told_of_the_place_where_it_differed():
    drive = bin_of()
    read(drive, T0 + MIN, "b1", 30)
    drive.work(T0 + 10 * MIN, "b2", "probe in", probe="b1-t")
    drive.read(T0 + 20 * MIN, b1_t=12)
    told = drive.engine.apart("b1", T0 + 21 * MIN)
    assert "20 °C" in told
    assert "12 °C" not in told


def test_a_difference_is_shown_for_a_day():
    drive = bin_of()
    read(drive, T0 + MIN, "b1", 30)
    assert drive.engine.apart("b1", T0 + MIN + DAY - 1)
    assert drive.engine.apart("b1", T0 + MIN + DAY) == ""
    assert drive.engine.apart("b2", T0 + MIN) == ""


def test_a_reading_that_is_taken_back_differs_from_nothing():
    drive = bin_of()
    read(drive, T0 + MIN, "b1", 30, spot="west")
    taken = [{"probe": "hand:b1:west", "time": T0 + MIN}]
    drive.feed(T0 + 2 * MIN, "correction", {"readings": taken, "by": "Ann"})
    assert drive.engine.state.apart == {}
    assert "hand:b1:west" not in drive.engine.state.hands


def test_a_silent_or_broken_probe_or_one_that_lies_outside_is_compared_with_nothing():
    drive = bin_of()
    drive.work(T0 + MIN, "b1", "probe out", probe="b1-t")
    read(drive, T0 + 2 * MIN, "b1", 40)
    assert drive.engine.state.apart == {}
    other = drive_of({"p1-a": core("p1")})
    other.hold(T0, T0 + 10 * MIN, p1_a=60)
    other.hold(T0 + 20 * MIN, T0 + 12 * HOUR, p1_a=-127)
    assert other.state_of("p1/broken/p1-a") == "unacknowledged"
    read(other, T0 + 10 * MIN, "p1", 40, entered=T0 + 12 * HOUR + MIN)
    assert other.engine.state.apart == {}
