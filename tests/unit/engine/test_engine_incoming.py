"""What came into a heap: which heap it was of, however often that was thrown onto another, and whether it was little."""

import pytest
from engine_yard import DAY, HOUR, T0, Drive, core, yard

from monitor.material import CameIn, Change, incoming, relatives
from monitor.model.settings import Pile
from monitor.model.words import Method
from monitor.model.work import Work, WorkKind


def yard_of_four():
    piles = {name: Pile(name=name, rule="us-112-54-turned", method=Method.TURNED) for name in ("p1", "p2", "p3", "p4")}
    return Drive(yard(piles=piles, bins={}, probes={}))


def heaps(drive, *places, **amount):
    """Build heaps an hour apart and return their ids."""
    found = []
    for number, place in enumerate(places):
        drive.work(T0 + number * HOUR, place, "built", **amount)
        found.append(drive.engine.state.batches.lying[place])
    return found


def came(drive, batch, until=None):
    return [((one.work.time - T0) / DAY, one.batch, one.small) for one in incoming(drive.engine.core, batch, until)]


def test_material_is_of_the_heap_that_lay_where_it_came_from():
    drive = yard_of_four()
    first, second = heaps(drive, "p1", "p2")
    drive.work(T0 + DAY, "p1", "added", what="straw")
    drive.work(T0 + 2 * DAY, "p2", "merged", to="p1")
    drive.work(T0 + 3 * DAY, "p3", "merged", to="p1")
    drive.work(T0 + 4 * DAY, "p1", "turned")
    drive.work(T0 + 5 * DAY, "p1", "watered")
    assert came(drive, first) == [(1, "", False), (2, second, False), (3, "", False)], "p3 held nothing known"
    assert came(drive, first, T0 + DAY) == [(1, "", False)]
    assert came(drive, first, T0 + 2 * DAY - 1) == [(1, "", False)]
    assert came(drive, second) == []


def test_a_heaps_overs_are_of_that_heap_back_in_it_or_in_another():
    drive = yard_of_four()
    first, second = heaps(drive, "p1", "p2", amount="500", measure="kg", unit="kg")
    drive.work(T0 + DAY, "p1", "added", what=f"{first}/overs")
    drive.work(T0 + 2 * DAY, "p2", "added", what=f"{first}/overs", amount="20", measure="kg", unit="kg")
    drive.work(T0 + 3 * DAY, "p2", "added", what="p9-2020-01-01/overs")
    assert came(drive, first) == []
    assert came(drive, second) == [(2, first, True), (3, "", False)]


def test_what_is_said_to_be_of_a_heap_is_of_the_one_that_took_it_up():
    drive = yard_of_four()
    first, second, third, fourth = heaps(drive, "p1", "p2", "p3", "p4")
    drive.work(T0 + DAY, "p4", "added", what=third)
    drive.work(T0 + 2 * DAY, "p3", "merged", to="p2")
    drive.work(T0 + 3 * DAY, "p4", "added", what=third)
    drive.work(T0 + 4 * DAY, "p2", "merged", to="p1")
    drive.work(T0 + 5 * DAY, "p4", "added", what=third)
    drive.work(T0 + 6 * DAY, "p4", "added", what=fourth)
    drive.work(T0 + 7 * DAY, "p4", "added", what="p9-2020-01-01")
    assert came(drive, fourth) == [(1, third, False), (3, second, False), (5, first, False), (7, "", False)]
    whose = {
        (other, round((until - T0) / DAY), round((at - T0) / DAY))
        for other, until, at in relatives(drive.engine.core, fourth)
    }
    assert whose >= {(third, 1, 1), (second, 3, 3), (third, 3, 3), (first, 5, 5), (third, 5, 5)}
    assert (second, 4, 5) in whose, "what the first took up came in with it"
    assert not [one for one in relatives(drive.engine.core, second) if one[0] == fourth]


