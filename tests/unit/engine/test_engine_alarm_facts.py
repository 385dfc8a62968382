"""The facts behind an alarm's words, each by itself: whose number is told, how old it is, who still speaks."""

from dataclasses import replace

import pytest
from engine_yard import HOUR, MIN, T0, Drive, air, bedding, core, yard

from monitor.alarms import AlarmRecord
from monitor.engine.context.dangerous_heat import Brought
from monitor.engine.context.read_spots import HandSpot
from monitor.engine.output.alarm_facts import facts_of, outside, over_words, past_facts
from monitor.model.alarm_kinds import Alarm
from monitor.model.alarm_values import AlarmValues
from monitor.model.units import Quantity
from monitor.piles import OutingState

NOW = T0 + 2 * HOUR
PROBES = {
    "p1-a": core("p1"), "p1-b": core("p1"), "b1-t": bedding("b1"), "b1-u": bedding("b1"),
    "b1-m": bedding("b1", Quantity.MOISTURE), "b1-2-m": bedding("b1", Quantity.MOISTURE), "air": air(),
}  # fmt: skip


@pytest.fixture
def drive():
    """A heap and a bed; every probe was heard just now."""
    made = Drive(yard(probes=PROBES))
    made.hold(T0, NOW, p1_a=60, p1_b=50, b1_t=20, b1_u=22, b1_m=75, b1_2_m=77, air=10)
    made.engine.core.at = NOW
    return made


@pytest.fixture
def yard_core(drive):
    return drive.engine.core


def record(place, alarm, probe="", value=None, limit=None, **more):
    values = AlarmValues(
        value_milli=value,
        limit_milli=limit,
        **{k: more.pop(k) for k in ("hottest_of_heap_milli", "variant") if k in more},
    )
    known = {"on": True, "since": T0, "last": T0, **more}
    return AlarmRecord(place=place, alarm=alarm, probe=probe, values=values, **known)


def by_hand(core_, place, milli, time=NOW, spot="", held=NOW + HOUR):
    series = f"hand:{place}:{spot}" if spot else f"hand:{place}"
    core_.state.hands[series] = HandSpot(place, spot, time, milli, time, held_until=held)
    return series


# A heap's alarm is told with the heap's present values -----------------------------------------------------------


def test_a_cold_corner_is_told_with_the_values_of_both_as_they_are_now(yard_core):
    corner = record("p1", Alarm.COLD_CORNER, "p1-b", 30_000, hottest_of_heap_milli=70_000)
    facts = facts_of(yard_core, corner)
    assert (facts.value_milli, facts.other_milli) == (50_000, 60_000)
    assert facts_of(yard_core, replace(corner, values=AlarmValues(value_milli=30_000))).other_milli is None
    yard_core.state.watches["p1-b"].silent = True
    facts = facts_of(yard_core, corner)
    assert (facts.value_milli, facts.other_milli) == (30_000, 60_000), "who is silent keeps its word"
    yard_core.state.watches["p1-a"].silent = True
    assert facts_of(yard_core, corner).other_milli == 70_000


def test_a_corner_whose_probe_never_counted_keeps_the_number_it_rang_with(yard_core):
    corner = record("p1", Alarm.COLD_CORNER, "p1-b", 30_000, hottest_of_heap_milli=70_000)
    yard_core.state.watches["p1-b"].accepted_milli = None
    assert facts_of(yard_core, corner).value_milli == 30_000
    del yard_core.state.watches["p1-b"]
    assert facts_of(yard_core, corner).value_milli == 30_000


@pytest.mark.parametrize(
    ("alarm", "variant", "told"),
    [
        (Alarm.TURNING_DUE, "", 50_000),  # its rule goes by the coldest
        (Alarm.TURNING_DUE, "gone cold", 60_000),
        (Alarm.STALLED, "", 60_000),
        (Alarm.COOLED_UNMET, "", 60_000),
    ],
)
def test_a_heap_is_told_by_its_coldest_or_hottest_probe(yard_core, alarm, variant, told):
    assert facts_of(yard_core, record("p1", alarm, "", 33_000, variant=variant)).value_milli == told
    for probe in ("p1-a", "p1-b"):
        yard_core.state.watches[probe].silent = True
    assert facts_of(yard_core, record("p1", alarm, "", 33_000, variant=variant)).value_milli == 33_000


def test_only_what_is_about_the_rule_names_the_probes_that_lie_outside(yard_core):
    yard_core.state.outings["p1-a"] = OutingState(out=T0, accepted_from=None)
    assert facts_of(yard_core, record("p1", Alarm.TURNING_DUE)).outside == outside(yard_core, "p1")
    assert facts_of(yard_core, record("p1", Alarm.STALLED)).outside.out == ()


