"""Silence by the minute: when a probe is looked at, what begins and ends with its word, and who else speaks for its place."""

import pytest
from engine_yard import HOUR, MIN, T0, Drive, air, bedding, core, yard

from monitor.engine.context.agenda import SILENCE
from monitor.engine.context.link_state import LinkState
from monitor.engine.context.read_spots import HandSpot
from monitor.engine.handlers.clock_news import take_ahead
from monitor.engine.probes.silence_alarms import dues_of, fall_quiet, heard, leave, rearm, usable
from monitor.model.settings import AMBIENT
from monitor.model.units import Quantity
from monitor.model.words import RuleState
from monitor.piles import OutingState

NOW = T0 + 6 * HOUR
PROBES = {
    "p1-a": core("p1"), "p1-b": core("p1"), "b1-t": bedding("b1"), "b1-u": bedding("b1"),
    "b1-m": bedding("b1", Quantity.MOISTURE), "air": air(),
}  # fmt: skip


@pytest.fixture
def drive():
    made = Drive(yard(probes=PROBES))
    made.hold(T0, NOW, p1_a=60, p1_b=50, b1_t=20, b1_u=21, b1_m=75, air=10)
    made.engine.core.at = NOW
    return made


@pytest.fixture
def of(drive):
    return drive.engine.core


def others_hold(drive, start, end, **more):
    drive.hold(start, end, p1_b=50, b1_u=21, b1_m=75, air=10, **more)


# When ------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("probe", "least"), [("b1-t", HOUR), ("air", 6 * HOUR)])
def test_a_probe_falls_silent_at_its_very_minute(drive, probe, least):
    drive.advance(NOW + least - 1)
    place = PROBES[probe].place
    assert drive.state_of(f"{place}/silent/{probe}") == "normal"
    drive.advance(NOW + least)
    record = drive.engine.state.alarms[f"{place}/silent/{probe}"]
    assert (record.on, record.since, record.values.value_milli) == (True, NOW, {"b1-t": 20_000, "air": 10_000}[probe])
    assert drive.engine.state.watches[probe].silent


def test_its_next_word_ends_the_silence_and_begins_the_wait_anew(drive, of):
    drive.advance(NOW + HOUR)
    watch = of.state.watches["b1-t"]
    of.at = NOW + 2 * HOUR
    heard(of, "b1-t", watch, late=True)
    assert (watch.silent, watch.heard_from, watch.arrived) == (False, NOW + 2 * HOUR, NOW + 2 * HOUR)
    assert not of.state.alarms["b1/silent/b1-t"].on
    usable(of, "b1-t")
    assert not watch.broken


def test_a_probe_whose_word_never_counts_is_broken_and_the_first_that_counts_mends_it(drive, of):
    for number in range(1, 8):
        drive.read(NOW + number * 10 * MIN, b1_t=-127)
    drive.advance(NOW + HOUR + 10 * MIN)
    assert drive.state_of("b1/broken/b1-t") == "unacknowledged"
    assert drive.state_of("b1/silent/b1-t") == "normal"
    assert of.state.alarms["b1/broken/b1-t"].since == NOW
    of.at += MIN
    usable(of, "b1-t")
    assert not of.state.watches["b1-t"].broken
    assert not of.state.alarms["b1/broken/b1-t"].on


def test_a_hot_probe_that_stops_is_lost_after_half_an_hour_if_its_link_lives(drive, of):
    drive.read(NOW + 10 * MIN, p1_a=71)
    drive.read(NOW + 20 * MIN, p1_a=71)
    last = NOW + 20 * MIN
    drive.advance(last + 30 * MIN - 1)
    assert drive.state_of("p1/hot-and-lost/p1-a") == "normal"
    drive.advance(last + 30 * MIN)
    record = of.state.alarms["p1/hot-and-lost/p1-a"]
    assert (record.on, record.since, record.values.value_milli) == (True, last, 71_000)
    assert record.values.limit_milli == of.settings.piles["p1"].thresholds.lost_above_milli_c
    assert of.state.watches["p1-a"].lost
    assert dues_of(of, "p1-a", of.state.watches["p1-a"]).lost is None
    of.at = last + HOUR
    heard(of, "p1-a", of.state.watches["p1-a"], late=False)
    assert not of.state.alarms["p1/hot-and-lost/p1-a"].on


def test_a_link_that_is_down_loses_no_probe(drive, of):
    drive.read(NOW + 10 * MIN, p1_a=71)
    drive.read(NOW + 20 * MIN, p1_a=71)
    of.state.links["mqtt"] = LinkState("source", up=False, since=NOW + 21 * MIN)
    drive.advance(NOW + HOUR)
    assert drive.state_of("p1/hot-and-lost/p1-a") == "normal"


