"""Where things were at the very instant at which they came or went, and what the engine answers about now."""

from types import SimpleNamespace

import pytest
from engine_yard import DAY, HOUR, MIN, T0, Drive, air, bedding, core, plain, yard

from monitor.engine.batches.recompute import was_met
from monitor.engine.context.batch_runs import followed_parts, nearest_way, progress_now, tracker_now, turning_waits
from monitor.engine.context.current_values import beyond, current_values, minimum, outlived_by, speaks, speaks_for_place
from monitor.engine.context.link_state import LinkState
from monitor.engine.context.places import FOREVER
from monitor.engine.context.read_spots import HandSpot, hand_gap_ms, is_of_another_heap, last_read, why_not_held
from monitor.engine.context.state import Carried
from monitor.engine.handlers.readings import take_verdict
from monitor.engine.records.batch_lookup import lone_batch
from monitor.model.alarm_kinds import Alarm
from monitor.model.flags import Flag, FlagReason, Verdict
from monitor.model.settings import AMBIENT, Pile
from monitor.model.units import Quantity
from monitor.model.words import Dampness, RuleState, Thermal
from monitor.model.work import Work, WorkKind
from monitor.piles import OutingState

NOW = T0 + 2 * HOUR
PROBES = {
    "p1-a": core("p1"),
    "p1-b": core("p1"),
    "b1-t": bedding("b1"),
    "b1-m": bedding("b1", Quantity.MOISTURE),
    "air": air(),
}


@pytest.fixture
def drive():
    made = Drive(yard(probes=PROBES))
    made.hold(T0, NOW, p1_a=60, p1_b=50, b1_t=20, b1_m=75, air=10)
    made.engine.core.at = NOW
    return made


@pytest.fixture
def yard_core(drive):
    return drive.engine.core


def by_hand(core_, place, milli, time=NOW, spot="", held=NOW + HOUR):
    series = f"hand:{place}:{spot}" if spot else f"hand:{place}"
    core_.state.hands[series] = HandSpot(place, spot, time, milli, time, "Ann", held_until=held)
    return series


# Where a probe was -----------------------------------------------------------------------------------------------


def test_a_probe_is_where_it_was_carried_from_that_instant_on(yard_core):
    yard_core.state.carried = [Carried(T0, "p1-a", "p1"), Carried(NOW, "p1-a", "p2"), Carried(NOW, "p1-b", "")]
    assert [yard_core.place_at("p1-a", at) for at in (T0 - 1, T0, NOW - 1, NOW)] == ["p1", "p1", "p1", "p2"]
    assert yard_core.place_of("p1-b") == ""
    assert yard_core.place_at("unknown", NOW) == ""
    assert [probe for probe, _ in yard_core.probes_of("p2")] == ["p1-a"]
    assert yard_core.in_service("p1-a")
    assert not yard_core.in_service("p1-b"), "it is nowhere"
    yard_core.state.outings["p1-a"] = OutingState(out=NOW)
    assert not yard_core.in_service("p1-a")


def test_a_core_probe_serves_in_a_heap_while_both_are_at_one_place(yard_core):
    run = yard_core.run_at("p1")
    assert yard_core.serving_spans(run, "p1-a") == [(T0, None)]
    yard_core.state.carried = [
        Carried(0, "p1-a", "p1"), Carried(T0, "p1-a", "p1"), Carried(T0 + MIN, "p1-a", "p2"),
        Carried(T0 + 2 * MIN, "p1-a", "p1"), Carried(T0 + 3 * MIN, "p1-a", "p1"),
    ]  # fmt: skip
    assert yard_core.serving_spans(run, "p1-a") == [(T0, T0 + MIN), (T0 + 2 * MIN, None)]
    yard_core.state.carried = [Carried(T0, "p1-a", "p2")]
    assert yard_core.serving_spans(run, "p1-a") == []
    assert yard_core.probes_ever(run) == ["p1-b"]


def test_a_heap_lay_on_each_pile_until_it_went_and_a_part_where_the_whole_did(drive, yard_core):
    drive.work(NOW, "p1", "moved", entered=NOW + MIN, to="p2")
    drive.work(NOW + HOUR, "p2", "split", to="p1")
    whole, part = yard_core.run_at("p2"), yard_core.run_at("p1")
    assert yard_core.spans_of(whole) == [("p1", T0, NOW), ("p2", NOW, FOREVER)]
    assert yard_core.spans_of(part) == [("p1", T0, NOW), ("p2", NOW, NOW + HOUR), ("p1", NOW + HOUR, FOREVER)]
    assert yard_core.pile_of(whole) == "p2"


