"""How long a probe is waited for: by its own spacing, by its heat, and by its link."""

import pytest
from engine_yard import DAY, HOUR, MIN, T0, Drive, core, yard
from hypothesis import given
from hypothesis import strategies as st

from monitor.engine.context.probe_watch import ProbeWatch, kept_instants, median_spacing
from monitor.model.thresholds import PileThresholds, ProbeThresholds

LIMITS, PILE = ProbeThresholds(), PileThresholds()
HOT = PILE.lost_above_milli_c


def watch(*instants, milli=20_000, late=False, from_=T0):
    found = ProbeWatch(from_)
    for at in instants:
        found.arrive(at, late)
        found.accept(at, at, milli, late, HOT)
    return found


# Spacing ----------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("instants", "median"),
    [([], 0), ([5], 0), ([0, 10], 10), ([0, 10, 30], 10), ([0, 10, 30, 60], 20), ([0, 30, 40], 10)],
)
def test_a_spacing_is_the_lower_median(instants, median):
    assert median_spacing(instants) == median


@given(st.lists(st.integers(0, 60), max_size=60))
def test_many_arrivals_are_noted_as_one_by_one(steps):
    instants = sorted(T0 + step * MIN for step in steps)
    one, many = ProbeWatch(T0), ProbeWatch(T0)
    for at in instants:
        one.arrive(at, late=False)
    half = len(instants) // 2
    known = [T0 - MIN]
    kept_instants(many.arrivals, instants[:half])
    new = kept_instants(many.arrivals, instants[half:])
    assert many.arrivals == one.arrivals
    assert new is bool(set(instants[half:]) - set(instants[:half]))
    assert kept_instants(known, [T0 - MIN]) is False
    assert len(one.arrivals) <= 20


def test_a_probe_is_silent_after_three_spacings_and_no_sooner_than_the_least():
    often = watch(*range(T0, T0 + HOUR + 1, 10 * MIN))
    assert often.silent_due(LIMITS, HOUR) == T0 + 2 * HOUR
    assert often.silent_due(LIMITS, MIN) == T0 + HOUR + 30 * MIN
    assert often.broken_due(LIMITS, HOUR) == T0 + 2 * HOUR
    assert often.broken_due(LIMITS, MIN) == T0 + HOUR + 30 * MIN
    never = ProbeWatch(T0)
    assert (never.silent_due(LIMITS, HOUR), never.broken_due(LIMITS, HOUR)) == (T0 + HOUR, T0 + HOUR)
    asked_again = watch(*range(T0, T0 + HOUR + 1, 10 * MIN), from_=T0 + 3 * HOUR)
    assert asked_again.silent_due(LIMITS, HOUR) == asked_again.broken_due(LIMITS, HOUR) == T0 + 4 * HOUR


def test_what_arrives_late_or_twice_at_one_instant_changes_no_spacing():
    found = watch(T0, T0 + 10 * MIN)
    found.arrive(T0 + 10 * MIN, late=False)
    found.arrive(T0 + HOUR, late=True)
    assert found.arrivals == [T0, T0 + 10 * MIN]
    assert found.silent_due(LIMITS, MIN) == T0 + HOUR + 30 * MIN, "yet it was heard"
    found.accept(T0 + 2 * HOUR, T0 + 2 * HOUR, 1, True, HOT)
    assert found.accepted == [T0, T0 + 10 * MIN]
    assert found.broken_due(LIMITS, MIN) == T0 + 2 * HOUR + 30 * MIN


def test_a_new_arrival_is_worked_into_the_spacing():
    found = watch(T0, T0 + 10 * MIN)
    assert found.silent_due(LIMITS, 1) == T0 + 40 * MIN
    found.arrive(T0 + HOUR, late=False)
    found.arrive(T0 + 2 * HOUR, late=False)
    assert found.silent_due(LIMITS, 1) == T0 + 2 * HOUR + 150 * MIN
    assert found.broken_due(LIMITS, 1) == T0 + 40 * MIN