def test_probes_outside_are_told_only_beside_others_that_are_in(yard_core):
    assert outside(yard_core, "p1").out == ()
    yard_core.state.outings["p1-a"] = OutingState(out=T0)
    assert (outside(yard_core, "p1").out, outside(yard_core, "p1").rest) == (("p1-a",), ("p1-b",))
    yard_core.state.outings["p1-b"] = OutingState(out=T0)
    assert outside(yard_core, "p1").out == ()


def test_a_heap_without_probes_is_told_as_it_was_read_by_hand():
    drive = Drive(yard(probes={"air": air()}))
    core_ = drive.engine.core
    core_.at = NOW
    by_hand(core_, "p1", 55_000, NOW - MIN, "top")
    by_hand(core_, "p1", 40_000, NOW, "foot")
    facts = facts_of(core_, record("p1", Alarm.TURNING_DUE, "", 33_000))
    assert (facts.value_milli, facts.read_at) == (40_000, NOW)
    assert facts_of(core_, record("p1", Alarm.TURNING_DUE, "", 33_000, variant="gone cold")).value_milli == 55_000
    assert facts_of(core_, record("p1", Alarm.STALLED, "", 33_000)).read_at is None


# Where it is heading ---------------------------------------------------------------------------------------------


def test_a_trend_is_of_readings_in_the_place_alone(yard_core):
    hot = record("p1", Alarm.TOO_HOT, "p1-a", 78_000, 77_000)
    assert facts_of(yard_core, hot).trend_milli_k_per_h == 0
    begun = yard_core.state.watches["p1-a"].trail[0][0]
    yard_core.state.outings["p1-a"] = OutingState(returned=begun, accepted_from=begun)
    assert facts_of(yard_core, hot).trend_milli_k_per_h == 0
    yard_core.state.outings["p1-a"] = OutingState(returned=begun, accepted_from=begun + 1)
    assert facts_of(yard_core, hot).trend_milli_k_per_h is None
    yard_core.state.outings["p1-a"] = OutingState(out=NOW, accepted_from=None)
    assert facts_of(yard_core, hot).trend_milli_k_per_h is None
    del yard_core.state.outings["p1-a"]
    assert facts_of(yard_core, replace(hot, place="p2")).trend_milli_k_per_h is None
    assert facts_of(yard_core, record("b1", Alarm.TOO_WET, "b1-m", 86_000, 85_000)).trend_milli_k_per_h is None
    assert facts_of(yard_core, record("p1", Alarm.SILENT, "p1-a")).trend_milli_k_per_h is None


def test_an_alarm_about_a_probe_has_the_quantity_of_that_probe(yard_core):
    assert facts_of(yard_core, record("b1", Alarm.SILENT, "b1-m")).quantity is Quantity.MOISTURE
    assert facts_of(yard_core, record("b1", Alarm.SILENT, "b1-t")).quantity is Quantity.TEMPERATURE
    assert facts_of(yard_core, record("b1", Alarm.TOO_WET, "b1-m")).quantity is Quantity.MOISTURE


# What nobody hears any more --------------------------------------------------------------------------------------


def test_a_heap_is_silent_where_all_its_probes_are(yard_core):
    """A number that nobody hears any more is told with the instant of the last word, and who said it."""
    stalled = record("p1", Alarm.STALLED)
    assert facts_of(yard_core, stalled).stale is None
    yard_core.state.watches["p1-a"].silent = True
    assert facts_of(yard_core, stalled).stale is None
    yard_core.state.watches["p1-b"].lost = True
    yard_core.state.watches["p1-a"].accepted_time = NOW - HOUR
    assert facts_of(yard_core, stalled).stale.at == NOW
    yard_core.state.watches["p1-b"].accepted_time = None
    assert facts_of(yard_core, stalled).stale.at == NOW - HOUR, "a probe that never counted says nothing"
    yard_core.state.watches["p1-a"].accepted_time = None
    assert facts_of(yard_core, stalled).stale is None


def test_dangerous_heat_goes_by_the_probes_that_brought_it(yard_core):
    hot = record("p1", Alarm.TOO_HOT, "p1-a", 78_000, 77_000)
    danger = yard_core.state.dangers["p1"]
    assert facts_of(yard_core, hot).stale is None
    danger.silent = ["p1-a"]
    told = facts_of(yard_core, hot).stale
    assert (told.at, told.others_speak) == (NOW, True)
    danger.silent = ["p1-a", "p1-b"]
    told = facts_of(yard_core, hot).stale
    assert (told.at, told.others_speak) == (NOW, False)
    danger.silent = ["p1-b"]
    yard_core.state.watches["p1-a"].lost = True
    assert not facts_of(yard_core, hot).stale.others_speak, "who is lost is silent"


