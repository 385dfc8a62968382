"""The laws of nature against published points and their own limits."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.simulate import laws


@pytest.mark.parametrize(("celsius", "pascal"), [(0.0, 611.2), (20.0, 2339.0), (40.0, 7384.0), (60.0, 19946.0)])
def test_magnus_meets_the_steam_tables(celsius, pascal):
    # Steam table values; Magnus is made for weather, so half a percent at 60 °C is all that is asked.
    assert laws.vapour_pressure(celsius) == pytest.approx(pascal, rel=0.005)


def test_steam_stays_finite_beyond_boiling():
    assert laws.humidity_ratio(laws.vapour_pressure(105.0)) == pytest.approx(0.622 * 9.0)


def test_cardinal_model_is_one_at_best_and_zero_outside():
    assert laws.cardinal(56.0, 3.0, 56.0, 80.0) == pytest.approx(1.0)
    assert laws.cardinal(3.0, 3.0, 56.0, 80.0) == 0.0
    assert laws.cardinal(80.0, 3.0, 56.0, 80.0) == 0.0
    assert laws.cardinal(-10.0, 3.0, 56.0, 80.0) == 0.0


@given(st.floats(-20, 110))
def test_cardinal_model_stays_between_zero_and_one(celsius):
    assert 0.0 <= laws.cardinal(celsius, 3.0, 56.0, 80.0) <= 1.0 + 1e-12


@given(st.floats(3.0, 55.9), st.floats(0.01, 0.1))
def test_cardinal_model_rises_to_its_best(celsius, further):
    assert laws.cardinal(celsius + further, 3.0, 56.0, 80.0) > laws.cardinal(celsius, 3.0, 56.0, 80.0)


def test_moisture_factor_halves_at_forty_percent():
    assert laws.moisture_factor(7.0622 / 17.684) == pytest.approx(0.5)
    assert laws.moisture_factor(0.6) > 0.96
    assert laws.moisture_factor(0.25) < 0.1


def test_free_air_space_of_the_worked_example():
    # standards page 8.8: 600 kg/m³, moisture 60 %, volatile solids 80 % -> 0.5008.
    assert laws.free_air_space(240.0, 1.5, 0.8) == pytest.approx(0.5008, abs=1e-4)
    assert laws.free_air_space(400.0, 6.0, 0.8) == 0.0


@given(st.floats(1e-9, 1e-2), st.floats(1e-9, 1e-2), st.floats(0.0, 20.9))
def test_oxygen_balance_solves_its_equation(demand, supply, inlet):
    oxygen = laws.oxygen_balance(demand, supply, inlet)
    assert -1e-9 <= oxygen <= inlet + 1e-9
    used = demand * oxygen / (2.0 + oxygen)
    assert supply * (inlet - oxygen) == pytest.approx(used, rel=1e-5, abs=1e-9 * (supply + demand))


def test_no_supply_no_oxygen():
    assert laws.oxygen_balance(1e-3, 0.0) == 0.0


def test_air_enthalpy_of_a_textbook_state():
    # 25 °C and 10 g/kg: about 50.6 kJ/kg on any psychrometric chart.
    assert laws.air_enthalpy(25.0, 0.010) == pytest.approx(50_600, rel=0.005)