@pytest.mark.parametrize(
    ("built", "added", "small"),
    [
        ({"amount": "100", "measure": "kg"}, {"amount": "5", "measure": "kg"}, True),
        ({"amount": "100", "measure": "kg"}, {"amount": "10", "measure": "kg"}, True),
        ({"amount": "100", "measure": "kg"}, {"amount": "10.001", "measure": "kg"}, False),
        ({"amount": "100", "measure": "kg"}, {"amount": "50", "measure": "kg"}, False),
        ({"amount": "2", "measure": "m3"}, {"amount": "20", "measure": "L"}, True),
        ({"amount": "2", "measure": "m3"}, {"amount": "20", "measure": "kg"}, False),
        ({}, {"amount": "1", "measure": "kg"}, False),
        ({"amount": "100", "measure": "kg"}, {}, False),
    ],
)
def test_little_is_a_small_share_of_what_lay_there_by_weight_or_by_volume(built, added, small):
    drive = yard_of_four()
    (batch,) = heaps(drive, "p1", **built)
    drive.work(T0 + DAY, "p1", "added", what="straw", **added)
    ((_, _, found),) = came(drive, batch)
    assert found is small


@pytest.mark.parametrize(("kilos", "small"), [(10, True), (11, False)])
def test_a_heap_that_is_thrown_on_whole_is_as_much_as_went_into_it(kilos, small):
    drive = yard_of_four()
    (first,) = heaps(drive, "p1", amount="70", measure="kg")
    drive.work(T0 + HOUR, "p1", "added", amount="40", measure="kg")
    drive.work(T0 + 2 * HOUR, "p1", "split", to="p4", amount="10", measure="kg")
    drive.work(T0 + 3 * HOUR, "p2", "built", amount="4", measure="kg")
    drive.work(T0 + 4 * HOUR, "p2", "added", amount=str(kilos - 4), measure="kg")
    drive.work(T0 + DAY, "p2", "merged", to="p1")
    assert came(drive, first)[-1][2] is small


def test_of_a_heap_of_which_some_amount_is_not_known_nothing_is_little():
    drive = yard_of_four()
    (first,) = heaps(drive, "p1", amount="100", measure="kg")
    drive.work(T0 + HOUR, "p1", "added", what="straw")
    drive.work(T0 + 2 * HOUR, "p1", "turned")
    drive.work(T0 + DAY, "p1", "added", amount="1", measure="kg")
    assert came(drive, first)[-1][2] is False


@pytest.mark.parametrize(("kilos", "small"), [("4", True), ("5", False)])
def test_a_part_that_was_split_off_is_as_much_as_its_entry_says_and_not_as_the_whole(kilos, small):
    drive = yard_of_four()
    heaps(drive, "p1", amount="400", measure="kg")
    drive.work(T0 + HOUR, "p1", "split", to="p2", amount="40", measure="kg")
    part = drive.engine.state.batches.lying["p2"]
    drive.work(T0 + DAY, "p2", "added", what="straw", amount=kilos, measure="kg")
    assert came(drive, part)[-1][2] is small


def test_of_a_heap_of_which_nobody_wrote_down_how_it_was_begun_nothing_is_little():
    piles = {name: Pile(name=name, rule="us-112-54-turned", method=Method.TURNED) for name in ("p1", "p2")}
    drive = Drive(yard(piles=piles, bins={}, probes={"p1-a": core("p1")}))
    drive.read(T0, p1_a=50)
    drive.work(T0 + HOUR, "p1", "added", amount="40", measure="kg")
    drive.work(T0 + DAY, "p1", "added", amount="1", measure="kg")
    first = drive.engine.state.batches.lying["p1"]
    assert came(drive, first)[-1][2] is False
    drive.work(T0 + DAY, "p2", "built", amount="900", measure="kg")
    drive.work(T0 + 2 * DAY, "p1", "merged", to="p2")
    assert came(drive, drive.engine.state.batches.lying["p2"])[-1][2] is False


