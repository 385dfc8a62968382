"""`bed`: the depth, the worms and the next steps of each bed, out of log and configuration."""

import json

import pytest
from typed_command import ENTRIES, call, yard_of

YARD = ENTRIES.replace(
    '[bins.b1]\nname = "Wall bin"',
    '[bins.b1]\nname = "Wall bin"\nkind = "flow"\nsurface = "32 ft2"\nrim = "30 in"\n'
    '[bins.b2]\nname = "Shed bin"\nkind = "trays"\nworms = "4 lb"\nsurface = "1 ft2"\n[bins.b3]\nname = "Tub"',
)
yard = yard_of(YARD)


def log(yard, *words):
    return call(yard, "log", *words, "--again")


def beds(yard, *words):
    return {one["place"]: one for one in json.loads(call(yard, "bed", *words, "--json"))}


def test_what_is_not_known_is_asked_for(yard):
    log(yard, "note", "b1", "dug over")
    told = call(yard, "bed")
    assert (
        "Wall bin, a bed on a grate, 32 ft²: its depth is unknown.\n  Worms: unknown. Weigh the worms under 1 ft²"
        in told
    )
    assert (
        'Next lift: nobody can say without its depth; measure it: heaptender log inspected b1 --depth "20 in".' in told
    )
    assert 'Next harvest: nobody can say without its kind; configure it ([bins.b3] kind = "flow").' in told
    assert "Next harvest: the lowest tray, once nothing in it can be told from soil." in told
    assert "4 lb/ft²: more than 3 lb is too many for it, so spread them to another bed." in told
    assert beds(yard, "b3")["b3"]["worms"] is None


def test_a_measured_and_sampled_bed(yard):
    log(yard, "inspected", "b1", "--depth", "19 in", "--at", "12 days ago")
    for spot, ounces in (("west", 13), ("middle", 16), ("east", 19)):
        log(yard, "sampled", "b1", f"{ounces} oz", "--what", "worms", "--spot", spot, "--at", "12 days ago")
    log(yard, "harvested", "b1", "80 lb", "--depth", "2 in", "--at", "8 days ago")
    told = call(yard, "bed", "b1")
    assert ": 17 in deep as measured on " in told
    assert ", with the lifts and harvests since; its top is 13 in below the rim.\n" in told
    assert "  Worms: about 32 lb by 3 samples on " in told
    assert "(22.6 lb to 38 lb), 1 lb/ft²." in told, "the least counts what harvests may have taken"
    assert "took at most 3.4 lb of them along (an estimate, as if they lay evenly; most stay near the food)." in told
    assert "  Next lift: now, 6 in of damp bedding, as its top is 13 in below the rim (12 in is enough).\n" in told
    assert "in to 2 in from below, by when it was last harvested (" in told
    assert "half loads, knees bent" in told
    found = beds(yard)["b1"]
    assert (found["worms"]["known"], found["worms"]["samples"]) == ("by samples", 3)
    assert found["worms"]["kg"] == pytest.approx(14.515, abs=0.001)
    assert found["harvest"]["due"] is not None
    call(yard, "log", "reading", "b1", "70", "--at", "1 h ago")
    (plan,) = json.loads(call(yard, "feeding", "b1", "--json"))
    assert plan["appetite_kg"] == pytest.approx(14.515 * 3.5, abs=0.01), "the sampled worms are fed"


def test_harvests_say_how_long_food_stays_and_when_the_next_lift_is(yard):
    for days in (29, 15, 1):
        log(yard, "harvested", "b1", "2 in", "--at", f"{days} days ago")
    log(yard, "inspected", "b1", "--depth", "20 in")
    told = call(yard, "bed", "b1")
    assert "Food stays in it for about 140 days (its depth by the rate of its harvests)." in told
    assert "at the rate of its harvests, 6 in; it must sink by 2 in first." in told
    assert beds(yard)["b1"]["lift"]["reason"] == "sinking"


def test_a_bed_that_has_sunk_by_its_harvests_to_the_mark_is_due(yard):
    log(yard, "inspected", "b1", "--depth", "20 in", "--at", "3 days ago")
    log(yard, "harvested", "b1", "100 lb", "--depth", "2 in", "--at", "2 days ago")
    assert "  Next lift: now, 6 in of damp bedding, as its top is 12 in below the rim" in call(yard, "bed", "b1")
    told = call(yard, "harvest", "b1")
    assert "\nWorms left in Wall bin: unknown. Weigh the worms under 1 ft²" in told


def test_an_emptied_bin_and_a_new_bed(yard):
    log(yard, "inspected", "b1", "--depth", "19 in", "--at", "12 days ago")
    log(yard, "emptied", "b1", "--at", "3 days ago")
    told = call(yard, "bed", "b1")
    assert "32 ft²: empty by the log.\n  Next lift: it is empty; begin with 6 in of damp bedding.\n" in told
    log(yard, "bedded", "b1", "6 in")
    told = call(yard, "bed", "b1")
    assert ": 6 in deep by the lifts and harvests in the log, not measured; its top is 24 in below the rim.\n" in told
    assert ", 6 in: it has sunk far enough, but is younger than six weeks.\n" in told
    assert "Next harvest: not yet; it must grow by 10 in, to 16 in." in told
    log(yard, "bedded", "b1", "2 lb", "--what", "worms", "--from", "a grower")
    log(yard, "bedded", "b1", "--what", "worms", "--from", "a neighbour")
    assert "Worms: 2 lb by what was brought, never weighed since" in call(yard, "bed", "b1")
    log(yard, "bedded", "b2", "8 oz", "--what", "worms", "--from", "wall bin")
    assert beds(yard)["b1"]["worms"]["kg"] == pytest.approx(0.680, abs=0.001)
    log(yard, "sampled", "b1", "1.6 lb", "--what", "all worms")
    assert "Worms: 1.6 lb, weighed on " in call(yard, "bed", "b1")


def test_worms_are_counted_by_the_pound(yard):
    assert call(yard, "bed", "--count", "2000") == "2,000 grown worms weigh about 2 lb (1.3 lb to 2.5 lb).\n"
    assert json.loads(call(yard, "bed", "--count", "1000", "--json"))["kg"] == pytest.approx(0.4536, abs=1e-4)
    assert '"p1" is no worm bin.' in call(yard, "bed", "p1", code=2)