def test_work_of_a_place_is_of_the_heap_that_lay_there_then(drive, yard_core):
    for at in (T0, NOW):
        drive.work(at, "p1", "watered", entered=NOW + at - T0 + 1)
    drive.work(NOW, "p1", "moved", entered=NOW + DAY, to="p2")
    drive.work(NOW + 1, "p1", "watered", entered=NOW + DAY + 1)
    run = yard_core.run_at("p2")
    found = [(work.kind.value, work.time, own) for work, own in yard_core.works_of(run)]
    assert found == [("watered", T0, True), ("watered", NOW, True), ("moved", NOW, True)]


def test_a_link_that_is_down_says_nothing_about_its_probes(yard_core):
    links = yard_core.state.links
    assert yard_core.link_lives("")
    assert yard_core.link_up_since("") == 0
    links["wire"] = LinkState("channel", up=False, since=5)
    assert yard_core.link_lives(""), "a channel is no source"
    links["mqtt"] = LinkState("source", up=True, since=7)
    links["serial"] = LinkState("source", up=False, since=9)
    assert not yard_core.link_lives("")
    assert yard_core.link_lives("mqtt")
    assert not yard_core.link_lives("serial")
    assert yard_core.link_lives("never named")
    assert yard_core.link_up_since("") == yard_core.link_up_since("mqtt") == 7
    assert yard_core.link_up_since("serial") == yard_core.link_up_since("wire") == 0


def test_only_what_once_held_something_was_cleared(drive, yard_core):
    assert not yard_core.was_cleared("p1")
    assert yard_core.nothing_lies("p2")
    assert not yard_core.was_cleared("p2"), "no heap ever lay there"
    assert not yard_core.was_cleared(AMBIENT)
    drive.work(NOW + MIN, "p1", "emptied")
    assert yard_core.was_cleared("p1")
    drive.work(NOW + 2 * MIN, "b1", "emptied")
    assert yard_core.was_cleared("b1")


def test_a_heap_whose_rounds_count_is_as_timely_as_its_readings(yard_core):
    assert not yard_core.in_time_by_hand("p1", "p1-a")
    series = by_hand(yard_core, "p1", 60_000)
    assert yard_core.in_time_by_hand("p1", series)
    assert yard_core.in_time_by_hand("p1", "hand:p1:round")
    assert not yard_core.in_time_by_hand("p2", "hand:p2:round")
    yard_core.state.hands[series].on_time = False
    assert not yard_core.in_time_by_hand("p1", series)
    yard_core.state.hands[series].on_time, yard_core.state.hands[series].held = True, False
    assert not yard_core.in_time_by_hand("p1", series)


def test_what_decided_a_piles_danger_was_measured_where_it_came_from(yard_core):
    assert yard_core.measured_at("p1", "p1-a") == NOW
    assert yard_core.measured_at("p9", "unknown") == 0
    series = by_hand(yard_core, "p1", 60_000, NOW - MIN)
    assert yard_core.measured_at("p1", series) == NOW - MIN
    yard_core.state.dangers["p1"].brought["p1-a"] = SimpleNamespace(measured=T0)
    assert yard_core.measured_at("p1", "p1-a") == T0
    yard_core.state.watches["p1-b"].accepted_time = None
    assert yard_core.measured_at("p1", "p1-b") == 0


# What tells of now -----------------------------------------------------------------------------------------------


def test_the_least_silence_of_a_heap_is_an_hour_while_its_rule_is_running(yard_core):
    limits = yard_core.settings.probe_thresholds
    yard_core.run_at("p1").rule = RuleState.MET
    assert (
        minimum(yard_core, "p1") == minimum(yard_core, AMBIENT) == minimum(yard_core, "p2") == limits.silent_min_calm_ms
    )
    yard_core.run_at("p1").rule = RuleState.RUNNING
    assert minimum(yard_core, "p1") == minimum(yard_core, "b1") == limits.silent_min_ms