def test_each_part_of_what_was_thrown_on_together_is_of_its_own_heap_and_all_of_it_is_one_share():
    drive = yard_of_four()
    first, second, third = heaps(drive, "p1", "p2", "p3", amount="100", measure="kg")
    drive.work(T0 + DAY, "p3", "added", parts=f"{first}=6 kg; {second.upper()}=5 kg; water=50 L")
    drive.work(T0 + 2 * DAY, "p3", "added", parts=f"{first}=6 kg; {third}=50 kg")
    assert came(drive, third) == [
        (1, first, False), (1, second, False), (1, "", False), (2, first, True),
    ]  # fmt: skip


def test_a_split_onto_a_heap_that_moves_on_at_the_same_minute_went_into_it():
    drive = yard_of_four()
    first, second = heaps(drive, "p1", "p2")
    drive.work(T0 + DAY, "p1", "split", to="p2")
    drive.work(T0 + DAY, "p2", "moved", to="p3", entered=T0 + DAY + 1)
    assert came(drive, second) == [(1, first, False)]


def test_a_part_that_is_split_off_onto_another_heap_is_as_much_as_its_entry_says():
    for amount, small in (({"amount": "10", "measure": "kg"}, True), ({}, False)):
        drive = yard_of_four()
        first, _ = heaps(drive, "p1", "p2", amount="100", measure="kg")
        drive.work(T0 + DAY, "p2", "split", to="p1", **amount)
        assert came(drive, first)[-1][2] is small


@pytest.mark.parametrize(
    ("batch", "small", "change"),
    [
        ("met", False, Change.UNLESS_MET),
        ("met", True, Change.NONE),
        ("raw", False, Change.ANEW),
        ("raw", True, Change.ANEW),
        ("", False, Change.ANEW),
        ("", True, Change.ANEW),
    ],
)
def test_only_what_had_met_the_rule_by_then_leaves_the_count_standing(batch, small, change):
    asked = []

    def was_met(other, at):
        asked.append((other, at))
        return other == "met"

    entry = Work(time=T0, place="p1", kind=WorkKind.ADDED)
    assert CameIn(entry, batch, small).change(was_met) is change
    assert asked == ([(batch, T0)] if batch else []), "of raw material there is no record to ask"


def test_what_came_in_at_the_instant_of_the_building_is_part_of_it():
    drive = yard_of_four()
    (first,) = heaps(drive, "p1")
    drive.work(T0, "p1", "added", entered=T0 + HOUR, what="straw")
    drive.work(T0 + 1, "p1", "added", entered=T0 + 2 * HOUR, what="straw")
    assert len(came(drive, first)) == 1


@pytest.mark.parametrize(("share", "then"), [("10", ["met"]), ("50", ["not begun", "running"])])
def test_much_material_that_had_met_the_rule_makes_a_rule_under_way_begin_anew_and_little_does_not(share, then):
    piles = {name: Pile(name=name, rule="us-112-54-static", method=Method.STATIC) for name in ("p1", "p2")}
    drive = Drive(yard(piles=piles, bins={}, probes={"p1-a": core("p1"), "p2-a": core("p2")}))
    drive.work(T0, "p2", "built", amount="100", measure="kg")
    drive.hold(T0 + HOUR, T0 + 4 * DAY, HOUR, p2_a=60)
    drive.work(T0 + 4 * DAY + 1, "p1", "built", amount="100", measure="kg")
    drive.hold(T0 + 4 * DAY + HOUR, T0 + 5 * DAY, HOUR, p1_a=60, p2_a=60)
    finished = drive.engine.state.batches.lying["p2"]
    assert (drive.run("p1").rule.value, drive.run("p2").rule.value) == ("running", "met")
    drive.work(T0 + 5 * DAY + 1, "p1", "added", what=finished, amount=share, measure="kg")
    drive.hold(T0 + 5 * DAY + HOUR, T0 + 7 * DAY + 6 * HOUR, HOUR, p1_a=60, p2_a=60)
    said = [e.draft.after for e in drive.effects if e.draft.kind.value == "rule" and e.at > T0 + 5 * DAY]
    assert said == then
    assert drive.run("p1").rule.value == then[-1]
