"""The figures of a mix, held against published examples and against mixes drawn from the materials' ranges."""

import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.mix import Feedstock, Figure, Part, figures_of, known_feedstocks
from monitor.mix.blend import solids_and_water_m3


def feedstock(name, moisture, nitrogen, cn=None, carbon=None, density=None, ash=None, woody=False):
    figures = {"moisture": moisture, "nitrogen": nitrogen, "cn": cn, "carbon": carbon, "density": density, "ash": ash}
    return Feedstock(
        name=name,
        woody=woody,
        **{
            what: Figure(*value) if isinstance(value, tuple) else Figure.known(value)
            for what, value in figures.items()
            if value is not None
        },
    )


GRASS = feedstock("grass", 77, 2.4, carbon=45)
LEAVES = feedstock("leaves", 35, 0.75, carbon=50)


def test_the_university_example_of_grass_and_leaves():
    # A university's composting pages (seen-2nd): 10 kg of grass at 77 % and 6.8 kg of leaves at 35 % make 60 %;
    # with C and N of the same example C/N 36.7289 (computed).
    found = figures_of([Part(GRASS, 10_000), Part(LEAVES, 6_800)])
    assert found.moisture.typical == pytest.approx(60.0)
    assert found.cn.typical == pytest.approx(36.7289, abs=1e-4)


def test_the_same_materials_at_a_ratio_of_30():
    # The same pages, from memory: 3.5 kg of leaves for C/N 30; 3.474 kg and 66.18 % computed.
    found = figures_of([Part(GRASS, 10_000), Part(LEAVES, 3_474)])
    assert found.cn.typical == pytest.approx(30.0, abs=0.001)
    assert found.moisture.typical == pytest.approx(66.18, abs=0.01)


def test_the_ratio_of_a_mix_is_no_mean_of_ratios():
    # A widely copied sum says 2 parts at 20:1 and 1 part at 60:1 make 33:1. Weighed with its water and nitrogen it is another.
    wet, dry = feedstock("wet", 82, 4.0, cn=20), feedstock("dry", 38, 0.9, cn=60)
    found = figures_of([Part(wet, 2_000), Part(dry, 1_000)])
    assert found.cn.typical == pytest.approx((1.44 * 20 + 0.558 * 60) / (1.44 + 0.558))
    assert abs(found.cn.typical - 100 / 3) > 2


def test_figures_of_wet_weight_stand_as_they_are_where_there_is_no_water():
    # A worked sum in weights of dry stuff, seen: 50 lb hay (40 % C, 1 % N), 10 lb scraps (10, 1), 2 lb coffee (25, 1): 34.7.
    hay, scraps, coffee = (feedstock(str(c), 0, 1, carbon=c) for c in (40, 10, 25))
    found = figures_of([Part(hay, 50_000), Part(scraps, 10_000), Part(coffee, 2_000)])
    assert found.cn.typical == pytest.approx(21.5 / 0.62)


def test_free_air_by_the_volumes_of_water_organic_matter_and_ash():
    # Richard et al. 2004, formula from memory: 600 kg/m³ at 60 % moisture with 20 % ash has 0.5008 (computed).
    one = feedstock("one", 60, 1, cn=30, density=510, ash=20)
    found = figures_of([Part(one, 1_000_000)])
    assert found.density.typical == pytest.approx(600)
    assert found.free_air.typical == pytest.approx(50.08)


def test_water_weighs_and_takes_no_room_of_its_own():
    straw = known_feedstocks()["straw"]
    dry, wet = figures_of([Part(straw, 100_000)]), figures_of([Part(straw, 100_000)], 80_000)
    assert wet.mass_g == 180_000
    assert wet.volume_ml == dry.volume_ml
    assert wet.density.typical == pytest.approx(1.8 * dry.density.typical)
    assert wet.moisture.typical == pytest.approx((12 + 80) / 1.8)
    assert wet.cn == dry.cn
    assert wet.free_air.typical < dry.free_air.typical


def test_a_material_without_nitrogen_has_no_ratio():
    found = figures_of([Part(feedstock("sand wood", 20, 0, carbon=50), 1_000)])
    assert found.cn is None
    assert found.density is None
    assert found.free_air is None
    assert found.volume_ml is None


