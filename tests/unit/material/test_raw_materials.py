"""Raw by its name: what animals and kitchens leave, unless it is said to be composted."""

import pytest

from monitor.material import is_raw


@pytest.mark.parametrize(
    "name",
    [
        "manure",
        "Horse manure",
        "fresh dung",
        "kitchen scraps",
        "food waste",
        "chicken litter",
        "fish",
        "slurry",
        "Pomace",
    ],
)
def test_what_animals_and_kitchens_leave_is_raw(name):
    assert is_raw(name)


@pytest.mark.parametrize(
    "name",
    ["", "leaves", "straw", "wood chips", "finished compost", "composted manure", "leaf litter", "tarp", "bone meal",
     "p1-2026-11-01", "soil", "cured manure", "fleece"],
)  # fmt: skip
def test_the_usual_covers_and_what_was_treated_are_not(name):
    assert not is_raw(name)