def test_a_bed_goes_by_the_probes_of_the_alarms_own_quantity(yard_core):
    wet = record("b1", Alarm.TOO_WET, "b1-m", 86_000, 85_000)
    bed = yard_core.state.bins["b1"]
    for one in bed.temperatures.values():
        one.silent = True
    assert facts_of(yard_core, wet).stale is None
    bed.moistures["b1-m"].silent = True
    told = facts_of(yard_core, wet).stale
    assert (told.at, told.others_speak) == (NOW, True)
    bed.moistures["b1-2-m"].silent = True
    assert not facts_of(yard_core, wet).stale.others_speak


def test_an_alarm_about_the_silence_itself_tells_no_old_number_as_one(yard_core):
    for one in yard_core.state.bins["b1"].temperatures.values():
        one.silent = True
    assert facts_of(yard_core, record("b1", Alarm.SILENT, "b1-t", 20_000)).stale is None
    assert facts_of(yard_core, record("b1", Alarm.OVERHEATING, "b1-t", 31_000, 29_000)).stale is not None
    assert facts_of(yard_core, record("b1", Alarm.OVERHEATING, "b1-t", 31_000, 29_000, on=False)).stale is None


def test_a_probe_that_lies_outside_is_told_as_outside_and_not_as_dead(yard_core):
    hot = record("p1", Alarm.TOO_HOT, "p1-a", 78_000, 77_000)
    yard_core.state.dangers["p1"].silent = ["p1-a"]
    assert not facts_of(yard_core, hot).stale.outside
    yard_core.state.outings["p1-a"] = OutingState(out=NOW)
    assert facts_of(yard_core, hot).stale.outside
    yard_core.state.dangers["p1"].silent = ["p1-a", "p1-b"]
    assert not facts_of(yard_core, hot).stale.outside, "the other fell silent in its place"
    yard_core.state.outings["p1-b"] = OutingState(out=NOW)
    assert facts_of(yard_core, hot).stale.outside


def test_a_probe_that_was_carried_off_may_still_speak_elsewhere(drive, yard_core):
    hot = record("p1", Alarm.TOO_HOT, "p1-a", 78_000, 77_000)
    yard_core.state.dangers["p1"].silent = ["p1-a", "p1-b"]
    assert not facts_of(yard_core, hot).stale.elsewhere
    drive.work(NOW, "p2", "probe in", entered=NOW + 1, probe="p1-a")
    yard_core.state.dangers["p1"].newest = {"p1-a": 78_000}
    yard_core.state.dangers["p1"].silent = ["p1-a"]
    assert facts_of(yard_core, hot).stale.elsewhere
    gone = replace(hot, probe="p9-x")
    yard_core.state.dangers["p1"].newest = {"p9-x": 78_000}
    yard_core.state.dangers["p1"].silent = ["p9-x"]
    assert not facts_of(yard_core, gone).stale.elsewhere, "a probe that is no more speaks nowhere"


# What was read by hand since -------------------------------------------------------------------------------------


def test_what_was_read_by_hand_since_is_told_beside_the_silence(yard_core):
    hot = record("p1", Alarm.TOO_HOT, "p1-a", 78_000, 77_000)
    yard_core.state.dangers["p1"].silent = ["p1-a", "p1-b"]
    for watch in ("p1-a", "p1-b"):
        yard_core.state.watches[watch].accepted_time = NOW - HOUR
    assert facts_of(yard_core, hot).stale.read_at is None
    by_hand(yard_core, "p1", 65_000, NOW - HOUR)
    assert facts_of(yard_core, hot).stale.read_at is None, "at the same instant is not since"
    by_hand(yard_core, "p1", 65_000, NOW - HOUR + 1)
    by_hand(yard_core, "p1", 40_000, NOW - HOUR + 1, "foot")
    told = facts_of(yard_core, hot).stale
    assert (told.read_at, told.read_milli) == (NOW - HOUR + 1, 65_000), "the hottest, of an alarm of heat"
    stalled = facts_of(yard_core, record("p1", Alarm.STALLED))
    assert stalled.stale is None
    for one in yard_core.state.hands.values():
        one.held_until = NOW
    assert facts_of(yard_core, hot).stale.read_at is None, "too long ago to count"