def test_the_ratio_without_coarse_wood_stands_beside():
    grass, chips = feedstock("grass", 77, 3.8, carbon=50), feedstock("chips", 40, 0.0893, cn=560, woody=True)
    found = figures_of([Part(grass, 100_000), Part(chips, 51_800)])
    assert found.cn.typical == pytest.approx(30, abs=0.05)
    assert found.cn_without_wood == pytest.approx(50 / 3.8)
    assert figures_of([Part(chips, 1_000)]).cn_without_wood is None
    assert figures_of([Part(grass, 1_000)]).cn_without_wood is None


def test_nothing_is_no_mix():
    with pytest.raises(ValueError, match="nothing"):
        figures_of([Part(GRASS, 0)], 10_000)


@pytest.mark.parametrize(
    ("how", "said"),
    [
        ({"moisture": 100, "nitrogen": 1, "cn": 30}, "below 100"),
        ({"moisture": (60, 50, 70), "nitrogen": 1, "cn": 30}, "rise from low to high"),
        ({"moisture": 50, "nitrogen": 1}, "one of the two"),
        ({"moisture": 50, "nitrogen": 1, "cn": 30, "carbon": 40}, "one of the two"),
        ({"moisture": 50, "nitrogen": 0, "cn": 30}, "state its carbon"),
        ({"moisture": -1, "nitrogen": 1, "cn": 30}, "moisture"),
        ({"moisture": 50, "nitrogen": 1, "cn": 30, "density": 0}, "density"),
    ],
)
def test_figures_that_cannot_be_are_refused(how, said):
    with pytest.raises(ValueError, match=said):
        feedstock("it", **how)


shares = st.floats(0.5, 1.0)


@st.composite
def feedstocks(draw, name="it"):
    def ranged(least, most):
        typical = draw(st.floats(least, most))
        return (max(least / 2, typical * draw(shares)), typical, min(most * 1.2, typical / draw(shares)))

    carbon = draw(st.booleans())
    return feedstock(
        name,
        ranged(5, 82),
        ranged(0.2, 8),
        cn=None if carbon else ranged(5, 500),
        carbon=ranged(20, 60) if carbon else None,
        density=ranged(30, 900),
        ash=draw(st.floats(0, 40)),
        woody=draw(st.booleans()),
    )


@given(
    st.lists(st.tuples(feedstocks(), st.integers(1, 10**6)), min_size=1, max_size=4),
    st.integers(0, 10**6),
    st.randoms(),
)
def test_whatever_the_materials_are_within_their_ranges_the_mix_is_within_its_own(parts, water, rng):
    parts = [Part(material, mass) for material, mass in parts]
    found = figures_of(parts, water)
    for figure in (found.moisture, found.cn, found.density, found.free_air):
        assert figure.low <= figure.typical <= figure.high

    def drawn(figure, rng: random.Random):
        return None if figure is None else Figure.known(rng.choice([figure.low, figure.typical, figure.high]))

    for _ in range(20):
        real = [
            Part(
                Feedstock(
                    name="real",
                    moisture=drawn(one.material.moisture, rng),
                    nitrogen=drawn(one.material.nitrogen, rng),
                    cn=drawn(one.material.cn, rng),
                    carbon=drawn(one.material.carbon, rng),
                    density=drawn(one.material.density, rng),
                    ash=one.material.ash,
                ),
                one.mass_g,
            )
            for one in parts
        ]
        it = figures_of(real, water)
        near = 1e-9
        for inside, outer in ((it.moisture, found.moisture), (it.cn, found.cn), (it.density, found.density)):
            assert outer.low * (1 - near) <= inside.typical <= outer.high * (1 + near)
        assert found.free_air.low - 1e-6 <= it.free_air.typical <= found.free_air.high + 1e-6


def test_ash_makes_the_solids_smaller():
    plain, ashy = feedstock("plain", 40, 1, cn=30), feedstock("ashy", 40, 1, cn=30, ash=50)
    assert solids_and_water_m3(plain, 40) == pytest.approx(0.4 / 1000 + 0.6 / 1600)
    assert solids_and_water_m3(ashy, 40) == pytest.approx(0.4 / 1000 + 0.3 / 1600 + 0.3 / 2500)
