"""Digests and plans at their very edges: damp, warmth where nothing lies, readings that differ, places that nobody watches."""

from dataclasses import replace

import pytest
from engine_yard import DAY, HOUR, MIN, T0, Drive, air, bedding, core, yard

from monitor.alarms import AlarmRecord
from monitor.engine.context.read_spots import Apart, HandSpot
from monitor.engine.context.state import Logged
from monitor.engine.output.differing_readings import (
    apart_words,
    follow_apart,
    forget_apart,
    furthest_apart,
    remember_apart,
)
from monitor.engine.output.empty_yet_warm import Warm, warm_though_empty
from monitor.engine.output.place_conditions import pile_lines
from monitor.engine.output.unwatched_places import not_known_by_probes, places_watched, thermometers
from monitor.engine.output.wrong_damp import wrong_damp
from monitor.model.alarm_values import AlarmValues
from monitor.model.flags import Flag, FlagReason, Verdict
from monitor.model.sightings import CRUMBLES, RUNS
from monitor.model.units import Quantity
from monitor.model.words import Dampness
from monitor.model.work import Work, WorkKind
from monitor.piles import OutingState

NOW = T0 + 2 * HOUR
PROBES = {
    "p1-a": core("p1"), "p1-b": core("p1"), "p1-m": core("p1", quantity=Quantity.MOISTURE),
    "b1-t": bedding("b1"), "b1-u": bedding("b1"), "b1-m": bedding("b1", Quantity.MOISTURE),
    "b1-2-m": bedding("b1", Quantity.MOISTURE), "air": air(),
}  # fmt: skip


@pytest.fixture
def drive():
    made = Drive(yard(probes=PROBES))
    made.hold(T0, NOW, p1_a=60, p1_b=50, p1_m=50, b1_t=20, b1_u=22, b1_m=75, b1_2_m=77, air=10)
    made.engine.core.at = NOW
    return made


@pytest.fixture
def yard_core(drive):
    return drive.engine.core


def by_hand(core_, place, milli, time=NOW, spot="", held=NOW + HOUR, by="Ann"):
    series = f"hand:{place}:{spot}" if spot else f"hand:{place}"
    core_.state.hands[series] = HandSpot(place, spot, time, milli, time, by, held_until=held)
    return series


# Limits of a heap's moisture and oxygen --------------------------------------------------------------------------


def test_what_no_pile_holds_has_no_limits(yard_core):
    """A probe whose pile has left the settings must not stop the record."""
    for quantity in (Quantity.MOISTURE, Quantity.OXYGEN, Quantity.TEMPERATURE):
        assert pile_lines(yard_core, "nowhere", "p1-m", quantity) == []
    assert pile_lines(yard_core, "p1", "p1-a", Quantity.TEMPERATURE) == []


@pytest.mark.parametrize(
    ("quantity", "limits"),
    [
        (Quantity.MOISTURE, {"pile-too-dry": (39_999, 40_000, 0), "pile-too-wet": (65_001, 65_000, 0)}),
        (Quantity.OXYGEN, {"oxygen": (None, None, None)}),
    ],
)
def test_a_heap_is_wrong_just_beyond_its_limits(yard_core, quantity, limits):
    thresholds = yard_core.settings.piles["p1"].thresholds
    found = {one.name: one for one in pile_lines(yard_core, "p1", "p1-m", quantity)}
    assert list(found) == list(limits)
    for name, one in found.items():
        low = {"pile-too-dry": thresholds.moisture_low_milli_pct, "oxygen": thresholds.oxygen_low_milli_pct}.get(name)
        if low is not None:
            assert (one.bound.beyond.covers(low - 1), one.bound.beyond.covers(low)) == (True, False)
            assert (one.bound.held.covers(low - 1), one.bound.held.covers(low)) == (True, False)
        else:
            high = thresholds.moisture_high_milli_pct
            assert (one.bound.beyond.covers(high + 1), one.bound.beyond.covers(high)) == (True, False)
            assert (one.bound.held.covers(high + 1), one.bound.held.covers(high)) == (True, False)
        assert one.bound.delay_ms == (thresholds.oxygen_dwell_ms if name == "oxygen" else 0)
        assert one.milli == (high if low is None else low)


def test_a_dry_heap_is_told_once_until_it_was_right_again(drive):
    drive.read(NOW + 10 * MIN, p1_m=30)
    drive.read(NOW + 20 * MIN, p1_m=29)
    assert len(drive.digest_lines(": dry, ")) == 1
    drive.read(NOW + 30 * MIN, p1_m=50)
    drive.read(NOW + 40 * MIN, p1_m=30)
    assert len(drive.digest_lines(": dry, ")) == 2