def test_of_a_bed_that_is_cold_the_coldest_is_told(yard_core):
    cold = record("b1", Alarm.FREEZING, "b1-t", 3_000, 4_000)
    for one in yard_core.state.bins["b1"].temperatures.values():
        one.silent, one.time = True, NOW - HOUR
    by_hand(yard_core, "b1", 9_000, NOW, "east")
    by_hand(yard_core, "b1", 6_000, NOW, "west")
    told = facts_of(yard_core, cold).stale
    assert (told.read_at, told.read_milli) == (NOW, 6_000)
    wet = record("b1", Alarm.TOO_WET, "b1-m", 86_000, 85_000)
    for one in yard_core.state.bins["b1"].moistures.values():
        one.silent, one.time = True, NOW - HOUR
    assert facts_of(yard_core, wet).stale.read_at is None, "a thermometer says nothing about moisture"


# Who is said to hold it open -------------------------------------------------------------------------------------


def test_an_alarm_that_another_probe_holds_open_is_told_by_that_one(yard_core):
    hot = record("p1", Alarm.TOO_HOT, "p1-a", 78_000, 60_400)
    danger = yard_core.state.dangers["p1"]
    danger.newest = {"p1-a": 78_000, "p1-b": 60_000, "p1-c": 59_000}
    danger.silent = ["p1-a"]
    facts = facts_of(yard_core, hot)
    assert (facts.probe, facts.value_milli) == ("p1-b", 60_000), "within the deadband of half a degree"
    danger.newest["p1-b"] = 59_899
    assert facts_of(yard_core, hot).probe == "p1-a", "nobody who speaks holds it"
    danger.newest["p1-b"] = 60_000
    danger.silent = ["p1-a", "p1-b"]
    danger.newest["p1-c"] = 61_000
    assert facts_of(yard_core, hot).probe == "p1-c"
    yard_core.state.watches["p1-c"] = replace(yard_core.state.watches["p1-a"], lost=True)
    assert facts_of(yard_core, hot).probe == "p1-a"


# Turned since ----------------------------------------------------------------------------------------------------


def test_a_heap_turned_after_its_hot_reading_is_told_as_turned(drive, yard_core):
    hot = record("p1", Alarm.TOO_HOT, "p1-a", 78_000, 77_000, last=NOW)
    drive.work(NOW, "p1", "turned", entered=NOW + 1)
    assert facts_of(yard_core, hot).turned_at is None, "the reading is of after it"
    drive.work(NOW + MIN, "p1", "turned", entered=NOW + 2 * MIN)
    facts = facts_of(yard_core, hot)
    assert (facts.turned_at, facts.read_at) == (NOW + MIN, NOW)
    assert facts_of(yard_core, record("p1", Alarm.STALLED)).turned_at is None
    yard_core.state.dangers["p1"].brought["p1-a"] = Brought(NOW + 2 * MIN, "p2", NOW + MIN)
    assert facts_of(yard_core, hot).turned_at is None, "it was read after that turning, where it came from"


# Over ------------------------------------------------------------------------------------------------------------


def over(core_, one):
    return over_words(core_, one).short


def test_an_alarm_that_is_over_says_the_number_that_ended_it(yard_core):
    was = record("p1", Alarm.TOO_HOT, "p1-a", 78_000, 77_000, on=False)
    assert over(yard_core, was).endswith("now 60 °C")
    assert "now" not in over(yard_core, replace(was, values=AlarmValues(value_milli=78_000, limit_milli=60_000)))
    for change in ({"silent": True}, {"accepted_milli": None}):
        kept = yard_core.state.watches["p1-a"]
        yard_core.state.watches["p1-a"] = replace(kept, **change)
        assert "now" not in over(yard_core, was)
        yard_core.state.watches["p1-a"] = kept
    assert "now" not in over(yard_core, replace(was, place="p2"))
    yard_core.state.outings["p1-a"] = OutingState(returned=NOW, accepted_from=NOW + 1)
    assert "now" not in over(yard_core, was)
    assert "now" not in over(yard_core, record("p1", Alarm.SILENT, "p1-b", 50_000, on=False))


def test_an_alarm_by_hand_that_is_over_says_what_was_read_unless_that_was_taken_back(yard_core):
    series = by_hand(yard_core, "p1", 61_000)
    was = record("p1", Alarm.TOO_HOT, series, 78_000, 77_000, on=False)
    assert over(yard_core, was).endswith("now 61 °C")
    back = AlarmValues(value_milli=78_000, limit_milli=77_000, taken_back=True)
    assert "61" not in over(yard_core, replace(was, values=back))


def test_an_excursion_of_the_past_ends_with_its_last_reading(yard_core):
    was = record("p1", Alarm.TOO_HOT, "p1-a", 78_000, 77_000, on=False, last=T0 + MIN)
    assert past_facts(yard_core, was).ending.until == T0 + MIN
    assert past_facts(yard_core, was).stale is None
