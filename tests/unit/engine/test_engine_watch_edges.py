"""How each place is said to be watched, and what a bin's log does to its bed, edge by edge."""

import pytest
from engine_yard import DAY, HOUR, MIN, T0, Drive, bedding, core, yard

from monitor.model.settings import AMBIENT
from monitor.model.thresholds import ProbeThresholds
from monitor.model.units import Quantity

CALM = ProbeThresholds(spike_step_milli_k=200_000)


def drive_of(probes=None, **more):
    return Drive(yard(probes=probes, probe_thresholds=CALM, **more))


def watch(drive, place, at=None):
    at = drive.engine.last if at is None else at
    (one,) = [one for one in drive.engine.watched(at) if one.place == place]
    return one.by.value, one.known, one.why, one.last


# How places are watched -------------------------------------------------------------------------------------------------

TWO = {"b1-t": bedding("b1"), "b1-u": bedding("b1")}


def test_a_bin_is_known_while_one_of_its_thermometers_speaks():
    drive = drive_of(TWO)
    assert watch(drive, "b1") == ("probes", False, "never heard", None)
    drive.hold(T0, T0 + HOUR, b1_t=20, b1_u=20)
    drive.hold(T0 + HOUR + 10 * MIN, T0 + 4 * HOUR, b1_u=20)
    assert drive.state_of("b1/silent/b1-t") == "unacknowledged"
    assert watch(drive, "b1") == ("probes", True, "", T0 + 4 * HOUR)
    drive.advance(T0 + 6 * HOUR)
    assert watch(drive, "b1", T0 + 6 * HOUR) == ("probes", False, "silent", T0 + 4 * HOUR)


def test_a_probe_whose_readings_count_for_nothing_is_told_apart_from_one_that_was_never_heard():
    drive = drive_of({"b1-t": bedding("b1")})
    drive.read(T0, b1_t=-127)
    assert watch(drive, "b1") == ("probes", False, "uncounted", None)


def test_a_bin_whose_probes_all_lie_outside_is_not_known_since_the_first_went_out():
    drive = drive_of(TWO)
    drive.hold(T0, T0 + HOUR, b1_t=20, b1_u=20)
    drive.work(T0 + HOUR + MIN, "b1", "probe out", probe="b1-t")
    assert watch(drive, "b1") == ("probes", True, "", T0 + HOUR)
    drive.work(T0 + HOUR + 5 * MIN, "b1", "probe out", probe="b1-u")
    assert watch(drive, "b1") == ("probes", False, "outside", T0 + HOUR + MIN)
    drive.work(T0 + HOUR + 9 * MIN, "b1", "probe in", probe="b1-u")
    drive.read(T0 + 3 * HOUR, b1_u=20)
    assert watch(drive, "b1") == ("probes", True, "", T0 + 3 * HOUR)


def test_a_bin_with_moisture_probes_is_known_while_one_of_them_speaks():
    damp = {name: bedding("b1", Quantity.MOISTURE) for name in ("b1-m", "b1-n")}
    drive = drive_of({"b1-t": bedding("b1"), **damp})
    drive.hold(T0, T0 + HOUR, b1_t=20, b1_m=75)
    drive.feed(T0 + HOUR + MIN, "readings", {"rows": [[T0 + HOUR, "b1-n", 75_000_000, "%"]], "ahead": []})
    drive.hold(T0 + HOUR + 10 * MIN, T0 + 2 * HOUR + MIN, b1_t=20)
    assert watch(drive, "b1")[:3] == ("probes", True, "")
    drive.hold(T0 + 2 * HOUR + 10 * MIN, T0 + 4 * HOUR, b1_t=20)
    assert watch(drive, "b1") == ("probes", False, "moisture silent", T0 + HOUR)


def hand(drive, at, place, celsius, by="Ann"):
    drive.feed(at, "readings", {"rows": [[at, f"hand:{place}", celsius * 1_000_000, "Cel"]], "ahead": [], "by": by})


def test_a_place_read_by_hand_is_known_as_long_as_the_reading_counts():
    drive = drive_of({})
    assert watch(drive, "b1") == ("nobody", False, "", None)
    hand(drive, T0, "b1", 20)
    hand(drive, T0 + HOUR, "b1", 21, by="Ben")
    assert watch(drive, "b1") == ("hand", True, "", T0 + HOUR)
    assert [one.who for one in drive.engine.watched(T0 + HOUR) if one.place == "b1"] == ["Ben"]
    gap = drive.settings.bins["b1"].thresholds.hand_gap_ms
    drive.advance(T0 + HOUR + gap - 1)
    assert watch(drive, "b1")[:3] == ("hand", True, "")
    drive.advance(T0 + HOUR + gap)
    assert watch(drive, "b1") == ("hand", False, "unread", T0 + HOUR)


