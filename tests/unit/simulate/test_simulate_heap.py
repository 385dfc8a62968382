"""A simulated pile: its books close, it behaves like a pile, and its faults are those of real piles."""

from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.model.times import parse_time
from monitor.simulate.hot_pile import Heap
from monitor.simulate.material import Mix, Nature
from monitor.simulate.weather import Climate, Weather

START = parse_time("2026-06-01T12:00:00Z")
STEP_S = 600
TURNINGS = (7, 10, 13, 16, 19)


def _live(heap, days, *, turnings=(), litres=70.0, seed=1, step_s=STEP_S, climate=None):
    """Let a heap live; return its core, middle and air temperatures, one row a step."""
    weather = Weather(climate or Climate(), Random(seed), START)
    rows = []
    for step in range(int(days * 86_400 / step_s)):
        air = weather.at(START + step * step_s * 1_000)
        if step and step * step_s % 86_400 == 0 and step * step_s // 86_400 in turnings:
            heap.turn(air)
            heap.water(litres, 14.0)
        heap.step(step_s, air)
        rows.append((heap.core_c(), heap.shells[1].celsius(), air.celsius))
    return rows


def _close(heap):
    """Check that heat, water and dry matter held are what the books say, to 1e-6 of all that moved."""
    moved = sum(abs(joules) for joules in heap.books.heat.values())
    assert abs(heap.heat_held() - heap.books.heat_sum()) <= 1e-6 * moved
    assert abs(heap.water_held() - heap.books.water_sum()) <= 1e-6 * sum(map(abs, heap.books.water.values()))
    assert abs(heap.dry_held() - heap.books.dry_sum()) <= 1e-6 * sum(map(abs, heap.books.dry.values()))


@pytest.fixture(scope="module")
def turned():
    heap = Heap(Mix(), 1.8, 1.8)
    return heap, _live(heap, 57, turnings=TURNINGS)


def test_books_close_over_a_turned_batch(turned):
    heap, _ = turned
    _close(heap)
    assert set(heap.books.heat) == {
        "built", "microbes", "surface", "sun", "ground", "rising air", "evaporation", "turning", "watering",
    }  # fmt: skip


@settings(max_examples=12, deadline=None)
@given(
    moisture=st.floats(0.2, 0.82),
    kilos=st.floats(50.0, 20_000.0),
    celsius=st.floats(2.0, 60.0),
    acts=st.lists(st.tuples(st.sampled_from(["turn", "water"]), st.integers(0, 400)), max_size=6),
    seed=st.integers(0, 1_000),
)
def test_books_close_whatever_is_done(moisture, kilos, celsius, acts, seed):
    side = (kilos / 600.0) ** (1 / 3)
    heap = Heap(Mix(wet_kg=kilos, moisture=moisture, celsius=celsius), side, side)
    weather = Weather(Climate(), Random(seed), START)
    due = {}
    for act, step in acts:
        due.setdefault(step, []).append(act)
    for step in range(400):
        air = weather.at(START + step * 1_200_000)
        for act in due.get(step, ()):
            if act == "turn":
                heap.turn(air)
            else:
                heap.water(0.05 * kilos, 10.0)
        heap.step(1_200, air)
        assert -30.0 < heap.core_c() < 105.0
        assert all(shell.water > 0.0 and shell.fast >= 0.0 and shell.slow >= 0.0 for shell in heap.shells)
    _close(heap)


def test_metabolic_water_and_heat_follow_what_is_eaten(turned):
    heap, _ = turned
    eaten = -heap.books.dry["microbes"]
    assert 0.15 * 960 < eaten < 0.45 * 960
    assert heap.books.heat["microbes"] == pytest.approx(Nature().heat_j_kg * eaten)
    assert heap.books.water["microbes"] == pytest.approx(Nature().water_kg_kg * eaten)


def test_a_good_mix_reaches_its_hold_within_two_to_five_days(turned):
    _, rows = turned
    first = next(step for step, row in enumerate(rows) if row[0] >= 55.0) * STEP_S / 86_400
    assert 2.0 <= first <= 5.0


def test_the_hold_lasts_one_to_four_weeks_and_does_not_burn(turned):
    _, rows = turned
    hot = sum(row[0] >= 55.0 for row in rows) * STEP_S / 86_400
    assert 7.0 <= hot <= 28.0
    assert 60.0 <= max(row[0] for row in rows) <= 71.0


