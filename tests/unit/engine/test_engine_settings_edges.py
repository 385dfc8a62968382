"""What new settings change, and from when: places and probes that leave and come back, calibrations, rules, limits."""

from dataclasses import replace

import pytest
from engine_yard import DAY, HOUR, MIN, T0, Drive, bedding, core, yard

from monitor.engine.context.batch_runs import progress_now
from monitor.engine.context.read_spots import last_read
from monitor.model.settings import Calibration
from monitor.model.thresholds import BinThresholds, PileThresholds, ProbeThresholds
from monitor.model.units import Quantity
from monitor.model.words import Basis

CALM = ProbeThresholds(spike_step_milli_k=200_000)


def drive_of(**probes):
    return Drive(yard(probes={name.replace("_", "-"): probe for name, probe in probes.items()}, probe_thresholds=CALM))


def without(settings, *names):
    return replace(settings, probes={name: probe for name, probe in settings.probes.items() if name not in names})


def moved(settings, probe, place):
    return replace(settings, probes={**settings.probes, probe: replace(settings.probes[probe], place=place)})


def warm_static(celsius=53):
    """A heap under the static rule, three days and a bit at one temperature."""
    drive = drive_of(p2_a=core("p2"))
    drive.work(T0, "p2", "built")
    drive.hold(T0 + MIN, T0 + 3 * DAY + 4 * HOUR, HOUR, p2_a=celsius)
    return drive


def calibrated(drive, *calibrations):
    probe = replace(drive.settings.probes["p2-a"], calibrations=tuple(calibrations))
    drive.settle(drive.engine.last + MIN, replace(drive.settings, probes={**drive.settings.probes, "p2-a": probe}))
    return drive.run("p2").rule.value


@pytest.mark.parametrize(
    ("start", "rule"), [(None, "met"), (T0, "met"), (T0 + 12 * HOUR, "running"), (T0 + 3 * DAY + 5 * HOUR, "not begun")]
)
def test_a_calibration_counts_from_its_own_start_and_the_record_is_worked_out_again(start, rule):
    drive = warm_static()
    assert drive.run("p2").rule.value == "not begun"
    assert calibrated(drive, Calibration(start=start, points=((0, 3_000),))) == rule


def test_a_calibration_that_is_taken_back_leaves_what_was():
    drive = warm_static()
    warmer = Calibration(start=T0 + DAY, points=((0, 3_000),))
    assert calibrated(drive, warmer) == "running"
    assert calibrated(drive) == "not begun"
    assert calibrated(drive, warmer, Calibration(start=T0, points=((0, 2_500),))) == "met"


def test_new_limits_of_a_pile_are_those_of_its_heap_from_the_beginning():
    drive = drive_of(p1_a=core("p1"))
    drive.hold(T0 + MIN, T0 + 10 * HOUR, HOUR, p1_a=60)
    assert [after for _, after, _, _ in drive.phases()] == ["heating", "holding"]
    own = replace(drive.settings.piles["p1"], thresholds=PileThresholds(hold_dwell_ms=DAY))
    drive.settle(T0 + 11 * HOUR, replace(drive.settings, piles={**drive.settings.piles, "p1": own}))
    assert drive.run().walk.phase.value == "heating"
    drive.settle(T0 + 12 * HOUR, yard(probes=drive.settings.probes, probe_thresholds=CALM))
    assert drive.run().walk.phase.value == "holding"


def test_a_probe_that_the_settings_put_elsewhere_is_carried_there():
    drive = drive_of(b1_t=bedding("b1"), b1_u=bedding("b1"))
    drive.hold(T0, T0 + HOUR, b1_t=36, b1_u=20)
    assert drive.state_of("b1/worms-in-danger") == "unacknowledged"
    drive.settle(T0 + HOUR + MIN, moved(drive.settings, "b1-t", "b2"))
    assert drive.state_of("b1/worms-in-danger") == "returned unacknowledged"
    assert drive.engine.place_of("b1-t") == "b2"
    drive.read(T0 + 2 * HOUR, b1_t=36)
    assert drive.state_of("b2/worms-in-danger") == "unacknowledged"


