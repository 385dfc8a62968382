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
    ("millimetres", "burns", "too_high"), [(1_800, 0, 0), (1_801, 1, 0), (3_700, 1, 0), (3_701, 1, 1)]
)
def test_a_high_heap_may_burn(millimetres, burns, too_high):
    size = heap_size(millimetres * 1_000, 1_000_000)
    assert size.height_mm == millimetres
    assert size.may_burn is bool(burns)
    assert size.too_high is bool(too_high)


def test_each_known_feedstock_names_its_source():
    known = known_feedstocks()
    assert list(known) == sorted(known)
    assert all(one.source and one.density is not None and one.ash is not None for one in known.values())
    assert known["grass"].own_cn == pytest.approx(17)
    assert known["leaves"].cn.high == 80
    assert known["coffee grounds"].spoils
    assert not known["leaves"].spoils
    assert [name for name, one in known.items() if one.woody] == ["wood chips"]
