"""Records longer than what is looked at in one go, and sets longer than a tuple: nothing may change at the seams."""

import itertools
import random
from fractions import Fraction
from math import ceil, floor

import numpy as np
import pytest

from monitor.proof.holdset import HoldBasis, hold_set, hold_sets
from monitor.proof.holdset.mean_within import mean_holds
from monitor.proof.intervals import Spans, contains, intersection, normal
from monitor.proof.rules import Limits
from monitor.proof.temperature import Series
from monitor.proof.temperature import knots as bundles
from monitor.proof.temperature import segments as stretches

LOW = 55_000


def noisy(rng, count, probe="a", step=(1, 40), gap=0.05, service=None):
    times, at = [], rng.randint(0, 50)
    for _ in range(count):
        times.append(at)
        at += rng.randint(*step) if rng.random() > gap else 200
    values = [LOW + rng.choice([-900, -333, -62, -1, 0, 0, 1, 63, 125, 700]) for _ in times]
    series = Series(probe=probe, times=np.array(times, dtype=np.int64), milli_c=np.array(values, dtype=np.int64))
    return (
        series if service is None else Series(probe=probe, times=series.times, milli_c=series.milli_c, service=service)
    )


@pytest.fixture
def small_chunks(monkeypatch):
    """Look at seven elements in one go."""
    monkeypatch.setattr(stretches, "CHUNK", 7)
    monkeypatch.setattr(bundles, "CHUNK", 7)


@pytest.mark.parametrize("basis", HoldBasis)
@pytest.mark.parametrize("high", [None, LOW + 100])
def test_pieces_change_nothing(basis, high, monkeypatch):
    rng = random.Random(5)
    for _ in range(40):
        span = 900
        services = [None, ((20, 300), (310, span)), ((100, 2000),)]
        group = [
            noisy(rng, rng.randint(1, 60), f"p{n}", service=rng.choice(services)) for n in range(rng.randint(1, 3))
        ]
        limits = Limits(low_milli_c=LOW, high_milli_c=high, strict=rng.random() < 0.3)
        whole = hold_set(group, limits, max_gap_ms=45, basis=basis)
        with monkeypatch.context() as patch:
            patch.setattr(stretches, "CHUNK", 7)
            patch.setattr(bundles, "CHUNK", 7)
            cut = hold_set(group, limits, max_gap_ms=45, basis=basis)
        assert tuple(cut.hold) == tuple(whole.hold)
        assert tuple(cut.proven) == tuple(whole.proven)
        for one, other in zip(cut.probes, whole.probes, strict=True):
            assert (tuple(one.proven), tuple(one.hold)) == (tuple(other.proven), tuple(other.hold))


def plain_hold(series, low, max_gap):
    """The hold of one probe, a line at a time with fractions."""
    found = []
    pairs = list(zip(series.times.tolist(), series.milli_c.tolist(), strict=True))
    found += [(t, t) for t, v in pairs if v >= low]
    for (t0, v0), (t1, v1) in itertools.pairwise(pairs):
        if t1 - t0 > max_gap or max(v0, v1) < low:
            continue
        start, end = Fraction(t0), Fraction(t1)
        if v0 < low:
            start = t0 + Fraction((low - v0) * (t1 - t0), v1 - v0)
        if v1 < low:
            end = t0 + Fraction((low - v0) * (t1 - t0), v1 - v0)
        if ceil(start) <= floor(end):
            found.append((ceil(start), floor(end)))
    return normal(found)


@pytest.mark.usefixtures("small_chunks")
def test_long_noise_agrees_with_one_line_at_a_time():
    rng = random.Random(8)
    group = [noisy(rng, 3000, f"p{n}", step=(1, 20)) for n in range(3)]
    limits = Limits(low_milli_c=LOW)
    found = hold_set(group, limits, max_gap_ms=30)
    own = [plain_hold(one, LOW, 30) for one in group]
    assert isinstance(found.hold, Spans)
    assert [tuple(one.hold) for one in found.probes] == own
    assert tuple(found.hold) == intersection(intersection(own[0], own[1]), own[2])


def exact_mean(group, at, max_gap):
    """The mean at any instant as a fraction, or None where one of the probes says nothing."""
    values = []
    for one in group:
        place = int(np.searchsorted(one.times, at, "right")) - 1
        if place < 0:
            return None
        t0, v0 = int(one.times[place]), int(one.milli_c[place])
        if t0 == at:
            values.append(Fraction(v0))
            continue
        if place + 1 == one.times.size or int(one.times[place + 1]) - t0 > max_gap:
            return None
        t1, v1 = int(one.times[place + 1]), int(one.milli_c[place + 1])
        values.append(v0 + Fraction((v1 - v0) * (at - t0), t1 - t0))
    return sum(values) / len(values)


@pytest.mark.usefixtures("small_chunks")
@pytest.mark.parametrize("case", ["jittered", "in step", "in step but shifted"])
@pytest.mark.parametrize("strict", [False, True])
def test_means_are_exact_at_every_millisecond(case, strict):
    rng = random.Random(f"{case}{strict}")
    high = LOW + 90
    for _ in range(6):
        if case == "jittered":
            group = [noisy(rng, 40, f"p{n}") for n in range(3)]
        else:
            # Steps that values divide, so that many crossings fall on whole milliseconds and many sums on a limit.
            shifts = [0, 0, 0] if case == "in step" else [0, 8, 12]
            group = [
                Series(
                    probe=f"p{n}",
                    times=np.arange(40, dtype=np.int64) * 20 + shift,
                    milli_c=np.array([LOW + rng.choice([-60, -5, 0, 5, 20, 40]) for _ in range(40)], dtype=np.int64),
                )
                for n, shift in enumerate(shifts)
            ]
        limits = Limits(low_milli_c=LOW, high_milli_c=high, strict=strict)
        found = hold_set(group, limits, max_gap_ms=45, basis=HoldBasis.MEAN)
        seen = set()
        for at in range(int(max(one.times[-1] for one in group)) + 5):
            mean = exact_mean(group, at, 45)
            within = mean is not None and (mean > LOW if strict else mean >= LOW) and mean <= high
            assert contains(found.proven, at) == (mean is not None), at
            assert contains(found.hold, at) == within, at
            seen.add(None if mean is None else (mean > LOW) - (mean < LOW))
        assert {-1, 1} <= seen


def test_a_mean_that_is_nearly_level_crosses_where_it_should():
    # The sum rises by 1 thousandth in 2**40 ms; it is 110000 exactly half-way.
    far = 2**41
    group = [
        Series(probe="a", times=np.array([0, far]), milli_c=np.array([54_999, 55_001])),
        Series(probe="b", times=np.array([0, far - 2]), milli_c=np.array([55_000, 55_000])),
    ]
    known = [stretches.stretches(one, far) for one in group]
    proven = Spans(np.array([0]), np.array([far - 2]))
    assert tuple(mean_holds(known, proven, Limits(low_milli_c=LOW))) == ((far // 2, far - 2),)
    assert tuple(mean_holds(known, proven, Limits(low_milli_c=LOW, strict=True))) == ((far // 2 + 1, far - 2),)


def test_several_limits_at_once_are_the_same_as_one_by_one():
    rng = random.Random(3)
    group = [noisy(rng, 200, f"p{n}") for n in range(2)]
    limits = [Limits(low_milli_c=LOW + off, high_milli_c=None if off else LOW + 50) for off in (-50, 0, 60)]
    for basis in HoldBasis:
        together = hold_sets(group, limits, max_gap_ms=30, basis=basis)
        assert together == [hold_set(group, one, max_gap_ms=30, basis=basis) for one in limits]
