"""The running mean, against exact fractions worked out line by line."""

import itertools
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.proof.holdset import HoldBasis, hold_set
from monitor.proof.rules import Limits, load_rule
from monitor.proof.temperature import Series, smooth
from monitor.proof.verdict import Outcome, Question, prove

MINUTE = 60_000


def series(readings, service=None, probe="a"):
    times = np.array([at for at, _ in readings], dtype=np.int64)
    values = np.array([value for _, value in readings], dtype=np.int64)
    if service is None:
        return Series(probe=probe, times=times, milli_c=values)
    return Series(probe=probe, times=times, milli_c=values, service=service)


def integral(readings, start, end):
    """The exact integral of the line through the readings."""
    whole = Fraction(0)
    for (t0, v0), (t1, v1) in itertools.pairwise(readings):
        first, last = max(t0, start), min(t1, end)
        if first < last:
            at = [v0 + Fraction((v1 - v0) * (t - t0), t1 - t0) for t in (first, last)]
            whole += (at[0] + at[1]) / 2 * (last - first)
    return whole


def stretches_of(readings, max_gap):
    found = [[readings[0]]]
    for one, two in itertools.pairwise(readings):
        if two[0] - one[0] > max_gap:
            found.append([])
        found[-1].append(two)
    return found


@settings(max_examples=300, deadline=None)
@given(
    st.lists(st.tuples(st.integers(1, 30), st.integers(-40, 90)), min_size=1, max_size=12),
    st.integers(1, 40),
    st.integers(5, 30),
    st.integers(-1_000_000, 1_000_000),
)
def test_every_point_is_the_exact_mean_rounded_once(steps, window, max_gap, begin):
    times = list(itertools.accumulate((step for step, _ in steps), initial=begin))[1:]
    readings = list(zip(times, (value for _, value in steps), strict=True))
    expected = {}
    for stretch in stretches_of(readings, max_gap):
        first, last = stretch[0][0] + window // 2, stretch[-1][0] - (window - window // 2)
        inner = [at for at, _ in stretch if first < at < last]
        for at in [first, *inner, last] if first <= last else []:
            mean = integral(stretch, at - window // 2, at + window - window // 2) / window
            expected[at] = round(mean)  # of a Fraction: exact, half to even
    found = smooth(series(readings), window, max_gap)
    assert dict(zip(found.times.tolist(), found.milli_c.tolist(), strict=True)) == expected
    assert found.times.tolist() == sorted(expected)


def test_halves_go_to_the_even_thousandth():
    # A rise of 1 in 10 ms: the mean over the middle is 0.5 above, over the next rise 1.5 above.
    assert smooth(series([(0, 10), (10, 11)]), 10, 99).milli_c.tolist() == [10]
    assert smooth(series([(0, 11), (10, 12)]), 10, 99).milli_c.tolist() == [12]
    assert smooth(series([(0, -11), (10, -12)]), 10, 99).milli_c.tolist() == [-12]


def test_none_leaves_everything_as_it_is():
    one = series([(0, 1), (5, 2)])
    assert smooth(one, 0, 10) is one
    with pytest.raises(ValueError, match="cannot be taken over -1 ms"):
        smooth(one, -1, 10)


def test_a_level_line_stays_and_a_straight_one_is_only_shortened():
    level = smooth(series([(n * MINUTE, 55_000) for n in range(61)]), 20 * MINUTE, MINUTE)
    assert set(level.milli_c.tolist()) == {55_000}
    assert (level.times[0], level.times[-1]) == (10 * MINUTE, 50 * MINUTE)
    rising = smooth(series([(n * MINUTE, 50_000 + 100 * n) for n in range(61)]), 20 * MINUTE, MINUTE)
    assert rising.milli_c.tolist() == [50_000 + 100 * n for n in range(10, 51)]


def test_the_window_must_fit_within_a_proven_stretch():
    readings = [(0, 60_000), (10, 60_000), (20, 60_000), (100, 60_000), (104, 60_000), (200, 60_000), (210, 60_000)]
    found = hold_set([smooth(series(readings), 10, 10)], Limits(low_milli_c=55_000), max_gap_ms=10)
    # The stretch of 4 ms says nothing any more; the one of exactly 10 ms a single instant.
    assert found.proven == ((5, 15), (205, 205))
    assert smooth(series([]), 10, 10).times.size == 0
    assert smooth(series([(5, 60_000)]), 10, 10).times.size == 0


def test_a_window_never_reaches_across_a_time_out():
    readings = [(at, 60_000) for at in range(0, 101, 5)]
    found = hold_set([smooth(series(readings, ((0, 40), (42, 100))), 10, 10)], Limits(low_milli_c=1), max_gap_ms=10)
    # A service is half open: at 40 the probe is out, and at 42 it is in, so that the first reading stands at 45.
    assert found.proven == ((5, 30), (50, 90))


def test_a_short_dip_is_smoothed_away_and_a_long_one_is_not():
    def batch(dip):
        values = [60_000] * 75 * 60
        values[2000 : 2000 + dip] = [54_000] * dip
        return [series([(n * MINUTE, value) for n, value in enumerate(values)])]

    rule = load_rule("us-503-pfrp-static")  # 72 h unbroken (40 CFR 503 App. B, seen second hand)
    asked = {"max_gap_ms": 120 * MINUTE, "basis": HoldBasis.COLDEST}
    assert prove(Question(rule=rule, **asked), batch(3)).outcome is Outcome.NOT_MET
    assert prove(Question(rule=rule, **asked, smoothing_ms=30 * MINUTE), batch(3)).outcome is Outcome.MET
    assert prove(Question(rule=rule, **asked, smoothing_ms=30 * MINUTE), batch(60)).outcome is Outcome.NOT_MET


def test_a_guard_band_raises_the_limit():
    rule = load_rule("us-503-pfrp-static")
    batch = [series([(n * MINUTE, 55_400) for n in range(72 * 60 + 1)])]
    assert prove(Question(rule=rule, max_gap_ms=120 * MINUTE, guard_milli_k=400), batch).outcome is Outcome.MET
    assert prove(Question(rule=rule, max_gap_ms=120 * MINUTE, guard_milli_k=401), batch).outcome is Outcome.NOT_MET


def test_sixty_four_bits_are_not_too_few():
    far = 2**53
    readings = [(-far, -(2**40)), (0, 0), (far, 2**40), (2 * far, 2**40 - 1)]
    window = 2**52 + 3
    found = smooth(series(readings), window, 2 * far)
    for at, value in zip(found.times.tolist(), found.milli_c.tolist(), strict=True):
        start = at - window // 2
        assert value == round(integral(readings, start, start + window) / window)
    assert found.times.size == 4