def test_what_was_read_before_the_settings_moved_a_probe_stays_the_old_heaps():
    drive = drive_of(p1_a=core("p1"), p2_a=core("p2"))
    drive.work(T0, "p2", "built")
    drive.hold(T0 + MIN, T0 + 4 * DAY, HOUR, p1_a=60, p2_a=40)
    drive.settle(T0 + 4 * DAY + MIN, moved(drive.settings, "p1-a", "p2"))
    assert [(c.probe, c.place, c.time) for c in drive.engine.state.carried] == [
        ("p1-a", "p1", 0), ("p1-a", "p2", T0 + 4 * DAY + MIN),
    ]  # fmt: skip
    assert drive.run("p2").rule.value == "not begun"
    assert drive.run("p1").walk.held


def test_a_probe_that_leaves_ends_its_own_alarms_and_is_known_when_it_is_back():
    drive = drive_of(b1_t=bedding("b1"), b2_t=bedding("b2"))
    drive.hold(T0, T0 + 4 * HOUR, b1_t=20, b2_t=20)
    drive.hold(T0 + 4 * HOUR + 10 * MIN, T0 + 6 * HOUR, b2_t=20)
    assert drive.state_of("b1/silent/b1-t") == "unacknowledged"
    before = drive.engine.state.watches["b1-t"].arrivals
    drive.settle(T0 + 6 * HOUR + MIN, without(drive.settings, "b1-t"))
    assert drive.state_of("b1/silent/b1-t") == "returned unacknowledged"
    assert "b1-t" not in drive.engine.state.watches
    drive.hold(T0 + 6 * HOUR + 10 * MIN, T0 + 9 * HOUR, b2_t=20)
    drive.settle(
        T0 + 9 * HOUR + MIN, yard(probes={"b1-t": bedding("b1"), "b2-t": bedding("b2")}, probe_thresholds=CALM)
    )
    assert drive.engine.state.watches["b1-t"].arrivals == before
    assert not drive.engine.state.watches["b1-t"].silent
    assert len(drive.rings("silent")) == 1
    drive.hold(T0 + 9 * HOUR + 10 * MIN, T0 + 11 * HOUR, b2_t=20)
    assert drive.rings("silent")[-1] == T0 + 10 * HOUR + MIN, "an hour after it was named again"


def test_a_place_that_leaves_takes_its_alarms_along_its_readings_by_hand_no_longer_count_and_nothing_else_changes():
    drive = drive_of(b1_t=bedding("b1"), b2_t=bedding("b2"))
    drive.hold(T0, T0 + HOUR, b1_t=36, b2_t=36)
    for place in ("b1", "b2"):
        row = [T0 + HOUR, f"hand:{place}", 36_000_000, "Cel"]
        drive.feed(T0 + HOUR, "readings", {"rows": [row], "ahead": [], "by": "Ann"})
    drive.feed(T0 + HOUR + MIN, "link", {"what": "source", "name": "mqtt", "up": False, "why": ""})
    drive.hold(T0 + HOUR + 10 * MIN, T0 + HOUR + 20 * MIN, b1_t=36, b2_t=36)
    left = replace(without(drive.settings, "b2-t"), bins={"b1": drive.settings.bins["b1"]})
    drive.settle(T0 + HOUR + 21 * MIN, left)
    assert drive.state_of("b1/worms-in-danger") == "unacknowledged"
    assert drive.state_of("b2/worms-in-danger") == "returned unacknowledged"
    assert drive.state_of("/link/mqtt") == "unacknowledged"
    assert [series for series, one in drive.engine.state.hands.items() if one.held] == ["hand:b1"]
    assert set(drive.engine.state.bins) == {"b1"}


def test_a_put_off_alarm_of_a_place_that_left_never_comes_back():
    drive = drive_of(b2_t=bedding("b2"))
    drive.hold(T0, T0 + HOUR, b2_t=36)
    drive.answer(T0 + HOUR + MIN, "b2/worms-in-danger", "put off", until=T0 + 2 * HOUR)
    left = replace(without(drive.settings, "b2-t"), bins={"b1": drive.settings.bins["b1"]})
    drive.settle(T0 + HOUR + 2 * MIN, left)
    drive.advance(T0 + DAY)
    assert [state for at, _, state in drive.alarms("worms-in-danger") if at > T0 + HOUR + 2 * MIN] == []