def test_a_heap_that_was_dry_yesterday_is_told_no_more(drive):
    drive.read(NOW + 10 * MIN, received=NOW + DAY + 10 * MIN, p1_m=30)
    assert drive.digest_lines(": dry, ") == []
    other = Drive(yard(probes=PROBES))
    other.read(T0 + MIN, received=T0 + MIN + DAY - 1, p1_m=30)
    assert len(other.digest_lines(": dry, ")) == 1


# What is too dry or too wet now ----------------------------------------------------------------------------------


def damp(core_):
    return [(one.place, one.what, one.due_ms) for one in wrong_damp(core_)]


def test_a_dry_heap_wants_water_until_somebody_watered_it(drive, yard_core):
    assert damp(yard_core) == []
    drive.read(NOW + 10 * MIN, p1_m=30)
    yard_core.at = NOW + 10 * MIN
    assert [place for place, *_ in damp(yard_core)] == ["p1"]
    watch = yard_core.state.watches["p1-m"]
    watch.silent = True
    assert damp(yard_core) == [], "a probe that is silent says nothing of now"
    watch.silent = False
    yard_core.state.works.append(Logged(1, Work(time=NOW + 10 * MIN, place="p1", kind=WorkKind.WATERED)))
    assert [place for place, *_ in damp(yard_core)] == ["p1"], "before it was read"
    yard_core.state.works.append(Logged(2, Work(time=NOW + 11 * MIN, place="p2", kind=WorkKind.WATERED)))
    assert [place for place, *_ in damp(yard_core)] == ["p1"], "another heap"
    yard_core.state.works.append(Logged(3, Work(time=NOW + 11 * MIN, place="p1", kind=WorkKind.WATERED)))
    assert damp(yard_core) == []


def test_a_bed_wants_what_its_driest_or_wettest_probe_says(yard_core):
    bed = yard_core.state.bins["b1"]
    bed.moisture, bed.too_dry.since = Dampness.TOO_DRY, T0 + MIN
    bed.moistures["b1-m"].milli, bed.moistures["b1-2-m"].milli = 55_000, 50_000
    (due,) = wrong_damp(yard_core)
    assert "50 %" in due.why
    bed.moisture, bed.too_wet.since = Dampness.TOO_WET, T0 + MIN
    (due,) = wrong_damp(yard_core)
    assert "55 %" in due.why
    bed.mutes = [(NOW, NOW + 1)]
    assert damp(yard_core) == [], "somebody sees to it"
    bed.mutes = [(NOW - 1, NOW), (NOW + 1, NOW + 2)]
    assert len(damp(yard_core)) == 1
    bed.emptied_at = NOW
    assert damp(yard_core) == []


def test_a_squeezed_handful_speaks_where_no_probe_does_for_two_weeks(yard_core):
    def squeezed(said, at=T0, kind=WorkKind.INSPECTED):
        return Logged(at, Work(time=at, place="b2", kind=kind, squeeze=said))

    works = yard_core.state.bed_works
    yard_core.bed("b2")
    for said, wanted in ((RUNS, 1), (CRUMBLES, 1), ("holds", 0)):
        works[:] = [squeezed(said)]
        assert len(damp(yard_core)) == wanted
    works[:] = [squeezed(CRUMBLES)]
    yard_core.at = T0 + 14 * DAY
    assert len(damp(yard_core)) == 1
    yard_core.at = T0 + 14 * DAY + 1
    assert damp(yard_core) == []
    yard_core.at = NOW
    works[:] = [squeezed(CRUMBLES, T0 + MIN), squeezed("holds", T0)]
    assert len(damp(yard_core)) == 1, "the newest look, whatever was entered last"


@pytest.mark.parametrize(
    ("said", "work", "seen_to"),
    [
        (CRUMBLES, WorkKind.WATERED, True),
        (CRUMBLES, WorkKind.BEDDED, False),
        (RUNS, WorkKind.BEDDED, True),
        (RUNS, WorkKind.WATERED, False),
    ],
)
def test_water_mends_what_crumbles_and_bedding_what_runs(yard_core, said, work, seen_to):
    yard_core.bed("b2")
    look = Logged(1, Work(time=T0, place="b2", kind=WorkKind.INSPECTED, squeeze=said))
    for at, late in ((T0, False), (T0 + 1, True)):
        yard_core.state.bed_works[:] = [look, Logged(2, Work(time=at, place="b2", kind=work))]
        assert (damp(yard_core) == []) is (seen_to and late)


# Empty by the log, and warm --------------------------------------------------------------------------------------


