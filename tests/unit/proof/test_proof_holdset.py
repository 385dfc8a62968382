"""Proven and hold sets, to the millisecond, against exact fractions at every millisecond of small records."""

import itertools
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.proof.holdset import HoldBasis, hold_set
from monitor.proof.intervals import contains
from monitor.proof.rules import Limits
from monitor.proof.temperature import Series

LOW = 55_000


def series(readings, service=None, probe="a"):
    times = np.array([at for at, _ in readings], dtype=np.int64)
    values = np.array([value for _, value in readings], dtype=np.int64)
    if service is None:
        return Series(probe=probe, times=times, milli_c=values)
    return Series(probe=probe, times=times, milli_c=values, service=service)


def hold(readings, *, low=LOW, high=None, strict=False, max_gap_ms=10_000, service=None):
    limits = Limits(low_milli_c=low, high_milli_c=high, strict=strict)
    return hold_set([series(readings, service)], limits, max_gap_ms=max_gap_ms)


@st.composite
def probes(draw):
    at, readings = draw(st.integers(0, 9)), []
    for _ in range(draw(st.integers(0, 7))):
        readings.append((at, LOW + draw(st.sampled_from([-3, -2, -1, 0, 0, 1, 2, 4, 7]))))
        at += draw(st.integers(1, 17))
    edges = sorted(draw(st.lists(st.integers(0, 90), min_size=2, max_size=4, unique=True)))
    pairs = list(zip(edges[0::2], edges[1::2], strict=False))
    service = draw(st.sampled_from([((-5, 200),), tuple(pairs)]))
    return readings, service


def known_value(probe, at, max_gap):
    readings, service = probe
    for start, end in service:
        if start <= at < end:
            own = [one for one in readings if start <= one[0] < end]
            for here, value in own:
                if here == at:
                    return Fraction(value)
            for (t0, v0), (t1, v1) in itertools.pairwise(own):
                if t0 < at < t1 and t1 - t0 <= max_gap:
                    return v0 + Fraction((v1 - v0) * (at - t0), t1 - t0)
    return None


def in_service(probe, at):
    return any(start < at < end for start, end in probe[1])


def at_an_edge(group, at):
    return any(at in pair for _, service in group for pair in service)


@settings(max_examples=200, deadline=None)
@given(
    st.lists(probes(), min_size=1, max_size=3),
    st.sampled_from([None, LOW, LOW + 2, LOW + 5]),
    st.booleans(),
    st.sampled_from(HoldBasis),
)
def test_every_millisecond_is_judged_exactly(group, high, strict, basis):
    limits = Limits(low_milli_c=LOW, high_milli_c=high, strict=strict)
    found = hold_set(
        [series(readings, service, f"p{n}") for n, (readings, service) in enumerate(group)],
        limits,
        max_gap_ms=12,
        basis=basis,
    )
    for at in range(-8, 130):
        if at_an_edge(group, at):
            continue  # whether the instant of `probe in` and `probe out` belongs to the service is tested by itself
        values = [known_value(probe, at, 12) for probe in group if in_service(probe, at) or basis is HoldBasis.EACH]
        proven = bool(values) and None not in values
        within = False
        if proven:
            judged = [sum(values) / len(values)] if basis is HoldBasis.MEAN else values
            low_kept = min(judged) > LOW if strict else min(judged) >= LOW
            within = low_kept and (high is None or max(judged) <= high)
        assert contains(found.proven, at) == proven, at
        assert contains(found.hold, at) == within, at


@given(probes(), st.sampled_from([None, LOW + 2]), st.booleans())
def test_a_single_probe_is_the_same_on_every_basis(probe, high, strict):
    limits = Limits(low_milli_c=LOW, high_milli_c=high, strict=strict)
    one = [series(*probe)]
    sets = [hold_set(one, limits, max_gap_ms=12, basis=basis) for basis in HoldBasis]
    assert {(each.proven, each.hold) for each in sets} == {(sets[0].proven, sets[0].hold)}