def test_a_pile_that_is_back_is_watched_again_from_its_record():
    drive = drive_of(p1_a=core("p1"))
    drive.hold(T0 + MIN, T0 + 10 * HOUR, HOUR, p1_a=78)
    assert drive.state_of("p1/too-hot") == "unacknowledged"
    whole = drive.settings
    drive.settle(T0 + 11 * HOUR, replace(whole, piles={"p2": whole.piles["p2"]}))
    assert drive.state_of("p1/too-hot") == "returned unacknowledged"
    assert "p1" not in drive.engine.state.dangers
    drive.settle(T0 + 12 * HOUR, whole)
    drive.read(T0 + 12 * HOUR + MIN, p1_a=78)
    assert drive.state_of("p1/too-hot") == "unacknowledged"
    assert drive.run().walk.phase.value == "holding"


def test_a_pile_that_is_back_rings_again_for_what_its_heap_still_needs():
    drive = Drive(yard())
    drive.hold(T0, T0 + 5 * DAY, HOUR, p1_a=60, p1_b=59.5)
    assert drive.state_of("p1/turning-due") == "unacknowledged"
    full = drive.settings
    drive.settle(T0 + 5 * DAY + MIN, replace(full, piles={"p2": full.piles["p2"]}))
    assert drive.state_of("p1/turning-due") == "returned unacknowledged"
    drive.settle(T0 + 5 * DAY + 2 * MIN, full)
    assert drive.state_of("p1/turning-due") == "unacknowledged"


def by_hand(drive, at, place, celsius, spot="", **more):
    series = f"hand:{place}:{spot}" if spot else f"hand:{place}"
    payload = {"rows": [[at, series, celsius * 1_000_000, "Cel"]], "ahead": [], "by": "Ann", **more}
    return drive.feed(at, "readings", payload)


def left_and_back(drive, *, after=MIN, away=HOUR, meanwhile=None):
    """The pile p1 or bin b1 leaves the settings for a while; what happens meanwhile is done there."""
    whole = drive.settings
    piles = {name: one for name, one in whole.piles.items() if name != "p1"}
    bins = {name: one for name, one in whole.bins.items() if name != "b1"}
    left = drive.engine.last + after
    drive.settle(left, replace(whole, piles=piles, bins=bins))
    if meanwhile is not None:
        meanwhile(drive)
    drive.settle(left + away, whole)


def read_daily(*, days=5, celsius=57):
    """A heap without probes, two spots of which are read by hand twice a day."""
    drive = Drive(yard(probes={}, bins={}))
    for number in range(days * 2):
        for minute, spot in enumerate(("top", "core")):
            by_hand(drive, T0 + MIN + number * 12 * HOUR + minute * MIN, "p1", celsius, spot)
    return drive


def proved(drive):
    run = drive.run()
    return run.walk.phase, run.rule, progress_now(run).values, run.round_last


@pytest.mark.parametrize("again", [False, True])
def test_a_heap_read_by_hand_keeps_what_its_rounds_proved_while_its_pile_is_not_in_the_settings(again):
    drive, stayed = read_daily(), read_daily()
    left_and_back(drive)
    if again:
        for one in (drive, stayed):
            # A late entry has the whole record worked out again.
            one.work(T0 + HOUR, "p1", "turned", entered=T0 + 5 * DAY)
    assert proved(drive) == proved(stayed)
    assert proved(drive)[2]["days"] >= 3
    known = last_read(drive.engine.state.hands, "p1")
    assert known == last_read(stayed.engine.state.hands, "p1")
    assert (known.spots, known.held) == (2, True)


