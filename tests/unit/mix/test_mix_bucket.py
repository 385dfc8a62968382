"""The bucket test: pounds in a 5-gal bucket are lb/yd³, the water that fills it is its free air, and both take precedence."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.mix import BUCKET_ML, BucketTest, Figure, MixLimits, Offer, Part, known_feedstocks, measured, work_out

KNOWN = known_feedstocks()
LB_G, YD3_M3 = 453.59237, 0.764554857984


def mix(**limits):
    whole = [Part(KNOWN["horse manure"], 300_000)]
    return work_out(whole, [Offer(KNOWN["leaves"], 200_000)], MixLimits(**limits))


@given(st.floats(3, 50))
def test_a_pound_in_the_bucket_is_40_39_pounds_a_cubic_yard(pounds):
    # The exact units: a cubic yard is 201.97 gal, a fifth of which is 40.39.
    test = BucketTest(round(pounds * LB_G))
    assert test.density / LB_G * 1000 * YD3_M3 == pytest.approx(pounds * 40.39, rel=1e-3)


def test_a_published_bucket():
    # A university guide (seen-2nd): a bucket of 20 L weighs 1 kg empty and 10 kg full, so the mix has 0.45 kg/L.
    assert BucketTest(9_000, 20_000).density == 450


def test_the_water_that_fills_it_is_its_free_air():
    assert BucketTest(10_000, 20_000, 8_000).free_air == 40
    assert BucketTest(10_000, 20_000, 0).free_air == 0
    assert BucketTest(10_000, 20_000).free_air is None


@pytest.mark.parametrize(
    ("mass_g", "water_ml", "said"),
    [(400, None, "of 21 kg/m³ cannot be"), (60_000, None, "cannot be"), (9_000, BUCKET_ML, "more water went in")],
)  # fmt: skip
def test_what_no_bucket_can_be_is_refused(mass_g, water_ml, said):
    with pytest.raises(ValueError, match=said):
        BucketTest(mass_g, water_ml=water_ml)


def test_what_was_measured_replaces_what_was_worked_out():
    recipe = mix()
    found = measured(recipe, BucketTest(10_000, 20_000, 8_000))
    assert found.figures.density == Figure(500, 500, 500)
    assert found.figures.free_air == Figure(40, 40, 40)
    assert found.figures.volume_ml == recipe.figures.mass_g * 2
    assert (found.figures.cn, found.figures.moisture) == (recipe.figures.cn, recipe.figures.moisture)
    assert (found.parts, found.water_g, found.fits) == (recipe.parts, recipe.water_g, True)


def test_without_water_free_air_follows_from_the_density_that_was_measured():
    recipe = mix()
    assert recipe.figures.density is not None
    grams = round(recipe.figures.density.typical * BUCKET_ML / 1000)
    assert measured(recipe, BucketTest(grams)).figures.free_air.typical == pytest.approx(
        recipe.figures.free_air.typical, abs=0.01
    ), "the density that was worked out anyway"
    assert measured(recipe, BucketTest(grams * 2)).figures.free_air.typical < recipe.figures.free_air.typical
    assert measured(recipe, BucketTest(25_000)).figures.free_air.typical == 0, "never less than none"


def test_water_that_was_added_takes_room_too():
    dry = work_out([Part(KNOWN["straw"], 100_000)], [Offer(KNOWN["laying-hen manure"], 60_000)], MixLimits())
    assert dry.water_g > 0
    # A bucket of a cubic metre, so that no gram is rounded away.
    grams = round(dry.figures.density.typical * 1000)
    found = measured(dry, BucketTest(grams, 1_000_000)).figures.free_air.typical
    assert found == pytest.approx(dry.figures.free_air.typical, abs=0.001)


def test_a_bucket_holds_five_gallons_to_the_millilitre():
    assert round(5 * 3785.411784) == BUCKET_ML


@pytest.mark.parametrize(("mass_g", "stands"), [(29_999, False), (30_000, True), (1_400_000, True), (1_400_001, False)])
def test_the_lightest_and_the_heaviest_mix(mass_g, stands):
    if stands:
        assert BucketTest(mass_g, 1_000_000).density == mass_g / 1000
    else:
        with pytest.raises(ValueError, match="cannot be"):
            BucketTest(mass_g, 1_000_000)


def test_what_would_mend_a_mix_stays_where_a_bucket_does_not_mend_it():
    recipe = work_out([Part(KNOWN["coffee grounds"], 100_000)], [Offer(KNOWN["leaves"], 20_000)], MixLimits())
    assert recipe.mending is not None
    assert measured(recipe, BucketTest(10_000, 20_000)).mending == recipe.mending


def test_a_heavy_bucket_breaks_the_density_that_somebody_named_and_no_other():
    heavy = BucketTest(14_000, 20_000, 4_000)
    named = measured(mix(density_is_hard=True, density_most=600), heavy)
    assert not named.fits
    assert [one.what for one in named.bounds if one.broken] == ["density"]
    usual = measured(mix(), heavy)
    assert usual.fits
    assert {"density", "free air"} <= {one.what for one in usual.bounds}
    assert not {"density", "free air"} & {one.what for one in measured(mix(), BucketTest(8_000, 20_000, 9_000)).bounds}


def test_a_light_bucket_mends_a_density_that_was_only_worked_out():
    recipe = work_out([Part(KNOWN["stable litter"], 300_000)], [], MixLimits(density_is_hard=True, density_most=200))
    assert [one.what for one in recipe.bounds if one.broken] == ["density"]
    found = measured(recipe, BucketTest(3_900, 20_000))
    assert found.fits
    assert found.mending is None