def test_a_place_that_is_empty_by_the_log_is_warm_from_two_hours_after_and_forty_degrees(yard_core):
    assert warm_though_empty(yard_core, "p1") is None, "a heap lies there"
    by_hand(yard_core, "p2", 39_999)
    assert warm_though_empty(yard_core, "p2") is None
    by_hand(yard_core, "p2", 40_000)
    assert warm_though_empty(yard_core, "p2") == Warm("hand:p2", 40_000, NOW)
    yard_core.state.air = 30_001
    assert warm_though_empty(yard_core, "p2") is None, "a probe in the sun is no heap"
    yard_core.state.air = 30_000
    assert warm_though_empty(yard_core, "p2") is not None


def test_people_may_carry_a_heap_away_for_two_hours(drive, yard_core):
    drive.work(NOW, "p1", "emptied")
    core_ = drive.engine.core
    for probe in ("p1-a", "p1-b"):
        core_.state.watches[probe].accepted_time = NOW + 2 * HOUR - 1
    core_.at = NOW + 2 * HOUR
    assert warm_though_empty(core_, "p1") is None
    core_.state.watches["p1-b"].accepted_time = NOW + 2 * HOUR
    assert warm_though_empty(core_, "p1") == Warm("p1-b", 50_000, NOW + 2 * HOUR)
    core_.state.watches["p1-a"].accepted_time = NOW + 2 * HOUR
    assert warm_though_empty(core_, "p1").series == "p1-a", "the hottest"
    core_.state.watches["p1-a"].silent = True
    assert warm_though_empty(core_, "p1").series == "p1-b"
    core_.state.watches["p1-b"].broken = True
    assert warm_though_empty(core_, "p1") is None
    core_.state.watches["p1-b"].broken = False
    core_.state.outings["p1-b"] = OutingState(out=NOW)
    assert warm_though_empty(core_, "p1") is None


def test_an_alarm_of_danger_counts_at_any_temperature(yard_core):
    values = AlarmValues(value_milli=35_000)
    yard_core.state.alarms["p2/fire"] = AlarmRecord("p2", "fire", "p2-a", on=True, last=T0, values=values)
    assert warm_though_empty(yard_core, "p2") == Warm("p2-a", 35_000, T0)
    yard_core.state.alarms["p2/fire"].on = False
    assert warm_though_empty(yard_core, "p2") is None


# A reading by hand and a probe that differ -----------------------------------------------------------------------


def read(milli, time=NOW, series="hand:p1"):
    return Verdict(time, series, milli, Flag.PASS, FlagReason.NONE)


def test_they_differ_by_more_than_five_degrees_from_even_the_nearest_probe(yard_core):
    assert furthest_apart(yard_core, "p1", [read(55_000)]) is None
    assert furthest_apart(yard_core, "p1", [read(65_000)]) is None, "5 °C from the nearer one"
    assert furthest_apart(yard_core, "p1", [read(65_001)]) == (read(65_001), "p1-a", 60_000)
    assert furthest_apart(yard_core, "p1", [read(44_999)]) == (read(44_999), "p1-b", 50_000)


def test_a_probe_is_compared_with_what_was_read_within_its_hour(yard_core):
    hour = yard_core.settings.probe_thresholds.silent_min_ms
    assert furthest_apart(yard_core, "p1", [read(80_000, NOW + hour)]) is not None
    assert furthest_apart(yard_core, "p1", [read(80_000, NOW - hour)]) is not None
    assert furthest_apart(yard_core, "p1", [read(80_000, NOW + hour + 1)]) is None
    for change in ({"silent": True}, {"broken": True}, {"accepted_time": None}, {"accepted_milli": None}):
        kept = yard_core.state.watches["p1-a"]
        yard_core.state.watches["p1-a"] = replace(kept, **change)
        assert furthest_apart(yard_core, "p1", [read(80_000)])[1] == "p1-b"
        yard_core.state.watches["p1-a"] = kept
    yard_core.state.outings["p1-a"] = OutingState(out=T0)
    assert furthest_apart(yard_core, "p1", [read(80_000)])[1] == "p1-b"


def test_a_difference_lasts_until_either_reading_comes_near_the_other(yard_core):
    apart = yard_core.state.apart
    assert remember_apart(yard_core, "p1", [read(70_000)]) == Apart("hand:p1", NOW, 70_000, "p1-a", 60_000)
    follow_apart(yard_core, "p1-a", 64_999)
    follow_apart(yard_core, "p1-m", 70_000)
    assert "p1" in apart
    follow_apart(yard_core, "p1-b", 65_000)
    assert apart == {}
    remember_apart(yard_core, "p1", [read(70_000)])
    remember_apart(yard_core, "p1", [read(80_000, NOW + DAY)])
    assert "p1" in apart, "nothing to compare it with"
    remember_apart(yard_core, "p1", [read(61_000)])
    assert apart == {}


