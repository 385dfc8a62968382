"""The line that governs a batch, against exact fractions at every millisecond of small records."""

import itertools
import random
from fractions import Fraction

import numpy as np
import pytest

from monitor.proof.governing import LinePiece, clip, extremes, governing
from monitor.proof.holdset import HoldBasis, hold_set
from monitor.proof.intervals import contains
from monitor.proof.rules import Limits
from monitor.proof.temperature import Series
from monitor.proof.temperature import knots as bundles
from monitor.proof.temperature import segments as stretches

EVERY = {"max_gap_ms": 30}


def probe(readings, name="a", service=None):
    times = np.array([at for at, _ in readings], dtype=np.int64)
    values = np.array([value for _, value in readings], dtype=np.int64)
    if service is None:
        return Series(probe=name, times=times, milli_c=values)
    return Series(probe=name, times=times, milli_c=values, service=service)


def points(pieces):
    return [list(zip(one.times.tolist(), one.milli_c.tolist(), strict=True)) for one in pieces]


def at(readings, when):
    for (t0, v0), (t1, v1) in itertools.pairwise(readings):
        if t0 <= when <= t1:
            return v0 + Fraction((v1 - v0) * (when - t0), t1 - t0)
    return None


def random_probe(rng, slow):
    times = itertools.accumulate((rng.randint(1, 25) for _ in range(rng.randint(2, 12))), initial=rng.randint(0, 20))
    return [(when * slow, rng.randint(0, 40)) for when in times]


@pytest.mark.parametrize("chunk", [7, 1 << 15])
@pytest.mark.parametrize("kind", ["coldest", "hottest", "mean"])
def test_the_line_is_right_at_every_millisecond(kind, chunk, monkeypatch):
    monkeypatch.setattr(stretches, "CHUNK", chunk)
    monkeypatch.setattr(bundles, "CHUNK", chunk)
    rng = random.Random(f"{kind}")
    basis = HoldBasis.MEAN if kind == "mean" else HoldBasis.COLDEST
    compared = 0
    for _ in range(60):
        group = [random_probe(rng, slow=3) for _ in range(rng.randint(1, 4))]
        series = [probe(readings, f"p{n}") for n, readings in enumerate(group)]
        line = governing(series, max_gap_ms=60, basis=basis, hottest=kind == "hottest")
        proven = hold_set(series, Limits(low_milli_c=0), max_gap_ms=60, basis=basis).proven
        for when in range(-2, 800):
            here = [one for one in line if one.times[0] <= when <= one.times[-1]]
            assert bool(here) == contains(proven, when)
            if not here:
                continue
            values = [Fraction(at(readings, when)) for readings in group]
            true = {"coldest": min, "hottest": max, "mean": lambda all_: sum(all_) / len(all_)}[kind](values)
            place = np.flatnonzero(here[0].times == when)
            if place.size:
                assert int(here[0].milli_c[place[0]]) == round(true)  # half to even, once
            # Between its points a line is off by no more than half of a rounding at both.
            drawn = at(points(here)[0], when) if here[0].times.size > 1 else Fraction(int(here[0].milli_c[0]))
            assert abs(drawn - true) < 1
            compared += 1
    assert compared > 2000


def test_both_milliseconds_around_a_change_of_the_coldest_are_points():
    falling, rising = probe([(0, 30_000), (30, 10_000)], "a"), probe([(0, 10_000), (30, 31_000)], "b")
    # They meet at 20000 t / 41 ... 14.63 ms, at 20.244.
    line = governing([falling, rising], **EVERY)
    assert points(line) == [[(0, 10_000), (14, 19_800), (15, 20_000), (30, 10_000)]]
    hottest = governing([falling, rising], **EVERY, hottest=True)
    assert points(hottest) == [[(0, 30_000), (14, 20_667), (15, 20_500), (30, 31_000)]]


