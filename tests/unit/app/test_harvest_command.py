"""`harvest`: harvests and their screenings out of the log, in words and as JSON."""

import json

import pytest
from typed_command import ENTRIES, call, yard_of

YARD = ENTRIES.replace('[bins.b1]\nname = "Wall bin"', '[bins.b1]\nname = "Wall bin"\n[bins.b2]\nname = "Shed bin"') + (
    '[containers.bucket]\ntare = "2 lb"\nfull = { castings = ["27 lb"] }\n'
)
yard = yard_of(YARD)
FRACTIONS = ("--fines", "30 lb", "--middle", "9 lb", "--overs", "8.27 lb")


def log(yard, *words):
    return call(yard, "log", *words, "--again")


def harvests(yard, *words):
    return json.loads(call(yard, "harvest", *words, "--json"))


def test_the_worked_example_of_a_harvest(yard):
    log(yard, "harvested", "b1", "100 lb", "--moisture", "74", "--at", "20 days ago")
    told = call(yard, "harvest", "b1")
    (id_,) = [one["harvest"] for one in harvests(yard)]
    assert told.startswith(f"Wall bin, harvest {id_}: 100 lb at 74 % moisture, 26 lb of it dry matter.\n")
    assert "Not screened yet. Dry it first until it weighs 40 lb to 47.3 lb (35 to 45 % moisture)" in told
    assert "wear a mask (N95 or FFP2)" in told
    assert "half loads, knees bent" in told
    log(yard, "screened", "b1", "--moisture", "45", *FRACTIONS, "--at", "10 days ago")
    told = call(yard, "harvest", "b1")
    assert (
        "47.3 lb (worked out, not weighed) at 45 % moisture.\n  52.7 lb of water dried off before, worked out.\n"
        in told
    )
    assert "  Fines: 30 lb, 30 % of the wet harvest and 63 % of the dry matter.\n" in told
    assert "Together" not in told
    assert "Middle starts a new bed; overs go back to a bed; worms that were picked out go back to a bed." in told
    assert "Fines may be called free of cocoons only after a rest" in told
    (found,) = harvests(yard, "b1")
    assert found["screening"]["on_screen_kg"] == pytest.approx(21.442, abs=0.001)
    assert found["screening"]["fractions"]["fines"]["of_dry"] == 0.6346
    assert found["second_screening"] is None


def test_what_went_back_is_told_and_no_longer_asked_for(yard):
    log(yard, "harvested", "b1", "100 lb", "--moisture", "74", "--at", "20 days ago")
    log(yard, "screened", "b1", "--moisture", "45", *FRACTIONS, "--at", "10 days ago")
    (id_,) = [one["harvest"] for one in harvests(yard)]
    log(yard, "bedded", "b2", "9 lb", "--what", "middle", "--from", id_)
    log(yard, "bedded", "b1", "8 lb", "--what", "overs", "--from", id_)
    told = call(yard, "harvest")
    assert "Went back: 9 lb of middle into Shed bin on " in told
    assert "  Worms that were picked out go back to a bed. Log each with its weight: " in told
    assert harvests(yard)[0]["returned"] == [
        {"what": "middle", "to": "b2", "amount": "9 lb"}, {"what": "overs", "to": "b1", "amount": "8 lb"},
    ]  # fmt: skip
    log(
        yard,
        "screened",
        "b1",
        "29 lb",
        "--what",
        f"fines {id_}",
        "--fines",
        "20 lb",
        "--middle",
        "3 lb",
        "--overs",
        "1 lb",
    )
    told = call(yard, "harvest")
    assert ": 10 days of rest, too few to call them free of cocoons.\n" in told
    assert "  Fines: 20 lb, 67 % of the wet fines" in told
    assert "Together that is 17 % less than went onto the screen: something was lost, left out or misread." in told


def test_wet_castings_blind_the_screen_and_a_part_is_called_one(yard):
    log(yard, "harvested", "b1", "4 buckets", "--moisture", "74")
    log(yard, "screened", "b1", "40 lb", "--moisture", "60", "--fines", "5 lb")
    told = call(yard, "harvest")
    assert ": 100 lb at 74 % moisture" in told, "four buckets of 25 lb, as weighed"
    assert "That was above 50 %: the screen blinds" in told
    assert "holds 62 % of the harvest's dry matter: the rest was not screened" in told
    assert "dried off" not in told


def test_what_nobody_weighed_is_not_made_up(yard):
    log(yard, "harvested", "b1", "2 in")
    log(yard, "screened", "b1", "--fines", "3 gal")
    told = call(yard, "harvest")
    assert ": 2 in, of unknown weight. Weigh it next time: a volume says nothing of dry matter.\n" in told
    assert ": an unknown weight and moisture.\n" in told
    (found,) = harvests(yard)
    assert (found["wet_kg"], found["dry_kg"], found["screening"]["fractions"]) == (None, None, {})


def test_a_screening_of_nothing_that_was_harvested_is_named(yard):
    assert "No harvest of Wall bin is logged: heaptender log harvested b1 AMOUNT" in call(
        yard, "log", "note", "b1", "x"
    ) + call(yard, "harvest", "b1")
    log(yard, "screened", "b1", "9 lb")
    log(yard, "screened", "b1", "9 lb", "--what", "nowhere-1")
    told = call(yard, "harvest")
    assert (
        "screened 9 lb: no harvest of that bin was logged before it, so it counts for none. `heaptender log list b1`"
        in told
    )
    assert 'screened 9 lb of nowhere-1: "nowhere-1" is no harvest, so it counts for none. `heaptender' in told


def test_the_newest_harvests_are_shown_and_all_if_asked_for(yard):
    for day in (9, 7, 5, 3):
        log(yard, "harvested", "b1", "9 lb", "--at", f"{day} days ago")
    log(yard, "harvested", "b2", "9 lb")
    assert [one["place"] for one in harvests(yard)] == ["b1", "b1", "b1", "b2"]
    assert len(harvests(yard, "--all")) == 5
    assert len(harvests(yard, "b2")) == 1
    assert '"p1" is no worm bin.' in call(yard, "harvest", "p1", code=2)