def test_a_reading_by_hand_makes_up_for_a_silent_probe():
    drive = drive_of({"b1-t": bedding("b1")})
    drive.hold(T0, T0 + HOUR, b1_t=20)
    drive.advance(T0 + 5 * HOUR)
    assert watch(drive, "b1")[:3] == ("probes", False, "silent")
    hand(drive, T0 + 5 * HOUR + MIN, "b1", 20)
    assert watch(drive, "b1") == ("hand", True, "", T0 + 5 * HOUR + MIN)


def test_a_muted_alarm_stands_in_the_summary_until_when_it_is_muted():
    drive = drive_of()
    drive.hold(T0, T0 + 5 * HOUR, b1_m=90, b1_t=20, b1_u=20)
    drive.work(T0 + 5 * HOUR + MIN, "b1", "watered")
    (muted,) = [one.muted for one in drive.engine.watched(drive.engine.last) if one.place == "b1"]
    assert [(words[:8], until) for words, until in muted] == [("Sunny bi", T0 + 17 * HOUR + MIN)]
    assert [one.muted for one in drive.engine.watched(drive.engine.last) if one.place == "b2"] == [()]


# A place that loses its last thermometer --------------------------------------------------------------------------------


def test_the_last_thermometer_that_is_carried_away_is_told_once_and_its_return_too():
    drive = drive_of(TWO)
    drive.work(T0, AMBIENT, "probe in", probe="b1-t")
    assert drive.rings("unwatched") == []
    drive.work(T0 + MIN, AMBIENT, "probe in", probe="b1-u")
    assert drive.rings("unwatched") == [T0 + MIN]
    (rung,) = [e.draft for e in drive.effects if e.draft.axis == "unwatched"]
    assert (rung.probe, rung.since, rung.place) == ("b1-u", T0 + MIN, "b1")
    drive.work(T0 + 2 * MIN, "b2", "note", note="x")
    assert drive.rings("unwatched") == [T0 + MIN]
    drive.work(T0 + 3 * MIN, "b1", "probe in", probe="b1-t")
    assert drive.state_of("b1/unwatched") == "returned unacknowledged"


def test_a_heap_that_goes_needs_no_thermometer_and_one_that_comes_without_one_surprises_nobody():
    drive = drive_of({"p1-a": core("p1")})
    drive.work(T0, "p1", "emptied")
    drive.work(T0 + MIN, AMBIENT, "probe in", probe="p1-a")
    drive.work(T0 + 2 * MIN, "p1", "built")
    assert drive.rings("unwatched") == []


# What the log of a bin does ---------------------------------------------------------------------------------------------

HOT, FINE = 30.0, 20.0


def conditions(drive, place="b1"):
    return [
        (e.at, e.draft.axis, e.draft.after, e.draft.reason)
        for e in drive.effects
        if e.draft.kind.value == "condition" and e.draft.place == place
    ]


def test_an_emptied_bin_is_not_known_and_rings_nothing_until_something_is_put_in():
    drive = drive_of()
    drive.hold(T0, T0 + HOUR, b1_t=HOT, b1_u=HOT)
    assert drive.state_of("b1/overheating") == "unacknowledged"
    drive.work(T0 + HOUR + MIN, "b1", "emptied")
    assert drive.state_of("b1/overheating") == "returned unacknowledged"
    assert conditions(drive)[-1] == (T0 + HOUR + MIN, "thermal", "unknown", "emptied")
    drive.hold(T0 + 2 * HOUR, T0 + 4 * HOUR, b1_t=40, b1_u=40)
    assert len(drive.rings("worms-in-danger")) == 0
    drive.work(T0 + 4 * HOUR + MIN, "b1", "bedded")
    drive.read(T0 + 4 * HOUR + 10 * MIN, b1_t=40, b1_u=40)
    assert drive.rings("worms-in-danger") == [T0 + 4 * HOUR + 10 * MIN]


@pytest.mark.parametrize("kind", ["fed", "bedded"])
def test_what_was_put_in_before_the_emptying_fills_nothing_however_late_it_is_logged(kind):
    drive = drive_of()
    drive.work(T0 + HOUR, "b1", "emptied")
    emptied = drive.engine.state.bins["b1"].emptied_at
    drive.work(T0 + 30 * MIN, "b1", kind, entered=T0 + 2 * HOUR)
    assert drive.engine.state.bins["b1"].emptied_at == emptied == T0 + HOUR
    drive.work(T0 + HOUR, "b1", kind, entered=T0 + 3 * HOUR)
    assert drive.engine.state.bins["b1"].emptied_at is None


@pytest.mark.parametrize(("before", "empty"), [(MIN, False), (0, True), (-MIN, True)])
def test_an_emptying_that_is_logged_late_counts_unless_the_bin_was_filled_since(before, empty):
    drive = drive_of()
    drive.work(T0 + 2 * HOUR, "b1", "fed")
    drive.work(T0 + 2 * HOUR - before, "b1", "emptied", entered=T0 + 4 * HOUR)
    state = drive.engine.state.bins["b1"]
    assert (state.emptied_at is not None) is empty
    assert state.fed_at == (None if state.emptied_at is not None else T0 + 2 * HOUR)