def test_crossings_are_rounded_inward():
    # From 54.000 to 57.000 in 1000 ms: 55.000 lies at 333.33 ms, on the way back at 2666.67 ms.
    found = hold([(0, 54_000), (1000, 57_000), (2000, 57_000), (3000, 54_000)])
    assert found.proven == ((0, 3000),)
    assert found.hold == ((334, 2666),)


def test_limits_are_included_unless_strict():
    level = [(0, 55_000), (1000, 55_000)]
    assert hold(level).hold == ((0, 1000),)
    assert hold(level, strict=True).hold == ()
    assert hold([(0, 55_000), (1000, 56_000)], strict=True).hold == ((1, 1000),)
    assert hold(level, high=55_000).hold == ((0, 1000),)
    assert hold([(0, 56_000), (1000, 54_000)], low=54_000, high=55_000).hold == ((500, 1000),)


def test_touching_the_limit_is_a_hold_of_one_instant():
    assert hold([(0, 54_000), (1000, 55_000), (2000, 54_000)]).hold == ((1000, 1000),)


def test_a_line_from_above_to_below_passes_through_the_band():
    assert hold([(0, 80_000), (1000, 30_000)], low=55_000, high=70_000).hold == ((200, 500),)
    # Between two whole milliseconds nothing is left.
    assert hold([(0, 80_000), (1, 30_000)], low=55_000, high=70_000).hold == ()


def test_the_longest_gap_is_included_and_a_longer_one_is_unproven():
    readings = [(0, 60_000), (10_000, 60_000), (20_001, 60_000), (21_000, 60_000)]
    found = hold(readings)
    assert found.proven == found.hold == ((0, 10_000), (20_001, 21_000))


def test_no_line_is_drawn_across_a_time_out():
    readings = [(0, 60_000), (1000, 60_000), (3000, 60_000), (4000, 60_000)]
    assert hold(readings, service=((0, 1500), (2500, 9000))).proven == ((0, 1000), (3000, 4000))


def test_times_in_service_that_overlap_are_one():
    readings = [(at, 60_000) for at in range(0, 5001, 500)]
    assert hold(readings, service=((0, 1200), (1200, 2400), (2300, 4100))).proven == ((0, 4000),)
    assert hold(readings, service=((0, 1200), (1200, 4100))).proven == ((0, 1000), (1500, 4000))


def test_a_probe_that_is_out_has_no_say():
    hot = series([(0, 60_000), (5000, 60_000), (10_000, 60_000)], ((0, 10_001),), "hot")
    cold = series([(3000, 20_000), (6000, 20_000), (9000, 60_000)], ((4000, 6001),), "cold")
    found = hold_set([hot, cold], Limits(low_milli_c=LOW), max_gap_ms=10_000)
    # Put in at 4000, first heard within its service at 6000, taken out at once; its other readings are left out.
    assert found.proven == ((0, 4000), (6000, 10_000))
    assert found.hold == ((0, 4000), (6001, 10_000))
    each = hold_set([hot, cold], Limits(low_milli_c=LOW), max_gap_ms=10_000, basis=HoldBasis.EACH)
    assert each.proven == ((6000, 6000),)
    assert each.probes[0].hold == ((0, 10_000),)


def test_a_probe_put_in_hot_does_not_break_a_hold():
    old = series([(0, 60_000), (10_000, 60_000)], ((0, 10_001),), "old")
    new = series([(4000, 60_000), (10_000, 60_000)], ((4000, 20_000),), "new")
    assert hold_set([old, new], Limits(low_milli_c=LOW), max_gap_ms=10_000).hold == ((0, 10_000),)


def test_no_single_instant_appears_where_a_probe_is_taken_out_cold():
    assert hold([(0, 30_000), (1000, 30_000)], service=((0, 1000),)).hold == ()


