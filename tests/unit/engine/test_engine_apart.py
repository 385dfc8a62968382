"""A reading by hand and a probe that differ are shown until one of them is read anew and agrees, or a day has passed."""

import pytest
from engine_both_doors import Recorder, same
from engine_yard import DAY, HOUR, MIN, T0, core, yard

from monitor.engine import Engine


def read(drive, at, celsius, spot=""):
    series = f"hand:p1:{spot}" if spot else "hand:p1"
    row = [at, series, round(celsius * 1_000_000), "Cel"]
    return drive.feed(at, "readings", {"rows": [row], "ahead": [], "by": "Ann"})


def apart(drive):
    return drive.engine.apart("p1", drive.engine.last)


@pytest.fixture
def drive():
    drive = Recorder(yard(bins={}, probes={"p1-a": core("p1"), "p1-b": core("p1")}))
    drive.hold(T0 + MIN, T0 + HOUR, p1_a=50, p1_b=40)
    read(drive, T0 + HOUR + MIN, 65)
    return drive


def test_it_is_shown_with_what_both_say(drive):
    assert apart(drive) == "Bay 1: 65 °C by hand at 20:01, but p1-a shows 50 °C: look at the probe"
    drive.read(T0 + HOUR + 10 * MIN, p1_a=52, p1_b=40)
    assert "p1-a shows 52 °C" in apart(drive), "what it shows by now"
    same(drive, T0 + 2 * DAY)


@pytest.mark.parametrize("probe", ["p1_a", "p1_b"])
def test_a_probe_that_reads_near_it_ends_it_for_good(drive, probe):
    for minutes in (10, 15):  # a step so large is believed only when the next reading agrees
        drive.read(T0 + HOUR + minutes * MIN, **{probe: 60.0})
    assert apart(drive) == ""
    drive.hold(T0 + HOUR + 20 * MIN, T0 + 5 * HOUR, p1_a=50, p1_b=40)
    assert apart(drive) == "", "it is another day's heat, not another reading by hand"
    same(drive, T0 + 2 * DAY)


def test_a_probe_that_comes_near_but_not_near_enough_does_not(drive):
    drive.read(T0 + HOUR + 10 * MIN, p1_a=59.9, p1_b=40)
    assert apart(drive)


@pytest.mark.parametrize("spot", ["", "west"])
def test_a_reading_by_hand_that_agrees_ends_it_and_one_that_does_not_goes_on(drive, spot):
    read(drive, T0 + HOUR + 20 * MIN, 70, spot)
    assert "70 °C by hand" in apart(drive)
    read(drive, T0 + HOUR + 30 * MIN, 52, spot)
    assert apart(drive) == ""


def test_it_ends_after_a_day_or_when_the_reading_is_taken_back_or_the_heap_is_gone(drive):
    other = Engine.restore(drive.engine.snapshot())
    assert other.apart("p1", T0 + DAY + HOUR)
    assert other.apart("p1", T0 + DAY + HOUR + MIN) == ""
    drive.work(T0 + 2 * HOUR, "p1", "emptied")
    assert apart(drive) == ""


def test_a_reading_that_is_taken_back_differs_from_nothing(drive):
    gone = {"reading": {"time": T0 + HOUR + MIN, "probe": "hand:p1"}, "by": "Ann"}
    drive.feed(T0 + 2 * HOUR, "correction", gone)
    assert apart(drive) == ""


def test_where_no_probe_speaks_it_stays_as_it_was(drive):
    drive.advance(T0 + 10 * HOUR)
    read(drive, T0 + 10 * HOUR, 64)
    assert apart(drive), "nothing says that the probe is right"