@pytest.mark.parametrize(("away", "rings"), [(25 * HOUR, True), (26 * HOUR, False)])
@pytest.mark.parametrize("place", ["p1", "b1"])
def test_what_was_read_by_hand_at_a_place_that_is_back_rings_while_it_is_held(place, away, rings):
    drive = Drive(yard(probes={}))
    limits = {"p1": "fire", "b1": "worms-in-danger"}
    if place == "b1":
        own = replace(drive.settings.bins["b1"], thresholds=BinThresholds(hand_gap_ms=26 * HOUR))
        drive.settle(T0 + MIN, replace(drive.settings, bins={**drive.settings.bins, "b1": own}))
    by_hand(drive, T0 + HOUR, place, 84 if place == "p1" else 36)
    key = f"{place}/{limits[place]}"
    assert drive.state_of(key) == "unacknowledged"
    left_and_back(drive, after=HOUR - MIN, away=away - HOUR + MIN)
    drive.advance(drive.engine.last + 1)
    assert drive.engine.state.alarms[key].on is rings
    known = last_read(drive.engine.state.hands, place)
    assert (known.time, known.held) == (T0 + HOUR, rings)
    drive.advance(T0 + 28 * HOUR)
    assert not last_read(drive.engine.state.hands, place).held


def test_what_was_read_of_a_heap_that_went_while_its_pile_was_away_does_not_count_there():
    drive = Drive(yard(probes={}, bins={}))
    by_hand(drive, T0 + HOUR, "p1", 84)
    left_and_back(drive, meanwhile=lambda one: one.work(one.engine.last + MIN, "p1", "moved", to="p2"))
    assert not drive.engine.state.alarms["p1/fire"].on
    assert not last_read(drive.engine.state.hands, "p1").held


@pytest.mark.parametrize("earlier", [True, False])
def test_a_reading_that_is_taken_back_while_its_pile_is_away_never_was(earlier):
    drive = Drive(yard(probes={}, bins={}))
    if earlier:
        by_hand(drive, T0 + HOUR, "p1", 60)
    by_hand(drive, T0 + 2 * HOUR, "p1", 84)
    gone = {"reading": {"time": T0 + 2 * HOUR, "probe": "hand:p1"}, "by": "Ann"}
    left_and_back(drive, meanwhile=lambda one: one.feed(one.engine.last + MIN, "correction", gone))
    assert not drive.engine.state.alarms["p1/fire"].on
    known = last_read(drive.engine.state.hands, "p1")
    assert (known and (known.time, known.high, known.held)) == ((T0 + HOUR, 60_000, True) if earlier else None)
    assert drive.run().round_last == (T0 + HOUR if earlier else None)


@pytest.mark.parametrize("wide", [False, True])
def test_what_comes_late_after_new_limits_has_the_whole_record_looked_at_by_them(wide):
    """A dip that was a spike by the old limits breaks the heat that the rule asks for by the new ones."""
    drive = Drive(yard(probes={"p2-a": core("p2")}))
    drive.work(T0, "p2", "built")

    def late(at):
        drive.read(at - 25 * MIN, received=at, p2_a=60.5)

    for at in range(T0 + MIN, T0 + 2 * DAY, 20 * MIN):
        drive.read(at, p2_a=40 if at == T0 + MIN + DAY else 60)
    late(T0 + 2 * DAY)
    limits = replace(drive.settings.probe_thresholds, spike_step_milli_k=200_000 if wide else 5_001)
    drive.settle(T0 + 2 * DAY + MIN, replace(drive.settings, probe_thresholds=limits))
    late(T0 + 2 * DAY + 5 * MIN)
    for at in range(T0 + 2 * DAY + 21 * MIN, T0 + 3 * DAY + 6 * HOUR, 20 * MIN):
        drive.read(at, p2_a=60)
    assert drive.run("p2").rule.value == ("running" if wide else "met")


def test_a_damp_probe_that_is_first_calibrated_later_counts_from_then_on():
    raw = bedding("b1", Quantity.MOISTURE, basis=Basis.RAW)
    known = replace(raw, calibrations=(Calibration(start=T0 + 10 * HOUR, points=((0, 0), (100_000, 100_000))),))
    drive = Drive(yard(probes={"b1-m": known}, probe_thresholds=CALM))
    drive.hold(T0 + MIN, T0 + 9 * HOUR, b1_m=92)
    assert drive.state_of("b1/too-wet") == "normal", "nobody knows what its numbers mean"
    drive.hold(T0 + 10 * HOUR, T0 + 18 * HOUR, b1_m=92)
    assert drive.rings("too-wet") == [T0 + 14 * HOUR]
