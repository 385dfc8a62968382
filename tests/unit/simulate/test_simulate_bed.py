"""A simulated worm bin: its books close, and it warms, dries, drips and freezes as a bin does."""

from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.model.times import HOUR_MS, parse_time
from monitor.simulate.weather import Climate, Spell, Weather
from monitor.simulate.worm_bin import Bed, Bedding, Box

START = parse_time("2026-06-01T04:00:00Z")


def _live(bed, days, *, start=START, seed=1, spells=(), climate=None, each=None):
    weather = Weather(climate or Climate(), Random(seed), start, spells)
    rows = []
    for step in range(int(days * 144)):
        air = weather.at(start + step * 600_000)
        if each is not None:
            each(step, bed, air)
        bed.step(600, air)
        rows.append((bed.at(0.25), bed.at(0.75), air.celsius))
    return rows


def _close(bed):
    moved = sum(abs(joules) for joules in bed.books.heat.values())
    assert abs(bed.heat_held() - bed.books.heat_sum()) <= 1e-6 * moved
    assert abs(bed.water_held() - bed.books.water_sum()) <= 1e-6 * sum(map(abs, bed.books.water.values()))
    assert abs(bed.dry_held() - bed.books.dry_sum()) <= 1e-6 * sum(map(abs, bed.books.dry.values()))


@settings(max_examples=15, deadline=None)
@given(
    acts=st.lists(
        st.tuples(st.sampled_from(["feed", "water", "bed", "cover"]), st.integers(0, 700), st.floats(0.1, 20.0)),
        max_size=8,
    ),
    moisture=st.floats(0.4, 0.88),
    celsius=st.floats(0.0, 35.0),
    winter=st.booleans(),
)
def test_books_close_whatever_is_done(acts, moisture, celsius, winter):
    bed = Bed(Box(damping=0.3), Bedding(moisture=moisture, celsius=celsius))

    def each(step, bed, air):
        for act, when, amount in acts:
            if when == step and act == "feed":
                bed.feed(amount, air.celsius, near=0.8)
            elif when == step and act == "water":
                bed.water(amount, 12.0)
            elif when == step and act == "bed":
                bed.bed_down(amount, air.celsius)
            elif when == step:
                bed.cover(0.5, 2.0)

    _live(bed, 5, each=each, start=parse_time("2026-01-10T04:00:00Z") if winter else START)
    _close(bed)
    assert all(half.water > 0.0 and half.food >= 0.0 for half in bed.halves)


def test_fresh_food_warms_the_bed():
    plain, fed = Bed(Box(sunlit=0.0), Bedding()), Bed(Box(sunlit=0.0), Bedding())
    fed.feed(8.0, 18.0)
    still, warm = _live(plain, 3), _live(fed, 3)
    rise = [two[0] - one[0] for one, two in zip(still, warm, strict=True)]
    assert 3.0 < max(rise) < 25.0
    assert max(rise) > rise[-1]


def test_a_usual_meal_warms_it_little():
    plain, fed = Bed(Box(), Bedding()), Bed(Box(), Bedding())
    fed.feed(1.2, 18.0)
    rise = [two[0] - one[0] for one, two in zip(_live(plain, 4), _live(fed, 4), strict=True)]
    assert 0.2 < max(rise) < 4.0


def test_a_sunny_wall_warms_the_near_half_more():
    clear = (Spell(start=START - HOUR_MS, end=START + 30 * 24 * HOUR_MS, cloud=0.0),)
    sunny, shaded = Bed(Box(), Bedding()), Bed(Box(sunlit=0.0), Bedding())
    lit, dark = _live(sunny, 6, spells=clear), _live(shaded, 6, spells=clear)
    assert max(row[0] for row in lit) > max(row[0] for row in dark) + 3.0
    evening = lit[5 * 144 + 132 - 24]  # 18:00 local on the sixth day
    assert evening[0] > evening[1] + 0.5


def test_a_bed_swings_less_than_the_air():
    rows = _live(Bed(Box(sunlit=0.0), Bedding()), 10)[720:]
    air = [row[2] for row in rows]
    bed = [row[0] for row in rows]
    assert max(bed) - min(bed) < 0.6 * (max(air) - min(air))


def test_a_shed_keeps_out_part_of_the_swing():
    def swing(box):
        rows = [row[0] for row in _live(Bed(box, Bedding()), 8)[576:]]
        return max(rows) - min(rows)

    assert swing(Box(sunlit=0.0, damping=0.8)) < swing(Box(sunlit=0.0))


def test_too_much_water_drips_and_a_clogged_tap_keeps_it():
    open_tap, clogged = Bed(Box(), Bedding()), Bed(Box(drain_h=1_000.0), Bedding())
    for bed in (open_tap, clogged):
        bed.water(90.0, 12.0)
        _live(bed, 3)
    assert clogged.moisture_at(0.5) > open_tap.moisture_at(0.5) + 0.01
    assert open_tap.moisture_at(0.5) == pytest.approx(5.2 / 6.2, abs=0.01)


def test_a_bed_dries_faster_without_its_lid():
    lidded, bare = Bed(Box(), Bedding()), Bed(Box(), Bedding())
    bare.cover(1.0, 10.0)
    _live(lidded, 20)
    _live(bare, 20)
    assert bare.moisture_at(0.5) < lidded.moisture_at(0.5) - 0.02
    assert bare.moisture_at(0.5) < 0.76


def test_freezing_holds_at_zero_until_the_heat_of_fusion_is_gone():
    cold = Climate(mean_c=-8.0, yearly_k=0.0, daily_k=0.0, noise_k=0.0)
    bed = Bed(Box(sunlit=0.0), Bedding(celsius=3.0, wet_kg=40.0, rots=0.0))
    rows = _live(bed, 30, climate=cold, start=parse_time("2026-01-10T04:00:00Z"))
    held = sum(row[0] == 0.0 for row in rows)
    assert held > 144
    assert bed.at(0.5) < 0.0
    assert sum(half.ice() for half in bed.halves) == pytest.approx(bed.water_held())
    _close(bed)


def test_a_frozen_bed_drips_nothing_and_is_never_colder_than_the_air():
    # The books alone cannot see it: ice that drips takes its heat of fusion out of what stays.
    cold = Climate(mean_c=-6.0, yearly_k=0.0, daily_k=0.0, noise_k=0.0)
    bed = Bed(Box(sunlit=0.0, vent_m_s=0.0, drain_h=1e6), Bedding(celsius=0.5, wet_kg=40.0, moisture=0.90, rots=0.0))
    _live(bed, 12, climate=cold, start=parse_time("2026-01-10T04:00:00Z"))
    frozen = bed.water_held()
    assert sum(half.ice() for half in bed.halves) == pytest.approx(frozen)
    bed.drain_h = 8.0  # somebody opens the tap
    rows = _live(bed, 2, climate=cold, start=parse_time("2026-01-22T04:00:00Z"))
    assert bed.water_held() == pytest.approx(frozen)
    assert min(row[0] for row in rows) >= -6.01
    _close(bed)


def test_the_step_hardly_matters():
    weather = Weather(Climate(), Random(3), START)
    ends = []
    for step_s in (900, 150):
        bed = Bed(Box(), Bedding())
        bed.feed(3.0, 18.0)
        for step in range(5 * 86_400 // step_s):
            bed.step(step_s, weather.at(START + step * step_s * 1_000 + step_s * 500))
        ends.append(bed.at(0.25))
    assert ends[0] == pytest.approx(ends[1], abs=0.15)