def test_it_cools_to_near_the_air_in_eight_weeks(turned):
    _, rows = turned
    day = 86_400 // STEP_S
    last = rows[-2 * day :]
    excess = sum(core - air for core, _, air in last) / len(last)
    assert 0.0 < excess < 14.0


def test_a_turning_cools_the_core_which_then_heats_again(turned):
    _, rows = turned
    at = TURNINGS[0] * 86_400 // STEP_S
    before, after = rows[at - 1][0], rows[at][0]
    assert after < before - 4.0
    assert max(row[0] for row in rows[at : at + 2 * 86_400 // STEP_S]) > 60.0


def test_a_turning_warms_the_outside_and_evens_the_shells():
    heap = Heap(Mix(), 1.8, 1.8)
    rows = _live(heap, 6)
    assert rows[-1][0] > 55.0
    weather = Weather(Climate(), Random(1), START)
    spread = heap.core_c() - heap.shells[2].celsius()
    outside = heap.shells[2].celsius()
    heap.turn(weather.at(START))
    assert heap.shells[2].celsius() > outside
    assert heap.core_c() - heap.shells[2].celsius() < 0.5 * spread
    _close(heap)


@pytest.mark.parametrize(
    ("mix", "side_m"),
    [
        pytest.param(Mix(moisture=0.76), 1.8, id="too wet"),
        pytest.param(Mix(moisture=0.28), 1.8, id="too dry"),
        pytest.param(Mix(wet_kg=60.0), 0.5, id="too small"),
        pytest.param(Mix(fast=0.02, slow=0.20), 1.8, id="nothing to eat"),
    ],
)
def test_a_bad_pile_stalls(mix, side_m):
    rows = _live(Heap(mix, side_m, side_m), 14)
    assert max(row[0] for row in rows) < 55.0


def test_a_wet_pile_lacks_air():
    heap = Heap(Mix(moisture=0.76), 1.8, 1.8)
    _live(heap, 7)
    assert heap.oxygen_at(0.6) < 5.0
    airy = Heap(Mix(), 1.8, 1.8)
    _live(airy, 7)
    assert airy.oxygen_at(0.6) > 8.0


def test_a_big_dense_dryish_pile_passes_170_degf():
    heap = Heap(
        Mix(wet_kg=60_000.0, moisture=0.46, dry_density=320.0), 12.0, 4.0, Nature(permeability_m2=2.0e-9)
    )  # fmt: skip
    rows = _live(heap, 45, step_s=1_800)
    assert max(row[0] for row in rows) > 77.0
    assert max(row[0] for row in rows) < 100.0
    _close(heap)


def test_a_dead_heap_follows_the_air():
    heap = Heap(Mix(fast=0.0, slow=0.0, celsius=50.0, wet_kg=800.0), 1.2, 1.2)
    rows = _live(heap, 40)
    last = rows[-144:]
    assert abs(sum(core - air for core, _, air in last) / len(last)) < 6.0
    assert "microbes" not in heap.books.heat or heap.books.heat["microbes"] == 0.0


def test_the_result_hardly_depends_on_the_step():
    coarse, fine = Heap(Mix(), 1.8, 1.8), Heap(Mix(), 1.8, 1.8)
    last_coarse = _live(coarse, 10, turnings=(7,))[-1]
    last_fine = _live(fine, 10, turnings=(7,), step_s=150)[-1]
    assert last_coarse[0] == pytest.approx(last_fine[0], abs=0.5)
    assert coarse.water_held() == pytest.approx(fine.water_held(), rel=0.005)


def test_depth_runs_from_the_surface_to_the_core():
    heap = Heap(Mix(), 1.8, 1.8)
    _live(heap, 5)
    air = Weather(Climate(), Random(1), START).at(START)
    depths = [heap.at_depth(depth / 50.0, air) for depth in range(40)]
    assert depths == sorted(depths)
    assert depths[-1] == heap.core_c()
    assert heap.at_depth(0.0, air) < heap.shells[2].celsius()


def test_watering_brings_cold_water_and_what_is_too_much_drips():
    heap = Heap(Mix(), 1.8, 1.8)
    before = heap.core_c()
    heap.water(3_000.0, 5.0)
    assert heap.core_c() < before
    _live(heap, 3)
    assert heap.books.water["dripping"] < -500.0
    _close(heap)
