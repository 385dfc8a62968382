"""A probe that somebody took out is judged by nobody until it is back, wherever it belongs."""

import pytest
from engine_both_doors import Recorder, same
from engine_yard import DAY, HOUR, MIN, T0, Drive, air, bedding, core, yard

from monitor.engine import Engine
from monitor.model.settings import Probe
from monitor.model.thresholds import ProbeThresholds
from monitor.model.units import Quantity
from monitor.model.words import Role

CALM = ProbeThresholds(spike_step_milli_k=200_000)


def drive_of(kind=Drive):
    probes = {
        "air": air(), "p1-a": core("p1"), "p1-b": core("p1"),
        "p1-m": Probe(place="p1", role=Role.CORE, address="", quantity=Quantity.MOISTURE),
        "p1-s": Probe(place="p1", role=Role.SURFACE, address=""),
        "b1-t": bedding("b1"), "b1-m": bedding("b1", Quantity.MOISTURE), "b2-t": bedding("b2"),
    }  # fmt: skip
    return kind(yard(probes=probes, probe_thresholds=CALM))


def out(drive, probe):
    outing = drive.engine.state.outings.get(probe)
    return outing is not None and outing.out is not None


def test_what_a_bins_probe_reads_outside_is_judged_by_nobody():
    drive = drive_of()
    drive.hold(T0, T0 + 2 * HOUR, b1_t=30)
    assert drive.state_of("b1/overheating") == "unacknowledged"
    drive.work(T0 + 2 * HOUR + MIN, "b1", "probe out", probe="b1-t")
    assert drive.state_of("b1/overheating") == "unacknowledged", "nobody has measured that it is over"
    drive.hold(T0 + 2 * HOUR + 5 * MIN, T0 + 6 * HOUR, b1_t=45)
    assert not drive.rings("worms-in-danger")
    assert drive.engine.state.bins["b1"].temperatures["b1-t"].silent
    drive.advance(T0 + 20 * HOUR)
    assert not drive.engine.state.watches["b1-t"].silent, "nobody waits for it"
    assert drive.notices("b1-t has been outside since"), "but people are reminded"
    drive.work(T0 + 21 * HOUR, "b1", "probe in", probe="b1-t")
    drive.hold(T0 + 21 * HOUR + MIN, T0 + 22 * HOUR - MIN, b1_t=36)
    assert not drive.rings("worms-in-danger"), "it is not yet as warm as the bed"
    drive.hold(T0 + 22 * HOUR, T0 + 23 * HOUR, b1_t=36)
    assert drive.rings("worms-in-danger")


@pytest.mark.parametrize("undone", [0, 1])
def test_undoing_puts_it_in_or_out_again(undone):
    drive = drive_of()
    drive.read(T0, b1_t=20, b1_m=70)
    drive.work(T0 + HOUR, "b1", "probe out", probe="b1-m")
    first = drive.engine.last
    drive.work(T0 + 2 * HOUR, "b1", "probe in", probe="b1-m")
    second = drive.engine.last
    assert not out(drive, "b1-m")
    drive.feed(T0 + 3 * HOUR, "correction", {"of": (first, second)[undone], "work": None, "by": "Ann"})
    assert out(drive, "b1-m") is bool(undone)
    if undone:
        drive.feed(T0 + 3 * HOUR + MIN, "correction", {"of": first, "work": None, "by": "Ann"})
    assert not out(drive, "b1-m")


def test_a_turning_takes_all_probes_out_and_the_others_are_back_with_the_last_core_probe():
    drive = drive_of()
    hot = {"p1_a": 60, "p1_b": 60, "p1_s": 50, "p1_m": 55, "air": 15}
    drive.hold(T0 + MIN, T0 + DAY, **hot)
    drive.work(T0 + DAY + MIN, "p1", "turned")
    assert all(out(drive, probe) for probe in ("p1-a", "p1-b", "p1-m", "p1-s"))
    drive.hold(T0 + DAY + 10 * MIN, T0 + DAY + 40 * MIN, p1_a=15, p1_b=15, p1_s=90, p1_m=5, air=15)
    assert not drive.rings("fire"), "a probe in the sun is no fire"
    drive.hold(T0 + DAY + 50 * MIN, T0 + DAY + 2 * HOUR, p1_a=55, p1_b=15, p1_s=20, p1_m=5, air=15)
    assert not out(drive, "p1-a")
    assert out(drive, "p1-s"), "one core probe still lies outside"
    drive.hold(T0 + DAY + 2 * HOUR + 10 * MIN, T0 + DAY + 3 * HOUR, p1_a=55, p1_b=55, p1_s=50, p1_m=55, air=15)
    assert not any(out(drive, probe) for probe in ("p1-a", "p1-b", "p1-m", "p1-s"))
    drive.work(T0 + DAY + 4 * HOUR, "p1", "probe out", probe="p1-s")
    drive.work(T0 + DAY + 10 * HOUR, "p1", "turned")
    drive.hold(T0 + DAY + 11 * HOUR, T0 + DAY + 13 * HOUR, p1_a=55, p1_b=55, air=15)
    assert out(drive, "p1-s"), "what somebody took out stays out"
    assert not out(drive, "p1-m")


