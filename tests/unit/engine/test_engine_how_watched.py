"""How each place is watched at the moment: by whom, since when, and why that is not enough."""

import pytest
from engine_yard import DAY, HOUR, MIN, T0, Drive, bedding, core, yard

from monitor.model.settings import Bin
from monitor.model.units import Quantity


def small_yard(probes=True):
    known = {"p1-a": core("p1"), "p1-b": core("p1"), "b1-t": bedding("b1"), "b1-m": bedding("b1", Quantity.MOISTURE)}
    return yard(bins={"b1": Bin(name="Sunny bin")}, piles={"p1": yard().piles["p1"]}, probes=known if probes else {})


def watched(drive, place):
    one = next(one for one in drive.engine.watched(drive.engine.last) if one.place == place)
    return one.by.value, one.known, one.last, one.why


def drive_of(probes=True):
    return Drive(small_yard(probes))


def by_hand(drive, at, place, celsius):
    drive.feed(at, "readings", {"rows": [[at, f"hand:{place}", celsius * 10**6, "Cel"]], "ahead": [], "by": "Ann"})


def test_a_place_whose_probes_were_never_heard_says_so():
    drive = drive_of()
    assert watched(drive, "p1") == watched(drive, "b1") == ("probes", False, None, "never heard")


def test_while_a_probe_speaks_the_newest_reading_counts():
    drive = drive_of()
    drive.read(T0, p1_a=60, b1_t=20, b1_m=75)
    drive.read(T0 + 10 * MIN, p1_b=60)
    assert watched(drive, "p1") == ("probes", True, T0 + 10 * MIN, "")
    assert watched(drive, "b1") == ("probes", True, T0, "")


def test_of_silent_probes_the_last_word_counts_and_one_that_speaks_is_enough():
    drive = drive_of()
    drive.hold(T0, T0 + 2 * HOUR, p1_a=60, p1_b=60, b1_t=20, b1_m=75)
    drive.hold(T0 + 2 * HOUR + 10 * MIN, T0 + 9 * HOUR, p1_b=60, b1_t=20)
    assert watched(drive, "p1") == ("probes", True, T0 + 9 * HOUR, "")
    assert watched(drive, "b1") == ("probes", False, T0 + 2 * HOUR, "moisture silent")
    drive.advance(T0 + 20 * HOUR)
    assert watched(drive, "p1") == ("probes", False, T0 + 9 * HOUR, "silent")
    assert watched(drive, "b1") == ("probes", False, T0 + 9 * HOUR, "silent")


def test_a_probe_of_which_no_reading_can_be_believed_counts_for_nothing():
    drive = drive_of()
    drive.read(T0, p1_a=-127, b1_t=-127)
    assert watched(drive, "p1") == watched(drive, "b1") == ("probes", False, None, "uncounted")


@pytest.mark.parametrize("heard", [False, True])
def test_while_all_probes_lie_outside_the_first_that_went_out_says_since_when(heard):
    drive = drive_of()
    if heard:
        drive.hold(T0, T0 + HOUR, p1_a=60, p1_b=60)
    drive.work(T0 + HOUR + MIN, "p1", "probe out", probe="p1-b")
    assert watched(drive, "p1")[3] == ("" if heard else "never heard")
    drive.work(T0 + HOUR + 9 * MIN, "p1", "probe out", probe="p1-a")
    expected = ("probes", False, T0 + HOUR + MIN, "outside") if heard else ("probes", False, None, "never heard")
    assert watched(drive, "p1") == expected


def test_a_place_without_probes_is_watched_by_hand_while_a_reading_is_held():
    drive = drive_of(probes=False)
    assert watched(drive, "p1") == watched(drive, "b1") == ("nobody", False, None, "")
    by_hand(drive, T0, "p1", 60)
    by_hand(drive, T0 + HOUR, "b1", 20)
    assert watched(drive, "p1") == ("hand", True, T0, "")
    assert watched(drive, "b1") == ("hand", True, T0 + HOUR, "")
    drive.advance(T0 + 9 * DAY)
    assert watched(drive, "p1") == ("hand", False, T0, "unread")
    assert watched(drive, "b1") == ("hand", False, T0 + HOUR, "unread")
    (one,) = [one for one in drive.engine.watched(drive.engine.last) if one.place == "p1"]
    assert one.who == "Ann"


def test_readings_by_hand_stand_in_for_silent_probes_and_not_for_those_that_speak():
    drive = drive_of()
    drive.hold(T0, T0 + HOUR, p1_a=60, p1_b=60)
    by_hand(drive, T0 + HOUR + MIN, "p1", 60)
    assert watched(drive, "p1")[0] == "probes"
    drive.advance(T0 + 8 * HOUR)
    by_hand(drive, T0 + 8 * HOUR + MIN, "p1", 60)
    assert watched(drive, "p1") == ("hand", True, T0 + 8 * HOUR + MIN, "")


def test_where_nothing_lies_nobody_need_watch():
    drive = drive_of()
    drive.hold(T0, T0 + HOUR, p1_a=20, p1_b=20, b1_t=20)
    drive.work(T0 + HOUR + MIN, "p1", "emptied")
    drive.work(T0 + HOUR + MIN, "b1", "emptied")
    assert watched(drive, "p1")[:2] == watched(drive, "b1")[:2] == ("empty", True)


def test_each_place_is_named_in_the_order_of_the_settings():
    assert [one.place for one in Drive(yard()).engine.watched(T0)] == ["p1", "p2", "b1", "b2"]
