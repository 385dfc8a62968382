"""Sights of a look into a bin: a few words each, and nothing else."""

import itertools

import pytest

from monitor.model.errors import MisuseError
from monitor.model.settings import Settings
from monitor.model.sightings import SIGHTINGS, SQUEEZES, sighting
from monitor.model.work import Work, WorkKind
from monitor.model.work_entry import work_fields
from monitor.model.work_kinds import SIGHTS


def test_each_sight_is_a_field_of_work_and_has_its_words():
    assert tuple(SIGHTINGS) == SIGHTS
    assert set(SIGHTS) <= set(Work.__dataclass_fields__)
    assert tuple(SQUEEZES) == SIGHTINGS["squeeze"]


def test_the_ranges_of_the_squeeze_follow_one_another():
    ends = [moisture for _, moisture in SQUEEZES.values()]
    assert ends[0][0] == 0
    assert ends[-1][1] == 100_000
    assert all(before[1] == after[0] for before, after in itertools.pairwise(ends))
    assert SQUEEZES["4"] == ("two or three drops", (60_000, 70_000))


@pytest.mark.parametrize(
    ("name", "text", "word"),
    [
        ("worms", " On  the Lid ", "on the lid"),
        ("smell", "", ""),
        ("squeeze", "3", "3"),
        ("worms", "on-the-lid", "on the lid"),
        ("cocoons", "No", "none"),
        ("smell", "rotten", "rotten eggs"),
    ],
)
def test_capitals_and_spaces_do_not_matter(name, text, word):
    assert sighting(name, text) == word


@pytest.mark.parametrize(
    ("name", "text", "right"),
    [
        ("worms", "gone", "plenty, few, on the lid or dead"),
        ("squeeze", "6", "1, 2, 3, 4 or 5"),
        ("cocoons", "maybe", "yes or none"),
    ],
)
def test_other_words_are_refused_with_the_list(name, text, right):
    with pytest.raises(ValueError, match=right):
        sighting(name, text)
    with pytest.raises(MisuseError, match=right):
        work_fields(Settings(), WorkKind.INSPECTED, {name: text})


def test_a_look_without_a_sight_says_nothing():
    with pytest.raises(MisuseError, match="What did you see"):
        work_fields(Settings(), WorkKind.INSPECTED, {"note": "all fine"})
    assert work_fields(Settings(), WorkKind.INSPECTED, {"worms": "Plenty", "note": "x"}) == {
        "worms": "plenty",
        "note": "x",
    }
    with pytest.raises(MisuseError, match="says nothing of"):
        work_fields(Settings(), WorkKind.FED, {"worms": "plenty"})
