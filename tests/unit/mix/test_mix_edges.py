"""Limits of the mix at, just under and just over each: what is refused, what binds, what is kept first, what lies where."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from test_mix_blend import feedstock
from test_mix_recipe import CHIPS, LEAVES, bounds, masses, mixed

from monitor.mix import Band, Feedstock, Figure, MixLimits, Part, heap_size, known_feedstocks, layers_of


def plain(moisture=55, cn=30, **more):
    return feedstock("plain", moisture, 1, cn=cn, **more)


def settling_to(density):
    """A material of which a mix has this density, kg/m³: it settles to 0.85 of its loose volume."""
    return plain(density=density * 0.85)


@pytest.mark.parametrize(
    ("one", "fits", "bound"),
    [
        (plain(58), True, set()),
        (plain(59.97), True, set()),
        (plain(59.99), True, {("moisture", "most", 60, False)}),
        (plain(60.01), True, {("moisture", "most", 60, False)}),
        (plain(60.03), True, set()),
        (plain(64.97), True, set()),
        (plain(64.99), True, {("moisture", "most", 65, False)}),
        (plain(65.01), True, {("moisture", "most", 65, False)}),
        (plain(65.03), False, {("moisture", "most", 65, True)}),
        (plain(cn=19.9), False, {("C/N", "least", 20, True)}),
        (plain(cn=20), True, {("C/N", "least", 20, False)}),
        (plain(cn=20.03), True, set()),
        (plain(cn=24.97), True, set()),
        (plain(cn=24.99), True, {("C/N", "least", 25, False)}),
        (plain(cn=35.01), True, {("C/N", "most", 35, False)}),
        (plain(cn=35.03), True, set()),
        (plain(cn=40), True, {("C/N", "most", 40, False)}),
        (plain(cn=40.01), True, {("C/N", "most", 40, False)}),
        (plain(cn=19.99), True, {("C/N", "least", 20, False)}),
        (plain(cn=40.1), False, {("C/N", "most", 40, True)}),
        (settling_to(599.8), True, set()),
        (settling_to(599.9), True, {("density", "most", 600, False)}),
        (settling_to(700), True, {("density", "most", 600, False)}),
        (feedstock("bare", 55, 0, carbon=50), False, {("C/N", "most", 40, True)}),
    ],
)
def test_one_material_reaches_or_breaks_the_usual_limits(one, fits, bound):
    recipe = mixed([], whole=[(one, 100)])
    assert recipe.fits is fits
    assert bounds(recipe) == bound


@pytest.mark.parametrize(
    ("density", "fits", "bound"),
    [
        (599.8, True, set()),
        (599.9, True, {("density", "most", 600, False)}),
        (600.1, True, {("density", "most", 600, False)}),
        (600.2, False, {("density", "most", 600, True)}),
    ],
)
def test_a_density_that_somebody_named_can_be_broken(density, fits, bound):
    recipe = mixed([], whole=[(settling_to(density), 100)], limits=MixLimits.asked(density_most=600))
    assert recipe.fits is fits
    assert bounds(recipe) == bound


def test_little_air_is_told_where_it_lies_at_its_least_and_breaks_nothing():
    close, airy = feedstock("close", 58, 1, cn=30, density=690), feedstock("airy", 58, 1, cn=30, density=300)
    tight = mixed([], whole=[(close, 100)])
    assert tight.figures.free_air.typical < 35
    assert ("free air", "least", 35, False) in bounds(tight)
    assert tight.fits
    assert bounds(mixed([], whole=[(airy, 100)])) == set()


def test_what_is_used_up_binds_and_what_is_not_there_does_not():
    recipe = mixed([(LEAVES, 20), (CHIPS, 0)], whole=[(feedstock("grounds", 80, 2, cn=20), 100)])
    assert ("leaves", "most", 20, False) in bounds(recipe)
    assert not {one for one in bounds(recipe) if one[0] == "chips"}


def test_a_material_that_is_not_needed_is_no_part_of_the_smallest_mix():
    recipe = mixed([(feedstock("spare", 40, 1, cn=30), None)], whole=[(plain(), 1)])
    assert masses(recipe) == {"plain": 1}
    assert recipe.water_g == 0


def test_of_one_material_a_mix_takes_twenty_times_what_goes_in_whole_and_no_more():
    wet, dry = feedstock("wet", 95, 1, cn=30), feedstock("dry", 64, 1, cn=30)
    recipe = mixed([(dry, None)], whole=[(wet, 1)])
    assert not recipe.fits
    assert masses(recipe) == {"wet": 1, "dry": 20}
    parched = mixed([], whole=[(feedstock("parched", 0, 1, cn=30), 1)], limits=MixLimits.asked(moisture=Band(96, 97)))
    assert (parched.fits, parched.water_g) == (False, 20_000)


@pytest.mark.parametrize(("least", "water_g"), [(50.0095, 0), (50.0105, 210)])
def test_under_a_five_thousandth_of_the_whole_nobody_weighs_anything_out(least, water_g):
    limits = MixLimits.asked(moisture=Band(least, 60))
    assert mixed([], whole=[(plain(50), 1_000)], limits=limits).water_g == pytest.approx(water_g, abs=1)


@pytest.mark.parametrize(
    ("whole_kg", "offer_kg", "refused"),
    [(1_000_000, 1, False), (1_000_001, 1, True), (1, 1_000_000, False), (1, 1_000_001, True)],
)
def test_a_thousand_tonnes_are_the_most(whole_kg, offer_kg, refused):
    if refused:
        with pytest.raises(ValueError, match="thousand tonnes"):
            mixed([(LEAVES, offer_kg)], whole=[(plain(), whole_kg)])
    else:
        assert mixed([(LEAVES, offer_kg)], whole=[(plain(), whole_kg)]).fits


def test_a_mix_of_little_beside_nothing_is_one():
    assert mixed([], whole=[(plain(), 10), (LEAVES, 0)]).fits


def test_what_is_too_heavy_by_what_is_known_of_it_says_so():
    unknown = feedstock("unknown", 55, 1, cn=30)
    recipe = mixed([], whole=[(settling_to(900), 100), (unknown, 10)], limits=MixLimits.asked(density_most=600))
    assert (recipe.fits, bounds(recipe)) == (False, {("density", "most", 600, True)})


def test_a_trace_goes_in_where_it_decides():
    urea, lean = feedstock("urea", 0, 46, cn=0.43), feedstock("lean", 55, 0.5, cn=40.5)
    recipe = mixed([(urea, 0.15)], whole=[(lean, 1_000)])
    assert masses(recipe) == {"lean": 1_000, "urea": 0.15}
    assert (recipe.fits, round(recipe.figures.cn.typical, 1)) == (True, 39.3)


@settings(deadline=None, max_examples=200)
@given(
    moisture=st.one_of(st.floats(39.9, 40.1), st.floats(64.9, 65.1), st.floats(30, 80)),
    cn=st.one_of(st.floats(19.9, 20.1), st.floats(39.9, 40.1), st.floats(10, 60)),
    density=st.one_of(st.none(), st.floats(599, 601), st.floats(300, 900)),
    named=st.booleans(),
    offer=st.one_of(st.none(), st.tuples(st.floats(20, 70), st.floats(10, 60), st.sampled_from([None, 0.01, 1, 50]))),
)
def test_a_mix_that_does_not_fit_names_a_limit_and_one_that_fits_breaks_none(moisture, cn, density, named, offer):
    whole = plain(moisture, cn, density=None if density is None else density * 0.85)
    offers = [] if offer is None else [(feedstock("more", offer[0], 1, cn=offer[1], density=400), offer[2])]
    recipe = mixed(offers, whole=[(whole, 100)], limits=MixLimits.asked(density_most=600) if named else None)
    assert recipe.fits is not any(one[3] for one in bounds(recipe))


# What is kept first.


def test_what_the_moisture_should_be_is_kept_before_what_the_density_should():
    wet, dense = feedstock("wet", 62, 1, cn=30, density=650), feedstock("dense", 20, 1, cn=30, density=900)
    recipe = mixed([(dense, None)], whole=[(wet, 100)])
    assert masses(recipe)["dense"] == pytest.approx(5, abs=0.001)
    assert recipe.figures.moisture.typical == pytest.approx(60, abs=0.001)
    assert recipe.figures.density.typical > 765


def test_what_the_density_should_be_is_kept_before_what_the_ratio_should():
    thick, light = plain(cn=30, density=900), feedstock("light", 55, 1, cn=80, density=60)
    recipe = mixed([(light, None)], whole=[(thick, 100)])
    assert recipe.figures.density.typical == pytest.approx(600, abs=0.1)
    assert 30.5 < recipe.figures.cn.typical < 35
    stated = mixed([(feedstock("light", 55, 1, cn=800, density=60), None)], whole=[(thick, 100)])
    assert stated.figures.cn.typical == pytest.approx(40, abs=0.01), "what the ratio must be comes before both"
    assert stated.figures.density.typical > 601


def test_air_is_made_before_the_ratio_lies_where_it_should():
    limits = MixLimits(density_most=1_500)
    close, light = plain(58, density=800), feedstock("light", 58, 1, cn=60, density=100)
    recipe = mixed([(light, None)], whole=[(close, 100)], limits=limits)
    assert recipe.figures.free_air.typical == pytest.approx(35, abs=0.01)
    assert recipe.figures.cn.typical > 30.5
    easy = mixed([(light, None)], whole=[(close, 100)], limits=MixLimits(density_most=1_500, free_air_least=0))
    assert masses(easy) == {"plain": 100}


def test_where_no_ratio_of_the_best_can_be_had_the_nearest_is_taken():
    recipe = mixed([(feedstock("lean", 55, 1, cn=26), 50)], whole=[(plain(cn=22), 50)])
    assert masses(recipe) == {"plain": 50, "lean": 50}
    assert recipe.figures.cn.typical == pytest.approx(24)


def test_what_has_no_nitrogen_comes_as_near_to_a_ratio_as_the_little_there_is_brings_it():
    bare, rich = feedstock("bare", 55, 0, carbon=50), feedstock("rich", 55, 3, cn=10)
    recipe = mixed([(rich, 10)], whole=[(bare, 100)])
    assert not recipe.fits
    assert masses(recipe) == {"bare": 100, "rich": 10}
    assert recipe.figures.cn.typical == pytest.approx((50 * 100 + 30 * 10) / 30)
    assert recipe.mending.material is rich


def test_of_what_rots_the_wettest_goes_first():
    first, second = feedstock("damp", 70, 2, cn=30), feedstock("soggy", 80, 2, cn=30)
    recipe = mixed(
        [(first, 50), (second, 50)], whole=[(plain(40.5), 100)], limits=MixLimits.asked(moisture=Band(40, 50))
    )
    assert masses(recipe) == pytest.approx({"plain": 100, "soggy": 9.5 / 30 * 100}, abs=0.01)


def test_of_what_keeps_as_little_is_used_as_will_do():
    # Half as much of the drier one would do: it is taken, though it stands last.
    damp, dry = feedstock("damp", 40, 1, cn=30), feedstock("dry", 20, 1, cn=30)
    recipe = mixed([(damp, 100), (dry, 100)], whole=[(plain(66), 100)])
    assert masses(recipe) == pytest.approx({"plain": 100, "dry": 15}, abs=0.01)
    bought = mixed([(damp, 100), (dry, None)], whole=[(plain(66), 100)])
    assert masses(bought) == pytest.approx({"plain": 100, "damp": 30}, abs=0.01), "more, but nothing is bought"


def test_what_mends_a_mix_is_what_of_those_at_hand_needs_least_then_what_of_the_others():
    known = known_feedstocks()
    grounds = known["coffee grounds"]
    at_hand = mixed([(LEAVES, 10), (known["straw"], 1)], whole=[(grounds, 100)], others=[CHIPS])
    assert (at_hand.mending.material.name, at_hand.fits) == ("straw", False)
    again = mixed([(LEAVES, 10), (known["straw"], 1 + at_hand.mending.more_g / 1000)], whole=[(grounds, 100)])
    assert again.fits
    elsewhere = mixed([], whole=[(grounds, 100)], others=[LEAVES, known["straw"], grounds])
    assert elsewhere.mending.material.name == "straw"
    assert mixed([], whole=[(grounds, 100)], others=[grounds]).mending is None
    assert mixed([], whole=[(plain(), 100)], others=[LEAVES]).mending is None


def test_a_density_that_was_named_must_be_mended_too():
    light, heavy = feedstock("light", 55, 1, cn=30, density=60), plain(density=900)
    named = MixLimits.asked(density_most=500)
    recipe = mixed([(light, 1)], whole=[(heavy, 100)], limits=named)
    assert (recipe.fits, recipe.mending.material) == (False, light)
    more = 1 + recipe.mending.more_g / 1000
    assert mixed([(light, more)], whole=[(heavy, 100)], limits=named).fits
    assert not mixed([(light, more - 0.05)], whole=[(heavy, 100)], limits=named).fits


# Limits and materials.


def test_the_usual_limits_are_those_of_the_sources():
    # S12 and S57: moisture 50 to 60 %, at least 40 to 65, C/N 25 to 35, at least 20 to 40, under 600 kg/m³. S58: 35 % air.
    usual = MixLimits()
    assert (usual.moisture, usual.moisture_aim) == (Band(40, 65), Band(50, 60))
    assert (usual.cn, usual.cn_aim, usual.cn_goal) == (Band(20, 40), Band(25, 35), 30)
    assert (usual.density_most, usual.density_is_hard, usual.free_air_least) == (600, False, 35)
    assert MixLimits.asked() == usual


def test_what_a_person_asks_for_is_hard_and_is_aimed_at():
    asked = MixLimits.asked(moisture=Band(45, 48), cn=Band(31, 38), density_most=550)
    assert (asked.moisture, asked.moisture_aim) == (Band(45, 48), Band(45, 48))
    assert (asked.cn, asked.cn_aim, asked.cn_goal) == (Band(31, 38), Band(31, 38), 31)
    assert (asked.density_most, asked.density_is_hard) == (550, True)
    organic = MixLimits.asked(organic=True)
    assert (organic.cn_aim, organic.cn_goal, organic.density_is_hard) == (Band(25, 35), 30, False)
    assert MixLimits.asked(cn=Band(15, 25), organic=True).cn == Band(25, 25)
    assert MixLimits.asked(cn=Band(40, 50), organic=True).cn == Band(40, 40)
    with pytest.raises(ValueError, match="25 to 40"):
        MixLimits.asked(cn=Band(41, 50), organic=True)
    assert Band(3, 3).nearest(7) == 3


@pytest.mark.parametrize(
    ("moisture", "cn", "spoils"), [(50, 40, True), (49.9, 40, False), (50, 40.1, False), (90, 5, True)]
)
def test_what_is_wet_and_rich_rots_while_it_waits(moisture, cn, spoils):
    assert plain(moisture, cn).spoils is spoils


def test_what_has_no_nitrogen_never_rots_and_has_no_ratio():
    bare = feedstock("bare", 90, 0, carbon=50)
    assert (bare.spoils, bare.own_cn) == (False, None)


@pytest.mark.parametrize(
    ("figures", "said"),
    [
        ({"moisture": (0, 0, 99.9)}, None),
        ({"moisture": (0, 0, 100)}, "below 100"),
        ({"nitrogen": 100}, None),
        ({"nitrogen": 100.1}, "within 0 and 100"),
        ({"cn": 10_000}, None),
        ({"cn": 10_001}, "cn must rise from low to high, within 0 and 10000"),
        ({"density": 15}, None),
        ({"density": 14.9}, "within 15 and 1600"),
        ({"density": 1_600}, None),
        ({"density": 1_601}, "within 15 and 1600"),
        ({"ash": 0}, None),
        ({"ash": 100}, None),
        ({"ash": 101}, "ash"),
        ({"ash": -1}, "ash"),
        ({"cn": None, "carbon": 0}, None),
        ({"cn": None, "carbon": 100}, None),
        ({"cn": None, "carbon": 101}, "carbon"),
        ({"nitrogen": (1, 3, 2)}, "nitrogen must rise"),
        ({"nitrogen": (0, 1, 2)}, "state its carbon"),
    ],
)
def test_figures_are_taken_up_to_their_ends(figures, said):
    stated = {"moisture": 50, "nitrogen": 1, "cn": 30} | figures
    if said is None:
        assert feedstock("it", **stated).name == "it"
    else:
        with pytest.raises(ValueError, match=said):
            feedstock("it", **stated)


def test_a_figure_has_the_ends_that_are_known():
    assert Figure.known(5) == Figure(5, 5, 5)
    assert Figure.known(5, low=2) == Figure(2, 5, 5)
    assert Figure.known(5, high=9) == Figure(5, 5, 9)


def test_a_part_takes_as_much_room_as_its_loose_density_says():
    assert Part(plain(density=500), 1_000).volume_ml == 2_000
    assert Part(plain(), 1_000).volume_ml is None
    assert (
        Feedstock(name="it", moisture=Figure.known(20), nitrogen=Figure.known(0), carbon=Figure.known(40)).woody
        is False
    )


# The heap.


def test_a_heap_is_built_in_mild_weather_unless_somebody_says_otherwise():
    assert heap_size(760_000, None).big_enough
    assert [heap_size(2_000_000, ground).too_flat for ground in (2_000_000_000 // 600, 2_000_000_000 // 599)] == [
        False,
        True,
    ]


wet = st.builds(
    feedstock, st.just("wet"), st.just(80), st.just(2), cn=st.just(20), density=st.sampled_from([500, None])
)


@given(st.integers(1, 3_000), wet, st.integers(0, 99_999))
def test_wet_layers_of_a_quarter_of_a_cubic_metre_lie_between_dry_ones(kg, material, water_g):
    dry = feedstock("dry", 20, 0.5, cn=80)
    layers = layers_of([Part(material, kg * 1000), Part(dry, 50_000)], water_g)
    between = max(1, min(6, round(kg * 2 / 250)))
    names = [{part.material.name for part in one.parts} for one in layers]
    assert names == [{"dry"}, {"wet"}] * between + [{"dry"}]
    for kind, some in (("dry", layers[::2]), ("wet", layers[1::2])):
        masses = [sum(part.mass_g for part in one.parts) for one in some]
        assert max(masses) - min(masses) <= 1, kind
    assert {one.water_g for one in layers[1::2]} == {0}
    laid = [one.water_g for one in layers[::2]]
    assert (sum(laid), max(laid) - min(laid) <= 1) == (water_g, True)


@pytest.mark.parametrize(("material", "count"), [(feedstock("wet", 80, 2, cn=20, density=500), 4), (CHIPS, 1)])
def test_what_is_all_wet_or_all_dry_is_laid_in_layers_of_itself(material, count):
    layers = layers_of([Part(material, 500_000)], 400)
    assert [one.water_g for one in layers] == [400 // count] * count
    assert [[part.mass_g for part in one.parts] for one in layers] == [[500_000 // count]] * count


@pytest.mark.parametrize(
    ("one", "covers"),
    [
        (feedstock("it", 80, 1, cn=40), False),
        (feedstock("it", 80, 1, cn=41), True),
        (feedstock("it", 80, 1, cn=20, woody=True), True),
        (feedstock("it", 80, 0, carbon=20), True),
    ],
)
def test_what_is_rich_and_no_wood_lies_between_the_others(one, covers):
    layers = layers_of([Part(feedstock("wet", 80, 1, cn=20), 9_000), Part(LEAVES, 9_000), Part(one, 9_000)], 0)
    assert ("it" in {part.material.name for part in layers[0].parts}) is covers
    assert ("it" in {part.material.name for part in layers[1].parts}) is not covers