def test_three_probes_may_change_twice_between_two_readings():
    group = [probe([(0, 0), (30, 3000)], "a"), probe([(0, 900), (30, 900)], "b"), probe([(0, 3000), (30, 0)], "c")]
    assert points(governing(group, **EVERY)) == [
        [(0, 0), (9, 900), (10, 900), (21, 900), (22, 800), (30, 0)],
    ]


def test_three_probes_that_meet_at_one_instant_leave_it_to_the_one_that_falls_fastest():
    # All three pass 900 at 15 ms; a fourth takes over from the fastest at 25 ms.
    ends = {"a": (900, 900), "b": (1800, 0), "c": (2700, -900), "d": (3000, -960)}
    group = [probe([(0, first), (30, last)], name) for name, (first, last) in ends.items()]
    for order in (group, group[::-1]):
        (line,) = points(governing(order, **EVERY))
        assert dict(line)[25] == -300
        for when, value in line:
            assert value == round(min(at([(0, first), (30, last)], when) for first, last in ends.values()))


def test_a_gap_and_a_coming_probe_start_new_pieces():
    old = probe([(0, 60), (20, 60), (40, 60), (99, 50), (110, 50)], "old")
    new = probe([(10, 20), (35, 20), (40, 20)], "new", ((10, 41),))
    # In from 10 to 41: there the coldest jumps, and pieces share the instant.
    assert points(governing([old, new], max_gap_ms=25)) == [
        [(0, 60), (10, 60)],
        [(10, 20), (20, 20), (35, 20), (40, 20)],
        [(99, 50), (110, 50)],
    ]
    each = governing([old, new], max_gap_ms=25, basis=HoldBasis.EACH)
    assert points(each) == [[(10, 20), (20, 20), (35, 20), (40, 20)]]


@pytest.mark.parametrize("basis", [HoldBasis.COLDEST, HoldBasis.MEAN])
def test_sixty_four_bits_are_not_too_few_for_a_line(basis):
    far, wide = 2**53, 2**40
    wild, slow = [(0, -wide), (far, wide - 5)], [(0, 3 * wide), (far // 3, 3 * wide + 1), (far, 3 * wide + 7)]
    (line,) = points(governing([probe(wild, "a"), probe(slow, "b")], max_gap_ms=far, basis=basis))
    assert [when for when, _ in line] == [0, far // 3, far]
    for when, value in line:
        true = at(wild, when) if basis is HoldBasis.COLDEST else Fraction(at(wild, when) + at(slow, when)) / 2
        assert value == round(true)


def test_a_single_reading_is_a_piece_of_one_point():
    assert points(governing([probe([(5, 7)])], **EVERY)) == [[(5, 7)]]
    assert governing([probe([])], **EVERY) == ()
    assert governing([], **EVERY) == ()


def piece(*readings):
    return LinePiece(np.array([t for t, _ in readings]), np.array([v for _, v in readings]))


def test_clipping_puts_points_at_both_ends():
    line = (piece((0, 0), (10, 100), (20, 0)), piece((50, 7)))
    assert points(clip(line, 5, 15)) == [[(5, 50), (10, 100), (15, 50)]]
    assert points(clip(line, 2, 4)) == [[(2, 20), (4, 40)]]
    assert points(clip(line, 10, 10)) == [[(10, 100)]]
    assert points(clip(line, 0, 60)) == points(line)
    assert points(clip(line, 20, 50)) == [[(20, 0)], [(50, 7)]]
    assert clip(line, 21, 49) == ()


def test_extremes():
    line = (piece((0, 0), (10, 100), (20, 0)), piece((50, -7)))
    assert extremes(line) == (-7, 100)
    assert extremes(line, 4, 8) == (40, 80)
    assert extremes(line, start=20) == (-7, 0)
    assert extremes(line, end=9) == (0, 90)
    assert extremes(line, 21, 49) is None
    assert extremes((), 0, 5) is None
    assert extremes(()) is None