def test_a_restart_in_between_changes_nothing():
    drive, other = drive_of(), drive_of()
    for one in (drive, other):
        one.hold(T0 + MIN, T0 + 5 * HOUR, b1_t=20, p1_a=60, p1_b=60, p1_m=50, air=15)
        one.work(T0 + 5 * HOUR, "b1", "probe out", probe="b1-t")
        one.work(T0 + 5 * HOUR + MIN, "p1", "turned")
    other.engine = Engine.restore(other.engine.snapshot())
    for one in (drive, other):
        one.hold(T0 + 6 * HOUR, T0 + 9 * HOUR, b1_t=40, p1_a=50, p1_b=50, p1_m=5, air=15)
    assert drive.engine.snapshot() == other.engine.snapshot()


def test_both_doors_of_the_engine_say_the_same():
    drive = drive_of(Recorder)
    hot = {"p1_a": 60, "p1_b": 60, "p1_s": 50, "p1_m": 55, "air": 15}
    drive.hold(T0 + MIN, T0 + DAY, **hot, b1_t=20, b1_m=75)
    drive.work(T0 + DAY + MIN, "p1", "turned")
    drive.work(T0 + DAY + 2 * MIN, "b1", "probe out", probe="b1-t")
    cold = {"p1_a": 15, "p1_b": 15, "p1_s": 90, "p1_m": 5, "air": 15}
    drive.hold(T0 + DAY + 10 * MIN, T0 + DAY + 40 * MIN, **cold, b1_t=40, b1_m=75)
    drive.hold(T0 + DAY + 50 * MIN, T0 + DAY + 20 * HOUR, **hot, b1_t=40, b1_m=75)
    drive.work(T0 + DAY + 20 * HOUR + MIN, "b1", "probe in", probe="b1-t")
    drive.hold(T0 + DAY + 20 * HOUR + 10 * MIN, T0 + 3 * DAY, **hot, b1_t=35, b1_m=75)
    same(drive, T0 + 4 * DAY)


def test_an_imported_turning_that_is_long_over_leaves_no_probe_outside():
    probes = {"p1-a": core("p1"), "p1-b": core("p1"), "p1-m": core("p1", quantity=Quantity.MOISTURE)}
    drive = Recorder(yard(bins={}, probes=probes))
    drive.hold(T0 + MIN, T0 + 8 * DAY, step=HOUR, p1_a=60, p1_b=61, p1_m=55)
    works = [{"time": T0 + day * DAY, "place": "p1", "kind": "turned"} for day in (3, 6)]
    drive.feed(T0 + 8 * DAY + MIN, "imported", {"work": works, "rows": [], "by": "Ann"})
    assert all(drive.engine.core.in_service(probe) for probe in probes)
    drive.hold(T0 + 8 * DAY + HOUR, T0 + 10 * DAY, step=HOUR, p1_a=60, p1_b=61, p1_m=55)
    assert not drive.notices("outside since")
    assert drive.engine.core.walks[drive.run().batch].state.lines["p1-a"].serving
    same(drive, T0 + 11 * DAY)


def test_one_that_is_not_over_yet_takes_them_out_as_ever():
    drive = Recorder(yard(bins={}, probes={"p1-a": core("p1")}))
    drive.hold(T0 + MIN, T0 + DAY, step=HOUR, p1_a=60)
    works = [{"time": T0 + DAY - 30 * MIN, "place": "p1", "kind": "turned"}]
    drive.feed(T0 + DAY, "imported", {"work": works, "rows": [], "by": "Ann"})
    assert not drive.engine.core.in_service("p1-a")


def test_readings_that_come_out_of_a_file_later_tell_whether_a_probe_was_outside():
    drive = Recorder(yard(bins={}, probes={"air": air(), "p1-a": core("p1")}))
    turned = T0 + DAY
    drive.feed(T0 + 4 * DAY, "imported", {"work": [{"time": turned, "place": "p1", "kind": "turned"}], "rows": []})
    rows = []
    for hour in range(1, 80):
        at = T0 + hour * HOUR - MIN
        outside = turned <= at < turned + 6 * HOUR
        rows += [[at, "p1-a", 15_000_000 if outside else 60_000_000 + hour % 2, "Cel"], [at, "air", 15_000_000, "Cel"]]
    drive.feed(T0 + 4 * DAY + MIN, "imported", {"work": [], "rows": rows})
    outing = drive.engine.state.outings["p1-a"]
    assert (outing.out, outing.returned) == (None, turned + 7 * HOUR - MIN)
    assert drive.engine.state.presumed_back == []


def test_readings_of_a_second_file_that_show_no_return_leave_the_probe_presumed_back():
    drive = Recorder(yard(bins={}, probes={"p1-a": core("p1")}))
    turned = T0 + DAY

    def rows(start, end):
        return [[at, "p1-a", 60_000_000 + at % 7, "Cel"] for at in range(start, end, HOUR)]

    work = [{"time": turned, "place": "p1", "kind": "turned"}]
    drive.feed(T0 + 4 * DAY, "imported", {"work": work, "rows": rows(T0 + MIN, turned)})
    assert drive.engine.core.in_service("p1-a")
    drive.feed(T0 + 4 * DAY + MIN, "imported", {"work": [], "rows": rows(turned + 2 * HOUR, T0 + 3 * DAY)})
    assert drive.engine.core.in_service("p1-a"), "it is as warm as before, so nothing shows when it was back"
    assert drive.run().walk.now > turned + DAY
