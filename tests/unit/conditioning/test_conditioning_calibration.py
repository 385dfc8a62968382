"""Calibration: one straight line in integers, rounded half-even once."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.conditioning import calibrate, comparable
from monitor.model.settings import Calibration, Probe
from monitor.model.units import Quantity
from monitor.model.words import Basis, Role


def probe(**fields) -> Probe:
    return Probe(**{"place": "p1", "role": Role.CORE, "address": "a", **fields})


@pytest.mark.parametrize(
    ("micro", "unit", "milli"),
    [
        (55_000_000, "Cel", 55_000),
        (62_500, "Cel", 62),  # 62.5 thousandths: half goes to even
        (63_500, "Cel", 64),
        (-62_500, "Cel", -62),
        (131_000_000, "[degF]", 55_000),
        (170_000_000, "[degF]", 76_667),
        (328_150_000, "K", 55_000),
    ],
)
def test_units(micro, unit, milli):
    assert calibrate(micro, unit, probe(), 0) == milli


def test_two_points_are_laid_through_exactly():
    two = Calibration(points=((500, 0), (99_000, 99_974)))
    kept = probe(calibrations=(two,))
    assert calibrate(500_000, "Cel", kept, 0) == 0
    assert calibrate(99_000_000, "Cel", kept, 0) == 99_974
    turned_round = probe(calibrations=(Calibration(points=((99_000, 99_974), (500, 0))),))
    assert calibrate(42_195_000, "Cel", kept, 0) == calibrate(42_195_000, "Cel", turned_round, 0)


def test_one_point_is_an_offset():
    assert calibrate(20_000_000, "Cel", probe(calibrations=(Calibration(points=((300, 0),)),)), 0) == 19_700


def test_a_calibration_applies_from_its_start():
    kept = probe(
        calibrations=(
            Calibration(points=((0, 2_000),), start=2_000),
            Calibration(points=((0, 1_000),), start=1_000),
            Calibration(points=((0, 500),)),
        )
    )
    assert [calibrate(0, "Cel", kept, time) for time in (-5, 999, 1_000, 1_999, 2_000)] == [
        500,
        500,
        1_000,
        1_000,
        2_000,
    ]


def test_wrong_unit_gives_none():
    assert calibrate(1, "%", probe(), 0) is None
    assert calibrate(1, "furlong", probe(), 0) is None


def test_volume_becomes_wet_mass_by_bulk_density():
    moist = probe(quantity=Quantity.MOISTURE, basis=Basis.VOLUME, bulk_density_kg_m3=600)
    assert calibrate(39_000_000, "%", moist, 0) == 65_000  # M_wet = theta * rho_w / rho_b
    assert comparable(moist, 0)


def test_without_a_conversion_the_number_is_kept_but_not_comparable():
    volume = probe(quantity=Quantity.MOISTURE, basis=Basis.VOLUME)
    raw = probe(quantity=Quantity.MOISTURE, basis=Basis.RAW)
    assert (calibrate(39_000_000, "%", volume, 0), comparable(volume, 0)) == (39_000, False)
    assert (calibrate(512_000_000, "1", raw, 0), comparable(raw, 0)) == (512_000, False)
    assert comparable(probe(), 0)


def test_raw_needs_a_calibration_with_two_points_in_force():
    raw = probe(
        quantity=Quantity.MOISTURE,
        basis=Basis.RAW,
        calibrations=(Calibration(points=((800_000, 0), (300_000, 100_000)), start=10),),
    )
    assert not comparable(raw, 9)
    assert comparable(raw, 10)
    assert calibrate(550_000_000, "1", raw, 10) == 50_000


def test_the_whole_is_a_hundred_percent():
    moist = probe(quantity=Quantity.MOISTURE)
    assert calibrate(650_000, "1", moist, 0) == calibrate(65_000_000, "%", moist, 0) == 65_000


@given(
    micro=st.integers(-(10**9), 10**9),
    unit=st.sampled_from(["%", "1"]),
    basis=st.sampled_from(Basis),
    density=st.none() | st.integers(1, 1_500),
    points=st.lists(st.tuples(st.integers(-9, 9), st.integers(-(10**5), 10**5)), max_size=3),
)
def test_moisture_equals_exact_fractions_of_its_basis(micro, unit, basis, density, points):
    x = Fraction(micro, 1_000) * (100 if unit == "1" and basis is not Basis.RAW else 1)
    spread = bool(points) and points[0][0] != points[-1][0]
    if points:
        (a1, b1), (a2, b2) = points[0], points[-1]
        x = b1 + (x - a1) * (Fraction(b2 - b1, a2 - a1) if spread else 1)
    if basis is Basis.VOLUME and density:
        x = x * 1_000 / density
    kept = probe(
        quantity=Quantity.MOISTURE,
        basis=basis,
        bulk_density_kg_m3=density,
        calibrations=(Calibration(points=tuple(points)),),
    )
    assert calibrate(micro, unit, kept, 0) == round(x)
    assert comparable(kept, 0) is {Basis.WET_MASS: True, Basis.VOLUME: bool(density), Basis.RAW: spread}[basis]


@given(
    micro=st.integers(-(10**15), 10**15),
    unit=st.sampled_from(["Cel", "[degF]", "K"]),
    points=st.lists(
        st.tuples(st.integers(-(10**6), 10**6), st.integers(-(10**6), 10**6)),
        min_size=2,
        max_size=2,
        unique_by=lambda point: point[0],
    ),
)
def test_equals_exact_fractions(micro, unit, points):
    shift, factor = {"Cel": (0, 1), "[degF]": (32, Fraction(5, 9)), "K": (Fraction("273.15"), 1)}[unit]
    x = (Fraction(micro, 10**6) - shift) * factor * 1000
    (a1, b1), (a2, b2) = points
    exact = b1 + (x - a1) * Fraction(b2 - b1, a2 - a1)
    got = calibrate(micro, unit, probe(calibrations=(Calibration(points=tuple(points)),)), 0)
    assert got == round(exact)  # Python rounds a Fraction half-even
