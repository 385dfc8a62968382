"""What stays of a heap that is gone, and what counts of several values of one instant."""

import pytest
from engine_yard import HOUR, MIN, T0, Drive, core, yard

from monitor.engine.batches.clashing_values import Rivals
from monitor.model.thresholds import ProbeThresholds

CALM = ProbeThresholds(spike_step_milli_k=200_000)


def drive_of(**probes):
    return Drive(yard(probes=probes, bins={}, probe_thresholds=CALM))


def read(drive, at, place, celsius):
    row = [at, f"hand:{place}", celsius * 1_000_000, "Cel"]
    drive.feed(at, "readings", {"rows": [row], "ahead": [], "by": "Ann"})


def test_a_probe_that_lay_out_when_its_heap_was_taken_away_is_waited_for_to_the_minute():
    drive = Drive(yard(probes={"p1-a": core("p1")}, bins={}))
    drive.hold(T0, T0 + HOUR + 7 * MIN, step=MIN, p1_a=50)
    drive.work(T0 + HOUR + 8 * MIN, "p1", "turned")
    drive.work(T0 + 7 * HOUR + 4 * MIN, "p1", "emptied")
    drive.advance(T0 + 9 * HOUR)
    assert drive.rings("silent") == [T0 + 7 * HOUR + 7 * MIN]


def test_heat_that_came_with_a_heap_holds_no_alarm_of_the_next_one_open():
    drive = drive_of(**{"p2-a": core("p2")})
    read(drive, T0 + HOUR, "p1", 78)
    drive.work(T0 + HOUR + MIN, "p1", "moved", to="p2")
    assert drive.state_of("p2/too-hot") == "unacknowledged"
    drive.work(T0 + 2 * HOUR, "p2", "emptied")
    assert drive.state_of("p2/too-hot") == "returned unacknowledged"
    drive.work(T0 + 3 * HOUR, "p2", "built")
    drive.read(T0 + 4 * HOUR, p2_a=78)
    assert drive.state_of("p2/too-hot") == "unacknowledged"
    drive.read(T0 + 4 * HOUR + 10 * MIN, p2_a=60)
    assert drive.state_of("p2/too-hot") == "returned unacknowledged"


def test_a_fire_that_came_with_a_heap_burns_on_where_the_heap_was_taken_away():
    drive = drive_of()
    read(drive, T0 + HOUR, "p1", 85)
    drive.work(T0 + HOUR + MIN, "p1", "moved", to="p2")
    drive.work(T0 + 2 * HOUR, "p2", "emptied")
    assert drive.state_of("p2/fire") == "unacknowledged"


@pytest.mark.parametrize(
    ("rivals", "accepted", "upper", "counts"),
    [
        (Rivals(58_000, 62_000, True), True, False, (58_000, False)),  # the coldest
        (Rivals(61_000, 62_000, True), True, False, (60_000, False)),
        (Rivals(60_000, 60_000, True), True, True, (60_000, False)),
        (Rivals(60_000, 62_000, True), True, True, (None, True)),  # under an upper limit none is the worst in every way
        (Rivals(58_000, 60_000, True), True, True, (None, True)),
        (Rivals(58_000, 58_000, True), False, False, (None, True)),  # the first one failed its checks
        (Rivals(58_000, 58_000, False), True, False, (None, True)),  # one cannot be measured
        (Rivals(None, None, False), True, False, (None, True)),
        (Rivals(None, None, False), False, False, (None, False)),
    ],
)
def test_of_several_values_of_one_instant_the_worst_counts_or_none(rivals, accepted, upper, counts):
    assert rivals.counted(60_000, accepted=accepted, upper=upper) == counts


@pytest.mark.parametrize(
    ("further", "met"),
    [
        (None, True),
        (56, True),  # the coldest is still hot enough
        (40, False),
        (-200, False),  # one that cannot be measured: nothing is proven around the instant
    ],
)
def test_a_second_value_of_an_instant_may_cost_a_heap_its_three_days(further, met):
    drive = drive_of(**{"p2-a": core("p2")})
    drive.work(T0, "p2", "built")
    drive.hold(T0 + MIN, T0 + 36 * HOUR + MIN, HOUR, p2_a=60)
    at = T0 + 36 * HOUR + MIN
    if further is not None:
        row = [at, "p2-a", further * 1_000_000, "Cel"]
        drive.feed(at + MIN, "readings", {"rows": [row], "ahead": []})
    drive.hold(at + HOUR, T0 + 76 * HOUR, HOUR, p2_a=60)
    assert (drive.run("p2").rule.value == "met") is met
    assert drive.run("p2").rule.value in ("met", "running")
