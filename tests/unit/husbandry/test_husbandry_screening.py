"""A harvest on dry matter. Check values: yard-work contract, section 9 (computed from its own formula)."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.husbandry.screening import OnScreen, dry_to, mass_at, screened, together

FRACTIONS = {"fines": 30_000.0, "middle": 9_000.0, "overs": 8_270.0}
some_mass = st.floats(1, 1e7)
some_pct = st.floats(0, 95)


def test_drying_keeps_dry_matter():
    assert mass_at(100_000, 74, 45) == pytest.approx(47_272.7, abs=0.1)
    assert dry_to(100_000, 74) == (pytest.approx(40_000), pytest.approx(47_272.7, abs=0.1))
    assert dry_to(100_000, 45) is None
    with pytest.raises(ValueError, match="no dry matter"):
        mass_at(100, 74, 100)


def test_the_yields_of_the_worked_example():
    found = screened(100_000, 74, OnScreen(moisture_pct=45, fractions=FRACTIONS))
    assert found.screen_g == pytest.approx(47_272.7, abs=0.1)
    assert found.screen_derived
    assert found.dried_g == pytest.approx(52_727.3, abs=0.1)
    assert found.dry_g == pytest.approx(26_000)
    fines = found.shares["fines"]
    assert (fines.of_wet, fines.of_dry) == (pytest.approx(0.30), pytest.approx(0.6346, abs=1e-4))
    assert fines.dry_g == pytest.approx(16_500)
    assert found.sum_off == pytest.approx(-0.00006, abs=1e-5)
    assert not found.sum_is_off
    assert not found.blinds
    assert not found.in_part


def test_a_sum_that_is_off_by_more_than_a_twentieth_is_told():
    short = {**FRACTIONS, "overs": 5_800.0}
    assert screened(100_000, 74, OnScreen(moisture_pct=45, fractions=short)).sum_is_off
    just = {"fines": 500.0, "middle": 250.0, "overs": 200.0}
    assert not screened(None, None, OnScreen(mass_g=1000, fractions=just)).sum_is_off
    assert screened(None, None, OnScreen(mass_g=1000, fractions={**just, "overs": 199.0})).sum_is_off
    assert screened(None, None, OnScreen(mass_g=1000, fractions={**just, "overs": 301.0})).sum_is_off
    assert screened(100_000, 74, OnScreen(moisture_pct=45, fractions={"fines": 1.0})).sum_off is None, "two are missing"


def test_what_was_weighed_is_not_derived():
    found = screened(100_000, 74, OnScreen(mass_g=50_000, moisture_pct=45, fractions=FRACTIONS))
    assert (found.screen_g, found.screen_derived, found.dried_g) == (50_000, False, 50_000)
    assert found.dry_screened == pytest.approx(27_500 / 26_000)
    assert not found.in_part
    half = screened(100_000, 74, OnScreen(mass_g=20_000, moisture_pct=45))
    assert half.in_part
    assert half.dry_screened == pytest.approx(11 / 26)


def test_the_moisture_on_the_screen_follows_from_both_weights():
    found = screened(100_000, 74, OnScreen(mass_g=40_000, fractions=FRACTIONS))
    assert (found.screen_pct, found.moisture_derived) == (pytest.approx(35), True)
    assert found.dry_screened is None, "derived from itself it says nothing"
    lost = screened(100_000, 74, OnScreen(mass_g=20_000, fractions=FRACTIONS))
    assert lost.screen_pct is None, "lighter than its dry matter: then some of it was not put on the screen"
    assert not lost.moisture_derived


@pytest.mark.parametrize(("pct", "blinds"), [(50, False), (50.1, True), (None, False)])
def test_above_half_water_the_screen_blinds(pct, blinds):
    assert screened(None, None, OnScreen(moisture_pct=pct)).blinds is blinds


def test_without_moistures_there_are_shares_of_the_wet_harvest_only():
    found = screened(100_000, None, OnScreen(fractions=FRACTIONS))
    assert (found.dry_g, found.screen_g, found.dried_g, found.sum_off) == (None, None, None, None)
    fines = found.shares["fines"]
    assert (fines.of_wet, fines.of_dry, fines.dry_g) == (pytest.approx(0.3), None, None)
    alone = screened(None, None, OnScreen(mass_g=47_270, moisture_pct=45, fractions=FRACTIONS)).shares["fines"]
    assert (alone.of_wet, alone.of_dry) == (None, pytest.approx(0.6346, abs=1e-4))


def test_several_goes_count_together():
    goes = [
        OnScreen(mass_g=10, moisture_pct=40, fractions={"fines": 6.0, "overs": 2.0}),
        OnScreen(mass_g=30, moisture_pct=44, fractions={"fines": 20.0}),
    ]
    assert together(goes) == OnScreen(mass_g=40, moisture_pct=43, fractions={"fines": 26.0})
    assert together([goes[0], OnScreen(moisture_pct=40)]) == OnScreen(mass_g=None, moisture_pct=40)
    assert together([goes[0], OnScreen(mass_g=1)]).moisture_pct is None
    assert together(goes[:1]) is goes[0]
    assert together([]) == OnScreen()


@given(some_mass, some_pct, some_pct)
def test_there_and_back_is_the_same(mass, one, other):
    assert mass_at(mass_at(mass, one, other), other, one) == pytest.approx(mass)


@given(some_mass, some_pct, some_pct, st.lists(st.floats(0, 1), min_size=3, max_size=3))
def test_shares_of_dry_matter_add_up_as_the_masses_do(mass, harvest_pct, screen_pct, parts):
    on = mass_at(mass, harvest_pct, screen_pct)
    fractions = {name: on * part for name, part in zip(FRACTIONS, parts, strict=True)}
    found = screened(mass, harvest_pct, OnScreen(moisture_pct=screen_pct, fractions=fractions))
    assert sum(one.of_dry for one in found.shares.values()) == pytest.approx(sum(parts), abs=1e-9)
    assert found.sum_off == pytest.approx(sum(parts) - 1, abs=1e-9)
    assert found.dried_g == pytest.approx(mass - on, abs=1e-9 * mass)


@given(
    st.none() | st.floats(0, 1e6),
    st.none() | st.floats(0, 100),
    st.none() | st.floats(0, 1e6),
    st.none() | st.floats(0, 100),
    st.dictionaries(st.sampled_from(list(FRACTIONS)), st.floats(0, 1e6)),
)
def test_anything_measured_has_an_answer(mass, pct, on, on_pct, fractions):
    found = screened(mass, pct, OnScreen(mass_g=on, moisture_pct=on_pct, fractions=fractions))
    assert set(found.shares) == set(fractions)
    assert found.screen_pct is None or 0 <= found.screen_pct <= 100
    assert not (found.screen_derived and on is not None)
