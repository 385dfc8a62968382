"""A spot that is not one of the place's, or nearly one of those known, is asked about; a new spot elsewhere is taken."""

import pytest
from engine_yard import DAY, HOUR, T0, Drive, yard

from monitor.engine import Standing, Yard, questions, questions_of_readings
from monitor.engine.asking.spot_doubts import spot_doubt
from monitor.model.readings import Reading
from monitor.model.settings import Bin, Pile, Settings
from monitor.model.work import Work, WorkKind

SETTINGS = Settings(piles={"p1": Pile(name="Bay 1", spots=("west", "Far end"))}, bins={"b1": Bin(name="Wall bin")})


@pytest.mark.parametrize(
    ("place", "spot", "known", "asked"),
    [
        ("p1", "", ["x"], ""),
        ("p1", "west", [], ""),
        ("p1", "far  END", [], ""),
        ("p1", "wset", [], 'Bay 1 has no spot "wset"; its spots are west, Far end. Is the spot right?'),
        ("p1", "east", ["east"], 'Bay 1 has no spot "east"; its spots are west, Far end. Is the spot right?'),
        ("b1", "wset", [], ""),
        ("b1", "wset", ["west"], 'Wall bin: nothing was logged at "wset" before, but at "west". Is the spot right?'),
        ("b1", "East", ["west", "east "], ""),
        ("b1", "corner 2", ["corner 1"], ""),
        ("b1", "cornor 1", ["corner 1", "corner 2"], 'nothing was logged at "cornor 1" before, but at "corner 1".'),
        ("b1", "2", ["1", "3"], ""),
        ("b1", "drain", ["west"], ""),
    ],
)
def test_a_spot_that_may_be_a_slip_is_asked_about(place, spot, known, asked):
    found = spot_doubt(SETTINGS, place, spot, known)
    assert asked in found if asked else found == ""


def test_entries_and_readings_are_asked_about_alike():
    drive = Drive(yard(probes={}))
    read = Reading(T0 + HOUR, "hand:b1:west", 22_000_000, "Cel")
    drive.feed(T0 + HOUR, "readings", {"rows": [list(read)], "ahead": [], "by": "Ann"})
    entries = [Standing(1, Work(time=T0, place="b1", kind=WorkKind.WATERED, spot="drain"))]
    asking = Yard(core=drive.engine.core, entries=entries, now=T0 + DAY, place_of=drive.engine.place_of)
    for spot, meant in (("wset", "west"), ("darin", "drain")):
        (asked,) = questions(asking, Work(time=T0 + DAY, place="b1", kind=WorkKind.FED, spot=spot))
        (again,) = questions_of_readings(asking, [Reading(T0 + DAY, f"hand:b1:{spot}", 22_000_000, "Cel")])
        assert (
            asked == again == f'Sunny bin: nothing was logged at "{spot}" before, but at "{meant}". Is the spot right?'
        )
    assert questions(asking, Work(time=T0 + DAY, place="b2", kind=WorkKind.FED, spot="wset")) == []