def test_a_probe_speaks_unless_it_is_silent_broken_lost_or_old(yard_core):
    watch = yard_core.state.watches["p1-a"]
    assert speaks(yard_core, "p1-a")
    for name in ("silent", "broken", "lost"):
        setattr(watch, name, True)
        assert not speaks(yard_core, "p1-a")
        setattr(watch, name, False)
    limits = yard_core.settings.probe_thresholds
    yard_core.at = watch.old_from(limits, minimum(yard_core, "p1")) - 1
    assert speaks(yard_core, "p1-a")
    yard_core.at += 1
    assert not speaks(yard_core, "p1-a")
    assert not speaks(yard_core, "never heard")


def test_a_probe_back_from_a_turning_speaks_for_its_heap_once_it_is_warm_again(yard_core):
    watch = yard_core.state.watches["p1-a"]
    for outing, spoken in (
        (OutingState(out=NOW, accepted_from=None), False),
        (OutingState(returned=NOW, accepted_from=NOW + 1), False),
        (OutingState(returned=NOW, accepted_from=NOW), True),
    ):
        yard_core.state.outings["p1-a"] = outing
        assert speaks_for_place(yard_core, "p1-a") is spoken
    watch.outside = NOW
    assert not speaks_for_place(yard_core, "p1-a"), "it lay outside then"
    watch.outside = NOW - 1
    assert speaks_for_place(yard_core, "p1-a")
    assert speaks_for_place(yard_core, "never heard")


def test_values_of_now_are_those_of_probes_in_their_place_and_of_hands_that_count(yard_core):
    by_hand(yard_core, "p1", 55_000, NOW - MIN)
    found = current_values(yard_core, "p1", Quantity.TEMPERATURE)
    assert [(one.series, one.milli, one.by, one.by_hand) for one in found] == [
        ("hand:p1", 55_000, "Ann", True), ("p1-a", 60_000, "", False), ("p1-b", 50_000, "", False),
    ]  # fmt: skip
    assert current_values(yard_core, "b1", Quantity.MOISTURE)[0].milli == 75_000
    assert [one.milli for one in current_values(yard_core, "b1", Quantity.TEMPERATURE)] == [20_000]
    yard_core.state.hands["hand:p1"].held_until = NOW
    yard_core.state.outings["p1-a"] = OutingState(out=NOW)
    assert [one.series for one in current_values(yard_core, "p1", Quantity.TEMPERATURE)] == ["p1-b"]


def test_a_limit_belongs_to_what_is_beyond_it():
    assert (beyond(Alarm.TOO_HOT, 77_000, 77_000), beyond(Alarm.TOO_HOT, 77_000, 76_999)) == (True, False)
    assert (beyond(Alarm.FREEZING, 4_000, 4_000), beyond(Alarm.FREEZING, 4_000, 4_001)) == (True, False)
    assert not beyond(Alarm.SILENT, 4_000, 3_000), "an alarm without a wrong side"


def test_what_was_read_by_hand_outlives_the_last_word_of_a_silent_probe(drive, yard_core):
    drive.hold(NOW + MIN, NOW + HOUR, b1_t=31)
    record = yard_core.state.alarms["b1/overheating"]
    yard_core.at = NOW + HOUR + MIN
    assert outlived_by(yard_core, record) is None
    by_hand(yard_core, "b1", 20_000, NOW + HOUR + MIN, held=NOW + 3 * HOUR)
    assert outlived_by(yard_core, record) is None, "the probe still speaks"
    yard_core.state.watches["b1-t"].silent = True
    assert outlived_by(yard_core, record).series == "hand:b1"
    yard_core.state.hands["hand:b1"].milli = record.values.limit_milli
    assert outlived_by(yard_core, record) is None, "it is as hot as before"
    yard_core.state.hands["hand:b1"].milli = 20_000
    newest = yard_core.bed("b1").axes[Quantity.TEMPERATURE].newest["b1-t"].time
    yard_core.state.hands["hand:b1"].time = newest
    assert outlived_by(yard_core, record) is None, "no newer than the probe's last word"
    yard_core.state.hands["hand:b1"].time = newest + 1
    assert outlived_by(yard_core, record) is not None


# Readings by hand ------------------------------------------------------------------------------------------------


def test_why_a_reading_by_hand_counts_no_longer(yard_core):
    hands = yard_core.state.hands
    by_hand(yard_core, "p1", 60_000)
    hands["hand:p1"].held = False
    assert why_not_held(hands, "p1", NOW, empty=True) == "of the heap that is gone from here"
    assert why_not_held(hands, "p1", NOW, empty=False) == "too long ago to count"
    assert why_not_held(hands, "p1", NOW + HOUR, empty=True) == "too long ago to count"