def test_a_difference_is_forgotten_with_its_own_reading(yard_core):
    remember_apart(yard_core, "p1", [read(70_000)])
    forget_apart(yard_core, "p1", "hand:p1:top")
    assert "p1" in yard_core.state.apart
    forget_apart(yard_core, "p1", "hand:p1")
    forget_apart(yard_core, "p1")
    assert yard_core.state.apart == {}


def test_a_difference_is_shown_for_a_day_with_what_the_probe_shows_now(yard_core):
    remember_apart(yard_core, "p1", [read(70_000)])
    yard_core.state.watches["p1-a"].accepted_milli = 62_000
    yard_core.at = NOW + DAY - 1
    assert "62 °C" in apart_words(yard_core, "p1").short
    yard_core.state.outings["p1-a"] = OutingState(out=T0)
    assert "60 °C" in apart_words(yard_core, "p1").short, "outside it shows nothing of the heap"
    yard_core.at = NOW + DAY
    assert apart_words(yard_core, "p1") is None
    assert apart_words(yard_core, "b1") is None


# How a place is watched ------------------------------------------------------------------------------------------


def watch_of(core_, place):
    return next(one for one in places_watched(core_) if one.place == place)


def test_a_heap_is_watched_by_core_probes_and_a_bed_by_any_thermometer(yard_core):
    assert thermometers(yard_core, "p1") == ["p1-a", "p1-b"]
    assert thermometers(yard_core, "b1") == ["b1-t", "b1-u"]


def test_a_place_is_known_by_its_probes_else_by_hands_that_still_count(yard_core):
    one = watch_of(yard_core, "p1")
    assert (one.by.value, one.known, one.last, one.why) == ("probes", True, NOW, "")
    by_hand(yard_core, "p1", 55_000, NOW - MIN)
    assert watch_of(yard_core, "p1").by.value == "probes", "while they speak"
    for probe in ("p1-a", "p1-b"):
        yard_core.state.watches[probe].silent = True
    one = watch_of(yard_core, "p1")
    assert (one.by.value, one.known, one.last, one.who) == ("hand", True, NOW - MIN, "Ann")
    yard_core.state.hands["hand:p1"].held_until = NOW
    one = watch_of(yard_core, "p1")
    assert (one.by.value, one.known, one.why, one.last) == ("probes", False, "silent", NOW)


def test_a_bed_without_probes_is_known_for_as_long_as_its_reading_counts(yard_core):
    assert watch_of(yard_core, "b2").by.value == "nobody"
    by_hand(yard_core, "b2", 20_000, NOW - MIN, "east", by="Bea")
    by_hand(yard_core, "b2", 20_000, NOW, "west")
    one = watch_of(yard_core, "b2")
    assert (one.by.value, one.known, one.last, one.who) == ("hand", True, NOW, "Ann")
    yard_core.state.hands["hand:b2:west"].held = False
    assert watch_of(yard_core, "b2").who == "Bea"
    yard_core.state.hands["hand:b2:east"].held_until = NOW
    one = watch_of(yard_core, "b2")
    assert (one.known, one.why, one.who) == (False, "unread", "Ann")


def test_why_the_probes_of_a_heap_say_nothing(yard_core):
    watches, outings = yard_core.state.watches, yard_core.state.outings
    outings["p1-a"], outings["p1-b"] = OutingState(out=T0 + 5), OutingState(out=T0 + 3)
    one = watch_of(yard_core, "p1")
    assert (one.why, one.last) == ("outside", T0 + 3)
    del outings["p1-b"]
    assert watch_of(yard_core, "p1").known, "one in is enough"
    del outings["p1-a"]
    for probe in ("p1-a", "p1-b"):
        watches[probe].accepted_time = None
    assert watch_of(yard_core, "p1").why == "uncounted"
    watches["p1-a"].newest = None
    assert watch_of(yard_core, "p1").why == "uncounted"
    watches["p1-b"].newest = None
    assert watch_of(yard_core, "p1").why == "never heard"


def test_a_bed_whose_moisture_probes_are_all_silent_is_not_known(yard_core):
    moistures = yard_core.state.bins["b1"].moistures
    moistures["b1-m"].silent, moistures["b1-m"].time = True, NOW - MIN
    assert watch_of(yard_core, "b1").known
    moistures["b1-2-m"].silent = True
    one = watch_of(yard_core, "b1")
    assert (one.known, one.why, one.last) == (False, "moisture silent", NOW)
    assert not_known_by_probes(yard_core) == ["p2", "b1", "b2"]
    moistures.clear()
    assert watch_of(yard_core, "b1").known