def test_a_bin_remembers_its_newest_feeding():
    drive = drive_of()
    drive.work(T0 + 2 * HOUR, "b1", "fed")
    drive.work(T0 + HOUR, "b1", "fed", entered=T0 + 3 * HOUR)
    assert drive.engine.state.bins["b1"].fed_at == T0 + 2 * HOUR


def correct(drive, at, of, work=None):
    return drive.feed(at, "correction", {"of": of, "work": work, "by": "Ann"})


def test_a_feeding_that_never_was_gives_back_the_one_before():
    drive = drive_of()
    drive.work(T0 + HOUR, "b1", "fed")
    drive.work(T0 + 90 * MIN, "b1", "watered")
    drive.work(T0 + 2 * HOUR, "b1", "fed")
    of = drive.engine.last
    correct(drive, T0 + 3 * HOUR, of)
    assert drive.engine.state.bins["b1"].fed_at == T0 + HOUR


def test_a_watering_that_never_was_mutes_no_longer():
    drive = drive_of()
    drive.hold(T0, T0 + 5 * HOUR, b1_m=90)
    drive.work(T0 + 5 * HOUR + MIN, "b1", "watered")
    of = drive.engine.last
    assert drive.state_of("b1/too-wet") == "suppressed"
    correct(drive, T0 + 6 * HOUR, of)
    drive.advance(T0 + 6 * HOUR + 1)
    assert drive.state_of("b1/too-wet") == "unacknowledged"
    assert drive.rings("too-wet") == [T0 + 4 * HOUR, T0 + 6 * HOUR + 1]


def test_of_two_waterings_the_one_that_stands_still_mutes():
    drive = drive_of()
    drive.hold(T0, T0 + 5 * HOUR, b1_m=90)
    drive.work(T0 + 5 * HOUR + MIN, "b1", "watered")
    drive.work(T0 + 6 * HOUR, "b1", "watered")
    of = drive.engine.last
    correct(drive, T0 + 7 * HOUR, of)
    drive.hold(T0 + 7 * HOUR + 10 * MIN, T0 + 18 * HOUR, b1_m=90)
    assert drive.rings("too-wet") == [T0 + 4 * HOUR, T0 + 17 * HOUR + MIN]


def test_an_emptying_that_never_was_rings_what_was_on_and_what_was_read_since():
    drive = drive_of()
    drive.hold(T0, T0 + HOUR, b1_t=HOT, b1_u=HOT)
    drive.work(T0 + HOUR + MIN, "b1", "emptied")
    of = drive.engine.last
    drive.hold(T0 + HOUR + 10 * MIN, T0 + 2 * HOUR, b1_t=36, b1_u=HOT)
    correct(drive, T0 + 2 * HOUR + MIN, of)
    assert drive.engine.state.bins["b1"].emptied_at is None
    assert drive.rings("worms-in-danger") == [T0 + 2 * HOUR + MIN]
    assert conditions(drive)[-1][:3] == (T0 + 2 * HOUR + MIN, "thermal", "overheating")


def test_an_emptying_that_was_of_another_hour_is_of_that_hour():
    drive = drive_of()
    drive.work(T0 + HOUR, "b1", "emptied")
    of = drive.engine.last
    right = {"time": T0 + 30 * MIN, "place": "b1", "kind": "emptied"}
    correct(drive, T0 + 2 * HOUR, of, right)
    assert drive.engine.state.bins["b1"].emptied_at == T0 + 30 * MIN


def test_work_of_a_bin_is_remembered_for_ninety_days():
    drive = drive_of({})
    drive.work(T0, "b1", "fed")
    drive.work(T0 + 90 * DAY, "b1", "note", note="x")
    assert len(drive.engine.state.bed_works) == 2
    drive.work(T0 + 90 * DAY + MIN, "b1", "note", note="y")
    assert [one.work.kind.value for one in drive.engine.state.bed_works] == ["note", "note"]


def test_a_sudden_reading_that_nothing_follows_counts_when_it_has_been_waited_for_long_enough():
    """It may be a spike; but a probe that stops right after it must not hide worms in danger."""
    drive = Drive(yard(probes={"b1-t": bedding("b1")}))
    drive.hold(T0, T0 + HOUR, b1_t=20)
    drive.read(T0 + HOUR + 10 * MIN, b1_t=36)
    assert drive.rings("worms-in-danger") == []
    drive.advance(T0 + HOUR + 40 * MIN)
    assert drive.rings("worms-in-danger") == []
    drive.advance(T0 + HOUR + 41 * MIN)
    (rung,) = drive.rings("worms-in-danger")
    assert T0 + HOUR + 40 * MIN < rung <= T0 + HOUR + 41 * MIN