def test_a_reading_of_the_heap_before_is_known_by_its_time(drive, yard_core):
    by_hand(yard_core, "p1", 60_000, T0)
    hands, batches = yard_core.state.hands, yard_core.state.batches
    assert not is_of_another_heap(last_read(hands, "p1"), batches, "p1"), "it counts"
    hands["hand:p1"].held = False
    assert not is_of_another_heap(last_read(hands, "p1"), batches, "p1"), "of the instant at which this one began"
    hands["hand:p1"].time = T0 - 1
    assert is_of_another_heap(last_read(hands, "p1"), batches, "p1")
    assert not is_of_another_heap(last_read(hands, "p1"), batches, "p2")
    assert last_read(hands, "p2") is None


def test_the_last_round_has_the_coldest_and_the_hottest_of_its_hour(yard_core):
    by_hand(yard_core, "p1", 70_000, NOW - 2 * HOUR, "old")
    by_hand(yard_core, "p1", 60_000, NOW - MIN, "top")
    by_hand(yard_core, "p1", 40_000, NOW, "foot")
    one = last_read(yard_core.state.hands, "p1")
    assert (one.time, one.low, one.high, one.spots, one.by) == (NOW, 40_000, 60_000, 2, "Ann")


def test_in_summer_a_reading_of_a_bed_counts_for_less():
    settings = yard()
    limits = settings.bins["b1"].thresholds
    assert settings.site.summer
    june, january = 1_780_300_000_000, T0 + 70 * DAY
    assert hand_gap_ms(settings, "b1", june) == limits.hand_gap_summer_ms
    assert hand_gap_ms(settings, "b1", january) == limits.hand_gap_ms
    assert hand_gap_ms(settings, "p1", june) == settings.piles["p1"].thresholds.hand_gap_ms


# The rule of a heap ----------------------------------------------------------------------------------------------


def test_a_heap_without_a_tracker_is_near_no_way_of_its_rule(yard_core):
    run = yard_core.run_at("p1")
    assert tracker_now(run) is not None
    assert nearest_way(run) is not None
    assert followed_parts(run)
    assert not turning_waits(run)
    run.hold = None
    assert tracker_now(run) is None
    assert nearest_way(run) is None
    assert followed_parts(run) == []
    assert progress_now(run) is run.walk.progress


def test_without_a_record_no_heap_is_believed_to_have_met_a_rule(drive, yard_core):
    drive.work(NOW, "p1", "moved", entered=NOW + MIN, to="p2")
    run = yard_core.run_at("p2")
    yard_core.history = None
    assert was_met(yard_core, run)(run.batch, NOW) is False
    assert was_met(yard_core, run)("no heap", NOW) is False


def test_a_value_that_another_contradicts_lets_its_heap_be_worked_out_again(yard_core):
    """Else the walk would take the first of the two as if nobody had said otherwise."""
    yard_core.state.clashing["p1-a"] = NOW + MIN
    run = yard_core.run_at("p1")
    take_verdict(yard_core, Verdict(NOW + MIN + 1, "p1-a", 60_000, Flag.PASS, FlagReason.NONE), 0)
    assert run.touched is None
    take_verdict(yard_core, Verdict(NOW + MIN, "p1-a", 60_000, Flag.PASS, FlagReason.NONE), 0)
    assert run.touched == NOW + MIN


def test_a_reading_from_before_a_probe_came_here_concerns_another_place(drive, yard_core):
    drive.work(NOW + MIN, "p2", "probe in", probe="p1-a")
    watch = yard_core.state.watches["p1-a"]
    before = watch.accepted_time
    take_verdict(yard_core, Verdict(NOW + MIN - 1, "p1-a", 61_000, Flag.PASS, FlagReason.NONE), 0)
    assert watch.accepted_time == before
    take_verdict(yard_core, Verdict(NOW + MIN, "p1-a", 61_000, Flag.PASS, FlagReason.NONE), 0)
    assert watch.accepted_time == NOW + MIN
    take_verdict(yard_core, Verdict(NOW + 2 * MIN, "gone", 61_000, Flag.PASS, FlagReason.NONE), 0)
    assert yard_core.verdicts[-1].probe == "gone", "it stands in the record"


# A log without a record ------------------------------------------------------------------------------------------