def test_only_heat_of_the_heap_that_lies_there_is_lost(drive, of):
    drive.read(NOW + 10 * MIN, p1_a=71)
    drive.read(NOW + 20 * MIN, p1_a=71)
    of.state.batches.batches[of.run_at("p1").batch].spans[-1].start = NOW + 20 * MIN + 1
    drive.advance(NOW + HOUR)
    assert drive.state_of("p1/hot-and-lost/p1-a") == "normal"
    again = Drive(yard(probes=PROBES))
    again.hold(T0, NOW, p1_a=60, p1_b=50)
    again.read(NOW + 10 * MIN, p1_a=71)
    again.read(NOW + 20 * MIN, p1_a=71)
    again.engine.core.state.batches.batches[again.run().batch].spans[-1].start = NOW + 20 * MIN
    again.advance(NOW + HOUR)
    assert again.state_of("p1/hot-and-lost/p1-a") == "unacknowledged"


def test_looks_are_set_for_the_earliest_and_for_nobody_who_is_out(drive, of):
    of.wait(SILENCE, None)
    of.run_at("p1").rule = RuleState.MET
    rearm(of, "p1-a")
    assert of.silence_check == NOW + 6 * HOUR
    rearm(of, "b1-t")
    assert of.silence_check == NOW + HOUR
    rearm(of, "p1-a")
    assert of.silence_check == NOW + HOUR, "never later"
    of.wait(SILENCE, None)
    of.state.outings["b1-t"] = OutingState(out=NOW)
    rearm(of, "b1-t")
    rearm(of, "no such probe")
    assert of.silence_check is None
    del of.state.outings["b1-t"]
    of.at = NOW + 30 * MIN
    rearm(of, "b1-t", anew=True)
    assert of.silence_check == NOW + 90 * MIN


# Whose word is left ----------------------------------------------------------------------------------------------


def left(drive):
    return drive.engine.core.state.alarms["b1/overheating"].values.left


@pytest.mark.parametrize(
    ("change", "known"),
    [
        (lambda of: None, True),
        (lambda of: setattr(of.state.watches["b1-u"], "silent", True), False),
        (lambda of: setattr(of.state.watches["b1-u"], "lost", True), False),
        (lambda of: setattr(of.state.watches["b1-u"], "accepted_time", None), False),
        (lambda of: of.state.outings.update({"b1-u": OutingState(out=NOW)}), False),
        (lambda of: of.state.watches.pop("b1-u"), False),
    ],
)
def test_where_nobody_else_measures_it_is_not_known_to_be_over(drive, of, change, known):
    """A probe carried off ends its alarm; whether the trouble is over only another one can say."""
    drive.hold(NOW + MIN, NOW + HOUR, b1_t=31, b1_u=21)
    of.at = NOW + HOUR + MIN
    change(of)
    leave(of, "b1-t", "b1")
    assert left(drive) == ("" if known else "b1-t")


def test_a_reading_by_hand_that_counts_measures_as_well(drive, of):
    drive.hold(NOW + MIN, NOW + HOUR, b1_t=31, b1_u=21)
    of.at = NOW + HOUR + MIN
    of.state.watches["b1-u"].silent = True
    of.state.hands["hand:b1"] = HandSpot("b1", "", NOW, 20_000, NOW, held_until=NOW + 9 * HOUR)
    leave(of, "b1-t", "b1")
    assert left(drive) == ""


def test_a_probe_that_left_has_no_alarm_of_its_own_any_more(drive, of):
    drive.advance(NOW + HOUR)
    of.at = NOW + HOUR + MIN
    take_ahead(of, "b1-t", NOW + 9 * HOUR)
    of.state.outings["b1-t"] = OutingState()
    watch = of.state.watches["b1-t"]
    watch.broken = watch.lost = True
    watch.hot_time = NOW
    leave(of, "b1-t", "b1")
    assert [watch.silent, watch.broken, watch.lost, watch.ahead, watch.hot_time] == [False] * 4 + [None]
    assert not of.state.alarms["b1/silent/b1-t"].on
    assert not of.state.alarms["b1/clock/b1-t"].on
    assert "b1-t" not in of.state.outings
    assert "b1-t" not in of.state.bins["b1"].temperatures


def test_a_probe_of_no_place_is_one_of_the_yard(of):
    of.state.carried.clear()
    of.state.settings.probes["air"] = air()
    take_ahead(of, "air", NOW + 9 * HOUR)
    assert of.state.alarms[f"{AMBIENT}/clock/air"].on
    record = of.state.alarms[f"{AMBIENT}/clock/air"].values.clock
    assert (record.by_ms, record.limit_ms) == (9 * HOUR, of.settings.probe_thresholds.ahead_ms)
    fall_quiet(of, "air", "")
    assert not of.state.alarms[f"{AMBIENT}/clock/air"].on


def test_a_silent_probe_of_an_emptied_bed_can_wait(drive, of):
    drive.advance(NOW + HOUR)
    key = "b1/silent/b1-t"
    assert of.state.alarms[key].stage == 1
    drive.work(NOW + HOUR + MIN, "b1", "emptied")
    assert of.state.alarms[key].stage == 0
    drive.work(NOW + HOUR + 2 * MIN, "b1", "bedded")
    assert of.state.alarms[key].stage == 1
