"""The hold of the mean of several probes, against exact fractions: probes that cancel each other put it right on its limit."""

import itertools
from fractions import Fraction
from math import ceil, floor

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.proof.holdset import HoldBasis, hold_set
from monitor.proof.rules import Limits
from monitor.proof.temperature import Series

BEGIN = 1_784_000_000_000  # July 2026
LOW = 55_000
STEPS = [1, 7, 60_000, 599_999, 600_000, 3_600_001]


def series(group):
    return [
        Series(
            probe=f"p{n}",
            times=np.array([at for at, _ in readings], dtype=np.int64),
            milli_c=np.array([value for _, value in readings], dtype=np.int64),
        )
        for n, readings in enumerate(group)
    ]


def value(readings, at):
    for (t0, v0), (t1, v1) in itertools.pairwise(readings):
        if t0 <= at <= t1:
            return v0 + Fraction((v1 - v0) * (at - t0), t1 - t0)
    return None


def side_of(first, last, start, end, limit, strict):
    """Of one straight line the first and the last whole ms at or above a limit (above, if strict), or None."""
    if first == last:
        return (start, end) if first > limit or (first == limit and not strict) else None
    crossing = start + (limit - first) * (end - start) / (last - first)
    inner = floor(crossing) + 1 if strict else ceil(crossing)
    outer = ceil(crossing) - 1 if strict else floor(crossing)
    kept = (max(start, inner), end) if last > first else (start, min(end, outer))
    return kept if kept[0] <= kept[1] else None


def mean_hold(group, limits):
    """When the mean is within the limits, line by line, in fractions."""
    start, end = max(one[0][0] for one in group), min(one[-1][0] for one in group)
    knots = sorted({at for one in group for at, _ in one if start <= at <= end} | {start, end})
    means = [sum(value(one, at) for one in group) / len(group) for at in knots]
    found = []
    for (t0, m0), (t1, m1) in itertools.pairwise(zip(knots, means, strict=True)):
        kept = side_of(m0, m1, t0, t1, limits.low_milli_c, limits.strict)
        if kept is not None and limits.high_milli_c is not None:
            under = side_of(-m0, -m1, t0, t1, -limits.high_milli_c, strict=False)
            kept = under and (max(kept[0], under[0]), min(kept[1], under[1]))
        if not kept or kept[0] > kept[1]:
            continue
        if found and found[-1][1] == kept[0]:
            kept = (found.pop()[0], kept[1])
        found.append(kept)
    return tuple(found)


@st.composite
def lines(draw, values):
    times = itertools.accumulate(draw(st.lists(st.sampled_from(STEPS), min_size=1, max_size=7)), initial=BEGIN)
    return [(at, draw(values)) for at in times]


near = st.builds(lambda off: LOW + off, st.sampled_from([-3000, -300, -2, -1, 0, 0, 1, 2, 300, 3000, 7919]))


@st.composite
def cancelling(draw):
    """Pairs that are as far above the limit as below it at every instant, and probes of which the mean then hangs."""
    pairs = [draw(lines(near)) for _ in range(draw(st.integers(1, 2)))]
    mirrored = [[(at, 2 * LOW - one) for at, one in readings] for readings in pairs]
    return [*pairs, *mirrored, *(draw(lines(near)) for _ in range(draw(st.integers(0, 1))))]


@settings(max_examples=150, deadline=None)
@given(
    cancelling() | st.lists(lines(near), min_size=2, max_size=4),
    st.sampled_from([-1, 0, 0, 0, 1]),
    st.sampled_from([None, 0, 1, 150]),
    st.booleans(),
)
def test_the_mean_holds_to_the_very_millisecond(group, off, width, strict):
    limits = Limits(low_milli_c=LOW + off, high_milli_c=None if width is None else LOW + off + width, strict=strict)
    found = hold_set(series(group), limits, max_gap_ms=max(STEPS), basis=HoldBasis.MEAN)
    assert found.hold == (() if limits.hopeless else mean_hold(group, limits))


HUGE = 2**53


@pytest.mark.parametrize("strict", [False, True])
@pytest.mark.parametrize("late", [0, 1, 2**40 + 1])
def test_sixty_four_bits_are_not_too_few_for_a_mean(strict, late):
    # Two probes cancel each other; the third passes the limit where it says.
    wild = [(0, -(2**40) + 5), (HUGE // 3, 2**40), (HUGE, -7)]
    tame = [(at, 2 * LOW - one) for at, one in wild]
    slow = [(0, LOW - 2**39 - late), (HUGE, LOW + 2**39)]
    limits = Limits(low_milli_c=LOW, strict=strict)
    found = hold_set(series([wild, tame, slow]), limits, max_gap_ms=HUGE, basis=HoldBasis.MEAN)
    assert found.hold == mean_hold([wild, tame, slow], limits)
    assert len(found.hold) == 1