def carried(*works, follow=None):
    piles = {name: Pile(name=name, rule="us-112-54-turned") for name in ("p1", "p2")}
    settings = plain(yard(piles=piles, bins={}, probes={"x": core("p1")}))["settings"]
    made, run = lone_batch(settings, works, "p2", T0 + HOUR, follow=follow)
    assert run is not None
    return [(one.time, one.place) for one in made.state.carried if one.probe == "x"]


def done(at, place, kind, **more):
    return Work(time=at, place=place, kind=kind, **more)


BUILT = done(T0, "p1", WorkKind.BUILT)
MOVED = done(T0 + DAY, "p1", WorkKind.MOVED, to="p2")


def test_a_probe_goes_with_its_heap_from_pile_to_pile():
    assert carried(BUILT, MOVED) == [(0, ""), (T0, "p1"), (T0 + DAY, "p2")]


def test_a_probe_that_was_put_in_later_was_nowhere_before():
    put = done(T0 + HOUR, "p1", WorkKind.PROBE_IN, probe="x")
    assert carried(BUILT, put, MOVED) == [(0, ""), (T0 + HOUR, "p1"), (T0 + DAY, "p2")]
    assert carried(BUILT, done(T0 + HOUR, "p1", WorkKind.PROBE_IN, probe="y"), MOVED)[1] == (T0, "p1")
    assert carried(BUILT, done(T0 + HOUR, "p1", WorkKind.PROBE_OUT, probe="x"), MOVED)[1] == (T0, "p1")


def test_a_probe_that_came_in_when_the_heap_moved_was_never_on_the_pile_before():
    put = done(T0 + DAY, "p2", WorkKind.PROBE_IN, probe="x")
    first = done(T0 + DAY, "p1", WorkKind.PROBE_IN, probe="x")
    assert carried(BUILT, first, MOVED) == [(0, ""), (T0 + DAY, "p2")]
    assert (T0, "p1") in carried(BUILT, MOVED, put), "after a move it may have been in before"


def test_a_probe_that_was_left_behind_is_nowhere_from_then_on():
    left = done(T0 + DAY, "p1", WorkKind.MOVED, to="p2", note="probes left, not a turning")
    assert carried(BUILT, left) == [(0, ""), (T0, "p1"), (T0 + DAY, "")]
    again = done(T0 + 2 * DAY, "p2", WorkKind.PROBE_IN, probe="x")
    assert carried(BUILT, left, again) == [(0, ""), (T0, "p1"), (T0 + DAY, "p2")]


# What the engine answers -----------------------------------------------------------------------------------------


def test_the_engine_answers_about_the_instant_that_is_asked_for(drive):
    engine = drive.engine
    assert engine.speaks("p1-a", NOW + MIN)
    assert not engine.speaks("p1-a", NOW + 9 * DAY)
    again = Drive(yard(probes=PROBES))
    again.hold(T0, NOW, p1_a=60, p1_b=50, b1_t=20, b1_m=75, air=10)
    engine = again.engine
    assert engine.conditions("b1", NOW) == (Thermal.COMFORT, Dampness.COMFORT)
    assert [one.milli for one in engine.current("b1", Quantity.TEMPERATURE, NOW)] == [20_000]
    assert engine.place_of("p1-a") == "p1"
    assert engine.place_of("nobody") == ""
    assert engine.alone("p1") == ""
    assert engine.apart("p1", NOW) == ""
    assert engine.outlived("b1/overheating", NOW) is None
    assert engine.empty_yet_warm("p1", NOW) == ""
    assert engine.words("p1/too-hot", NOW) is engine.facts("p1/too-hot", NOW) is None
    assert engine.conditions("b1", NOW + 9 * DAY) == (Thermal.UNKNOWN, Dampness.UNKNOWN)
    assert engine.conditions("nowhere", NOW) == (Thermal.UNKNOWN, Dampness.UNKNOWN)
    assert engine.current("b1", Quantity.TEMPERATURE, NOW + 9 * DAY) == []


def test_an_alarm_that_is_over_has_no_words_and_no_facts(drive):
    drive.hold(NOW + MIN, NOW + HOUR, b1_t=31)
    last = NOW + HOUR
    assert drive.engine.facts("b1/overheating", last).value_milli == 31_000
    assert "overheating" in drive.engine.words("b1/overheating", last).short
    drive.read(last + HOUR, b1_t=20)
    assert drive.engine.facts("b1/overheating", last + HOUR) is None
    assert drive.engine.words("b1/overheating", last + HOUR) is None