def test_what_is_read_at_the_very_instant_of_going_out_is_not_of_the_heap():
    readings = [(0, 60_000), (1000, 60_000), (2000, 20_000), (3000, 60_000), (4000, 60_000)]
    assert hold(readings, service=((0, 2000), (3000, 9000))).hold == ((0, 1000), (3000, 4000))
    # Put back at that instant, it is; and no line is drawn to it.
    assert hold(readings, service=((0, 2000), (2000, 9000))).proven == ((0, 1000), (2000, 4000))


def test_at_the_instant_of_going_out_the_others_decide():
    stays = series([(0, 60_000), (1000, 60_000)], probe="stays")
    goes = series([(0, 60_000), (600, 60_000)], ((0, 1000),), "goes")
    assert hold_set([stays, goes], Limits(low_milli_c=LOW), max_gap_ms=9999).hold == ((0, 600), (1000, 1000))


def test_nothing_is_proven_while_no_probe_is_in():
    readings = [(0, 60_000), (1000, 60_000)]
    assert hold(readings, service=()).proven == ()
    assert hold_set([], Limits(low_milli_c=LOW), max_gap_ms=1).proven == ()


def test_a_silent_probe_in_service_leaves_everything_unproven():
    loud = series([(0, 60_000), (1000, 60_000)], probe="loud")
    mute = series([], ((500, 9000),), probe="mute")
    for basis in (HoldBasis.COLDEST, HoldBasis.MEAN):
        assert hold_set([loud, mute], Limits(low_milli_c=LOW), max_gap_ms=9999, basis=basis).hold == ((0, 500),)


def test_the_mean_may_hold_where_the_coldest_does_not():
    one = series([(0, 60_000), (1000, 60_000)], probe="one")
    two = series([(0, 49_000), (1000, 52_000)], probe="two")
    limits = Limits(low_milli_c=LOW)
    assert hold_set([one, two], limits, max_gap_ms=9999).hold == ()
    # The mean passes 55.000 when the second passes 50.000, after 333.33 ms.
    assert hold_set([one, two], limits, max_gap_ms=9999, basis=HoldBasis.MEAN).hold == ((334, 1000),)


def test_sixty_four_bits_are_not_too_few():
    far = 2**53
    readings = [(0, -(2**40)), (far, 2**40)]
    assert hold(readings, low=1, max_gap_ms=far).hold == ((far // 2 + 2**12, far),)
    for basis in HoldBasis:
        found = hold_set([series(readings)], Limits(low_milli_c=1), max_gap_ms=far, basis=basis)
        assert found.hold == ((far // 2 + 2**12, far),)


def test_a_guard_band_draws_both_limits_in():
    limits = Limits(low_milli_c=55_000, high_milli_c=76_667).guarded(500)
    assert (limits.low_milli_c, limits.high_milli_c) == (55_500, 76_167)
    assert Limits(low_milli_c=55_000).guarded(500).high_milli_c is None
    # Drawn in too far, nothing is within.
    assert hold_set([series([(0, 90_000), (99, 10_000)])], limits.guarded(20_000), max_gap_ms=999).hold == ()


def test_disorder_is_the_callers_mistake():
    with pytest.raises(ValueError, match="probe a: its readings are not in strictly rising order"):
        hold([(0, 1), (0, 1)])
    bad = Series(probe="a", times=np.array([1], dtype=np.int64), milli_c=np.array([1, 2], dtype=np.int64))
    with pytest.raises(ValueError, match="probe a: 1 times but 2 values"):
        hold_set([bad], Limits(low_milli_c=1), max_gap_ms=1)


@pytest.mark.parametrize("hot", [[], [(10, LOW + 25_000)]])
def test_a_probe_that_goes_out_at_an_instant_has_no_say_in_the_mean_there(hot):
    stays = series([(at, LOW - 7) for at in (0, 20, 35, 52)], ((-5, 200),), probe="stays")
    leaves = series(hot, ((0, 52),), probe="leaves")
    found = hold_set([leaves, stays], Limits(low_milli_c=LOW), max_gap_ms=20, basis=HoldBasis.MEAN)
    assert (52, 52) in found.proven
    assert (52, 52) not in found.hold
