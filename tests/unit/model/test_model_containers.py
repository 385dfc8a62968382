"""The yard's containers: weighed before estimated, with the error that the weighings leave."""

import pytest

from monitor.model.containers import CONTAINERS, Container


def test_the_contracts_check_value_of_weighed_buckets():
    # The contract: 40 buckets of which 5 were weighed at 17.2 ± 0.6 kg make 688 ± 11 kg. These five have that mean and spread.
    held = Container(full_g={"grounds": (16_600, 16_600, 17_200, 17_800, 17_800)}).content("Grounds", 40, None)
    assert held.mass_g == pytest.approx(688_000)
    assert held.error_g == pytest.approx(40 * 600 / 5**0.5) == pytest.approx(10_733, abs=1)
    assert held.weighed == 5


def test_the_tare_is_taken_off_and_one_weighing_has_no_error():
    held = Container(tare_g=14_000, full_g={"leaves": (24_000,)}).content("leaves", 2.5, 120)
    assert (held.mass_g, held.error_g, held.weighed) == (25_000, None, 1)


def test_what_was_not_weighed_is_estimated_by_volume_and_density():
    barrow = Container(volume_ml=85_000, full_g={"leaves": (24_000,)})
    held = barrow.content("straw", 2, 120)
    assert (held.mass_g, held.weighed) == (pytest.approx(20_400), 0)
    assert barrow.content("straw", 2, None) is None
    assert Container().content("straw", 2, 120) is None


def test_containers_are_the_words_of_amounts():
    assert CONTAINERS == ("bucket", "barrow", "bag")