# Hot and lost -----------------------------------------------------------------------------------------------------------


def test_a_probe_counts_as_lost_only_if_it_was_hot_within_six_hours_of_its_last_reading():
    found = watch(T0, milli=HOT)
    assert found.hot_time is None, "at the limit is not above it"
    found.accept(T0 + 1, T0 + 1, HOT + 1, False, HOT)
    assert found.hot_time == T0 + 1
    found.accept(T0 + 6 * HOUR + 1, T0 + 6 * HOUR + 1, 20_000, True, HOT)
    found.arrive(T0 + 6 * HOUR + 1, late=True)
    assert found.lost_due(LIMITS, PILE, 0) == T0 + 6 * HOUR + 1 + PILE.lost_silence_ms
    assert found.lost_due(LIMITS, PILE, T0 + 7 * HOUR) == T0 + 7 * HOUR + PILE.lost_silence_ms
    found.accept(T0 + 6 * HOUR + 2, T0 + 6 * HOUR + 2, 20_000, True, HOT)
    assert found.lost_due(LIMITS, PILE, 0) is None
    assert ProbeWatch(T0).lost_due(LIMITS, PILE, 0) is None


def test_a_probe_that_is_heard_seldom_is_lost_after_three_spacings():
    found = watch(T0, T0 + 20 * MIN, milli=HOT + 1)
    assert found.lost_due(LIMITS, PILE, 0) == T0 + 20 * MIN + HOUR


# Trend ------------------------------------------------------------------------------------------------------------------


def test_a_trend_is_of_half_an_hour_at_least_and_three_hours_at_most():
    found = ProbeWatch(T0)
    assert found.trend() is None
    for minute in range(30):
        found.accept(T0 + minute * MIN, T0 + minute * MIN, 20_000 + minute * 100, False, HOT)
    assert found.trend() is None
    found.accept(T0 + 30 * MIN, T0 + 30 * MIN, 23_000, False, HOT)
    assert found.trend() == 6_000
    for minute in range(31, 301):
        found.accept(T0 + minute * MIN, T0 + minute * MIN, 23_000, False, HOT)
    assert found.trend() == 0, "of the last three hours alone"
    assert found.trail[0][0] == T0 + 120 * MIN
    assert all(b[0] - a[0] == 10 * MIN for a, b in zip(found.trail, found.trail[1:], strict=False))


# Links and loss ---------------------------------------------------------------------------------------------------------


def test_a_hot_probe_is_not_lost_while_its_own_link_is_down_and_another_link_does_not_matter():
    probes = {"p1-a": core("p1", source="mqtt")}
    for name, rings in (("mqtt", False), ("serial", True)):
        drive = Drive(yard(probes=probes, bins={}))
        drive.hold(T0, T0 + HOUR, p1_a=75)
        drive.feed(T0 + HOUR + MIN, "link", {"what": "source", "name": name, "up": False, "why": ""})
        drive.advance(T0 + 2 * HOUR)
        assert bool(drive.rings("hot-and-lost")) is rings
        drive.feed(T0 + 2 * HOUR + MIN, "link", {"what": "source", "name": name, "up": True, "why": ""})
        drive.advance(T0 + 2 * HOUR + 31 * MIN)
        assert drive.rings("hot-and-lost") == ([T0 + HOUR + 30 * MIN] if rings else [T0 + 2 * HOUR + 31 * MIN])


def test_where_a_probe_names_no_source_any_link_that_is_down_may_be_its_own():
    drive = Drive(yard(probes={"p1-a": core("p1")}, bins={}))
    drive.hold(T0, T0 + HOUR, p1_a=75)
    drive.feed(T0 + HOUR + MIN, "link", {"what": "source", "name": "serial", "up": False, "why": ""})
    drive.feed(T0 + HOUR + 2 * MIN, "link", {"what": "channel", "name": "mail", "up": False, "why": ""})
    drive.advance(T0 + DAY)
    assert drive.rings("hot-and-lost") == []
