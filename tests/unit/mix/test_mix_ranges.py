"""The range of each figure of a mix, held against all corners of its materials' ranges, each worked out from scratch."""

import itertools
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from test_mix_blend import feedstock

from monitor.mix import Part, figures_of

KG = 1_000
SETTLED = (0.75, 0.85, 1.0)


def ends(figure, usual=False):
    """The two ends of a figure, or its usual value alone; nothing for a figure that is not stated."""
    if figure is None:
        return (None,)
    return (figure.typical,) if usual else (figure.low, figure.high)


def nitrogens(material, usual):
    # A lowest nitrogen of nothing, where there usually is some, would make any ratio possible: the usual one stands for it.
    return [one or material.nitrogen.typical for one in ends(material.nitrogen, usual)]


def corners(parts, water_kg, usual=False):
    """(moisture, C/N, density, free air) of each corner."""
    each = [
        itertools.product(
            ends(one.material.moisture, usual),
            nitrogens(one.material, usual),
            ends(one.material.cn, usual),
            ends(one.material.carbon, usual),
            ends(one.material.density, usual),
        )
        for one in parts
    ]
    for settled, chosen in itertools.product(
        SETTLED[1:2] if usual else SETTLED[::2], itertools.product(*map(list, each))
    ):
        wet, carbon, nitrogen, loose, solid, mass = water_kg, 0.0, 0.0, 0.0, 0.0, water_kg
        for one, (moisture, of_dry, ratio, of_dry_carbon, density) in zip(parts, chosen, strict=True):
            kg = one.mass_g / KG
            dry = kg * (100 - moisture) / 100
            here = dry * of_dry / 100
            ash = (one.material.ash.typical if one.material.ash else 0) / 100
            mass, wet, nitrogen, loose = mass + kg, wet + kg - dry, nitrogen + here, loose + kg / density
            carbon += here * ratio if ratio is not None else dry * of_dry_carbon / 100
            solid += dry * ash / 2_500 + dry * (1 - ash) / 1_600
        volume = loose * settled
        free = max(0, 100 * (volume - solid - wet / 1_000) / volume)
        yield 100 * wet / mass, carbon / nitrogen if nitrogen else math.nan, mass / volume, free


def ranged(least, most):
    return st.tuples(*[st.integers(least, most)] * 3).map(lambda some: tuple(sorted(some)))


materials = st.builds(
    feedstock,
    st.just("it"),
    ranged(5, 90),
    ranged(1, 8),
    cn=ranged(5, 500),
    density=ranged(100, 900),
    ash=st.integers(0, 40) | st.none(),
) | st.builds(
    feedstock,
    st.just("it"),
    ranged(5, 90),
    ranged(0, 3),
    carbon=ranged(20, 60),
    density=ranged(100, 900),
    ash=st.integers(0, 40),
)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(materials, st.integers(1, 900)), min_size=1, max_size=2), st.sampled_from([0, 0, 17, 400]))
def test_each_figure_ends_where_the_furthest_corner_of_its_materials_ranges_lies(amounts, water_kg):
    parts = [Part(material, mass * KG) for material, mass in amounts]
    found = figures_of(parts, water_kg * KG)
    usual, all_of = next(corners(parts, water_kg, usual=True)), [*corners(parts, water_kg)]
    assert found.volume_ml == round(sum(one.mass_g / KG / one.material.density.typical for one in parts) * 0.85e6)
    assert found.mass_g == sum(one.mass_g for one in parts) + water_kg * KG
    figures = (found.moisture, found.cn, found.density, found.free_air)
    for number, (figure, typical) in enumerate(zip(figures, usual, strict=True)):
        values = [one[number] for one in all_of if not math.isnan(one[number])]
        if figure is None or not values:
            assert number == 1
            assert math.isnan(typical) or not values
            continue
        near = {"rel": 1e-9, "abs": 1e-9}
        assert figure.typical == pytest.approx(typical, **near)
        if number == 1:  # where a usual nitrogen of nothing is left out, the usual ratio may lie at an end
            values.append(typical)
        assert (figure.low, figure.high) == (pytest.approx(min(values), **near), pytest.approx(max(values), **near))
