"""The heap that a mix makes: big enough to stay hot, not so high that it burns."""

import pytest

from monitor.mix import heap_size, known_feedstocks

FT2 = 92_903


@pytest.mark.parametrize(
    ("litres", "frost", "enough"), [(759, False, False), (760, False, True), (1_499, True, False), (1_500, True, True)]
)
def test_a_heap_below_a_cubic_yard_does_not_stay_hot(litres, frost, enough):
    assert heap_size(litres * 1000, None, frost=frost).big_enough is enough


def test_the_height_follows_from_the_bay():
    size = heap_size(1_500_000, 1_500 * 2_000)
    assert size.height_mm == 500
    assert not size.may_burn
    assert heap_size(1_500_000, None).height_mm is None


@pytest.mark.parametrize(
    ("millimetres", "burns", "too_high"), [(1_828, 0, 0), (1_829, 1, 0), (3_657, 1, 0), (3_658, 1, 1)]
)
def test_a_high_heap_may_burn(millimetres, burns, too_high):
    size = heap_size(millimetres * 1_000, 1_000_000)
    assert size.height_mm == millimetres
    assert size.may_burn is bool(burns)
    assert size.too_high is bool(too_high)


@pytest.mark.parametrize(("millimetres", "heaps"), [(500, 1), (1_828, 1), (1_829, 2), (3_700, 3), (22_000, 13)])
def test_it_says_of_how_many_heaps_none_can_burn_by_its_height(millimetres, heaps):
    assert heap_size(millimetres * 1_000, 1_000_000).heaps == heaps
    assert millimetres / heaps <= 1_828


def test_a_film_on_the_ground_never_heats():
    assert heap_size(2_000_000, 10**7).too_flat
    assert not heap_size(2_000_000, 10**6 * 3).too_flat
    assert not heap_size(2_000_000, None).too_flat


def test_each_known_feedstock_names_its_source():
    known = known_feedstocks()
    assert list(known) == sorted(known)
    assert all(one.source and one.density is not None and one.ash is not None for one in known.values())
    assert known["grass"].own_cn == pytest.approx(17)
    assert known["leaves"].cn.high == 80
    assert known["coffee grounds"].spoils
    assert not known["leaves"].spoils
    assert [name for name, one in known.items() if one.woody] == ["wood chips"]
