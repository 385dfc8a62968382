"""What a turning's entry means to the engine: falls before it, entries after the fact, both doors."""

import pytest
from engine_both_doors import Recorder, same
from engine_yard import DAY, HOUR, MIN, T0, Drive, air, core, yard

from monitor.engine.context.batch_runs import progress_now
from monitor.model.settings import Pile
from monitor.model.words import Method

STEP = 10 * MIN
END = T0 + 4 * DAY + HOUR


def settings():
    piles = {"p1": Pile(name="Bay 1", rule="us-112-54-turned", method=Method.TURNED, built=T0)}
    return yard(piles=piles, bins={}, probes={"p1-a": core("p1"), "p1-b": core("p1")})


@pytest.fixture
def drive():
    return Recorder(settings())


def run_of(drive):
    return next(iter(drive.engine.state.runs.values()))


def turned_late(drive, felt, logged, end):
    """A heap that is hot until `felt`, whose probes lie in the air until they are put back half an hour after `logged`."""
    drive.hold(T0 + STEP, felt - STEP, STEP, p1_a=60, p1_b=61)
    drive.hold(felt, logged, STEP, p1_a=18, p1_b=17)
    drive.work(logged, "p1", "turned")
    drive.hold(logged + STEP, logged + 20 * MIN, STEP, p1_a=18, p1_b=17)
    for probe in ("p1-a", "p1-b"):
        drive.work(logged + 30 * MIN, "p1", "probe in", probe=probe)
    drive.hold(logged + 40 * MIN, end, STEP, p1_a=59, p1_b=60)


@pytest.mark.parametrize("entered", [0, DAY])
@pytest.mark.parametrize("kinds", [("turned", "probe in"), ("probe in", "turned")])
def test_a_probe_that_was_put_in_at_the_instant_of_a_turning_is_in(drive, entered, kinds):
    at = T0 + DAY
    drive.hold(T0 + STEP, at - STEP, STEP, p1_a=60, p1_b=61)
    if entered:
        drive.hold(at + STEP, at + entered, STEP, p1_a=60, p1_b=61)
    for kind in kinds:
        for probe in ("p1-a", "p1-b") if kind == "probe in" else ("",):
            drive.work(at, "p1", kind, probe=probe, entered=at + entered)
    drive.hold(at + entered + STEP, at + entered + 3 * HOUR, STEP, p1_a=60, p1_b=61)
    assert [drive.engine.state.outings[probe].returned for probe in ("p1-a", "p1-b")] == [at, at]
    assert drive.engine.core.in_service("p1-a")


@pytest.mark.parametrize("late", [0, 10, 50, 110])
def test_a_turning_logged_when_it_was_done_costs_no_day(drive, late):
    felt = T0 + 2 * DAY + 6 * HOUR
    turned_late(drive, felt, felt + late * MIN, END)
    values = progress_now(run_of(drive)).values
    assert (values["days"], values["turnings"]) == (4, 1)
    assert run_of(drive).falls == ({felt + late * MIN: felt - STEP} if late else {})


def test_a_fall_more_than_two_hours_before_the_entry_is_not_the_turnings(drive):
    felt = T0 + 2 * DAY + 6 * HOUR
    turned_late(drive, felt, felt + 130 * MIN, END)
    assert progress_now(run_of(drive)).values["days"] == 3
    assert run_of(drive).falls == {}


def test_a_turning_entered_in_the_evening_is_as_one_entered_at_once(drive):
    felt, done = T0 + 2 * DAY + 6 * HOUR, T0 + 2 * DAY + 7 * HOUR
    turned_late(drive, felt, done, END)
    other = Recorder(settings())
    other.hold(T0 + STEP, felt - STEP, STEP, p1_a=60, p1_b=61)
    other.hold(felt, done + 20 * MIN, STEP, p1_a=18, p1_b=17)
    other.hold(done + 40 * MIN, done + 5 * HOUR, STEP, p1_a=59, p1_b=60)
    for when, kind, probe in (
        (done, "turned", ""),
        (done + 30 * MIN, "probe in", "p1-a"),
        (done + 30 * MIN, "probe in", "p1-b"),
    ):
        other.work(when, "p1", kind, entered=done + 5 * HOUR, **({"probe": probe} if probe else {}))
    other.hold(done + 5 * HOUR + STEP, END, STEP, p1_a=59, p1_b=60)
    assert progress_now(run_of(other)).values == progress_now(run_of(drive)).values
    assert run_of(other).falls == run_of(drive).falls


def test_a_turning_that_is_withdrawn_takes_its_fall_along(drive):
    felt = T0 + 2 * DAY + 6 * HOUR
    turned_late(drive, felt, felt + 50 * MIN, T0 + 3 * DAY)
    entry = next(one.at for one in drive.engine.state.works if one.work.kind.value == "turned")
    drive.feed(T0 + 3 * DAY, "correction", {"of": entry, "work": None})
    assert run_of(drive).falls == {}
    drive.hold(T0 + 3 * DAY + STEP, END, STEP, p1_a=59, p1_b=60)
    assert progress_now(run_of(drive)).values["days"] == 3


def test_both_doors_see_the_same_falls(drive):
    turned_late(drive, T0 + 2 * DAY + 6 * HOUR, T0 + 2 * DAY + 7 * HOUR, END)
    same(drive, END + HOUR)


@pytest.mark.parametrize("kind", ["turned", "probe out", "probe in"])
def test_an_entry_logged_late_of_probes_that_lie_out_leaves_them_as_if_it_had_come_in_time(kind):
    """What was read of them since the entry's own time was taken as if it were not there."""
    probe = {} if kind == "turned" else {"probe": "p1-a"}
    told = []
    for late in (False, True):
        drive = Drive(yard(bins={}, probes={"air": air(), "p1-a": core("p1"), "p1-b": core("p1")}))
        drive.hold(T0 + MIN, T0 + DAY, HOUR, p1_a=60, p1_b=60, air=8)
        drive.work(T0 + DAY + MIN, "p1", "turned")
        out, entry = {"p1_a": 30, "p1_b": 30, "air": 8}, T0 + DAY + 16 * MIN
        drive.hold(T0 + DAY + 5 * MIN, T0 + DAY + 15 * MIN, 5 * MIN, **out)
        if not late:
            drive.work(entry, "p1", kind, **probe)
        drive.hold(T0 + DAY + 20 * MIN, T0 + DAY + 30 * MIN, 5 * MIN, **out)
        if late:
            drive.work(entry, "p1", kind, entered=T0 + DAY + 31 * MIN, **probe)
        told.append(drive.engine.state.outings)
    assert told[0] == told[1]
