"""Undoing means undoing: what an entry did to where heaps lie is taken back, and the rest is as if it had never been made."""

import json
from dataclasses import replace

import pytest
from engine_both_doors import Recorder, same
from engine_yard import DAY, HOUR, MIN, T0, Drive, air, bedding, core, yard
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.engine import Engine
from monitor.engine.context.batch_runs import progress_now
from monitor.engine.handlers.undone_entries import in_the_way
from monitor.model.settings import Pile
from monitor.model.units import Quantity
from monitor.model.words import Method

HOT = 60.0


def drive_of():
    piles = {
        "p1": Pile(name="Bay 1", rule="us-112-54-turned", method=Method.TURNED, built=T0),
        "p2": Pile(name="Bay 2", rule="us-112-54-static", method=Method.STATIC),
        "p3": Pile(name="Bay 3"),
    }
    drive = Drive(yard(piles=piles))
    drive.hold(T0 + MIN, T0 + 3 * DAY, p1_a=HOT, p1_b=HOT)
    return drive


def book(drive):
    """Where heaps lie, and what is known of them."""
    state = drive.engine.state
    lying = dict(state.batches.lying)
    batches = {
        one.batch: (
            one.built,
            [(s.pile, s.start, s.end) for s in one.spans],
            one.ended,
            one.merged_into,
            one.parent,
            [(b.time, b.bin) for b in one.bedding],
        )
        for one in state.batches.batches.values()
    }
    places = {probe: drive.engine.place_of(probe) for probe in state.settings.probes}
    return lying, batches, places, sorted(state.runs), sorted(state.batches.settled)


def walks(drive):
    """What each batch's walk and rule came to, after all was worked out."""
    return {
        batch: (run.walk.phase, run.rule, progress_now(run).values if progress_now(run) else None, run.built)
        for batch, run in drive.engine.state.runs.items()
    }


def entry(drive, at):
    return next(one for one in drive.engine.state.works if one.at == at)


def undo(drive, of, at=None):
    return drive.feed(at or drive.engine.last + MIN, "correction", {"of": of, "work": None, "by": "Ann"})


@pytest.mark.parametrize(
    "what",
    [
        ("built", {}), ("moved", {"to": "p3"}), ("moved", {"to": "p3", "note": "probes left; not a turning"}),
        ("split", {"to": "p3"}), ("emptied", {}), ("merged", {"to": "p3"}), ("merged", {"to": "p2"}),
        ("moved", {"to": "p2"}), ("split", {"to": "p2"}), ("moved", {"to": "b1"}), ("split", {"to": "b1"}),
    ],
)  # fmt: skip
def test_a_heap_lies_again_where_it_lay(what):
    kind, more = what
    drive = drive_of()
    drive.work(T0 + 3 * DAY, "p2", "built")
    before, told = book(drive), walks(drive)
    at = T0 + 3 * DAY + HOUR
    drive.work(at, "p1", kind, **more)
    if kind != "split" or more["to"] != "p2":
        assert book(drive) != before
    assert in_the_way(drive.engine.state, entry(drive, drive.engine.last), None) is None
    undo(drive, drive.engine.last)
    assert book(drive) == before
    assert walks(drive) == told
    assert not [one for one in drive.engine.state.works if one.work.kind == kind and one.work.time == at]


@pytest.mark.parametrize("kind", ["moved", "split", "merged"])
def test_a_place_that_was_logged_emptied_stays_so_when_what_came_there_is_taken_back(kind):
    drive = Drive(replace(drive_of().settings, probes={**yard().probes, "p3-a": core("p3")}))
    drive.work(T0 + HOUR, "p3", "emptied")
    drive.work(T0 + 2 * HOUR, "p1", kind, to="p3")
    undo(drive, drive.engine.last)
    drive.read(T0 + 3 * HOUR, p3_a=HOT)
    assert drive.engine.state.batches.lying == {"p1": "p1-2026-11-01"}, "nothing but an entry begins a heap there"


@pytest.mark.parametrize("later", [None, "emptied"])
def test_an_emptying_that_is_taken_back_lets_the_first_reading_begin_a_heap(later):
    drive = Drive(replace(drive_of().settings, probes={**yard().probes, "p3-a": core("p3")}))
    drive.work(T0 + HOUR, "p3", "emptied")
    of = drive.engine.last
    drive.work(T0 + 2 * HOUR, "p2", "built")
    drive.work(T0 + 3 * HOUR, "p2", "emptied")
    if later:
        drive.work(T0 + 4 * HOUR, "p3", later)
    undo(drive, of)
    undo(drive, of)
    drive.read(T0 + 5 * HOUR, p3_a=HOT)
    assert ("p3" in drive.engine.state.batches.lying) is (later is None)


def test_readings_that_came_while_it_had_ended_count_again():
    drive, plain = drive_of(), drive_of()
    drive.work(T0 + 3 * DAY, "p1", "emptied")
    of = drive.engine.last
    for one in (drive, plain):
        one.hold(T0 + 3 * DAY + HOUR, T0 + 5 * DAY, p1_a=HOT, p1_b=HOT)
    undo(drive, of, T0 + 5 * DAY + HOUR)
    plain.hold(T0 + 5 * DAY + HOUR, T0 + 5 * DAY + HOUR, p1_a=HOT)
    drive.hold(T0 + 5 * DAY + HOUR + MIN, T0 + 5 * DAY + HOUR + MIN, p1_a=HOT)
    days = [progress_now(one.engine.state.runs["p1-2026-11-01"]).values["days"] for one in (drive, plain)]
    assert days[0] == days[1] >= 4


def test_what_rests_on_an_entry_stands_in_its_way_and_is_named():
    drive = drive_of()
    at = T0 + 3 * DAY
    drive.work(at, "p1", "moved", to="p3")
    moved = drive.engine.last
    drive.work(at + HOUR, "p3", "turned")
    turned = drive.engine.last
    assert in_the_way(drive.engine.state, entry(drive, moved), None).at == turned
    before = book(drive)
    undo(drive, moved)
    assert book(drive) == before, "nothing was undone"
    undo(drive, turned)
    undo(drive, moved)
    assert drive.engine.state.batches.lying == {"p1": "p1-2026-11-01"}


def test_a_second_building_goes_and_the_turnings_are_the_first_heaps():
    drive = drive_of()
    drive.work(T0 + 3 * DAY, "p1", "built")
    of = drive.engine.last
    drive.work(T0 + 3 * DAY + 8 * HOUR, "p1", "turned")
    turned = drive.engine.last
    undo(drive, of)
    state = drive.engine.state
    assert state.batches.lying == {"p1": "p1-2026-11-01"}
    run = state.runs["p1-2026-11-01"]
    assert [work.kind for work, _ in drive.engine.core.works_of(run)] == ["turned"]
    assert entry(drive, turned)


def test_a_move_is_put_right_to_another_place():
    drive = drive_of()
    drive.work(T0 + 3 * DAY, "p1", "moved", to="p2")
    of = drive.engine.last
    right = {"time": T0 + 3 * DAY, "place": "p1", "kind": "moved", "to": "p3"}
    drive.feed(of + MIN, "correction", {"of": of, "work": right, "by": "Ann"})
    assert drive.engine.state.batches.lying == {"p3": "p1-2026-11-01"}
    assert drive.engine.place_of("p1-a") == "p3"
    assert entry(drive, of).work.to == "p3"


def test_a_building_is_put_right_to_another_place_and_another_hour():
    drive = drive_of()
    drive.work(T0 + DAY, "p2", "built")
    of = drive.engine.last
    for place, hours in (("p3", 0), ("p3", 5), ("p2", 7)):
        right = {"time": T0 + DAY + hours * HOUR, "place": place, "kind": "built"}
        drive.feed(drive.engine.last + MIN, "correction", {"of": of, "work": right, "by": "Ann"})
        assert set(drive.engine.state.batches.lying) == {"p1", place}
        assert drive.run(place).built == T0 + DAY + hours * HOUR


def test_a_batch_that_ended_long_ago_stays_ended():
    drive = drive_of()
    drive.work(T0 + 3 * DAY, "p1", "emptied")
    of = drive.engine.last
    drive.work(T0 + 4 * DAY, "p2", "built")
    drive.work(T0 + 30 * DAY, "p2", "emptied")
    assert not [one for one in drive.engine.state.works if one.at == of], "its work is forgotten with it"
    undo(drive, of)
    assert "p1" not in drive.engine.state.batches.lying


@pytest.mark.parametrize(("more", "lies"), [(0, True), (1, False)])
def test_an_emptying_can_be_taken_back_for_fourteen_days(more, lies):
    drive = drive_of()
    drive.work(T0 + 3 * DAY, "p1", "emptied")
    of = drive.engine.last
    drive.work(T0 + 4 * DAY, "p2", "built")
    drive.work(of + 14 * DAY + more, "p2", "emptied")
    undo(drive, of)
    assert ("p1" in drive.engine.state.batches.lying) is lies


def test_a_snapshot_between_changes_nothing():
    drive, other = drive_of(), drive_of()
    for one in (drive, other):
        one.work(T0 + 3 * DAY, "p1", "merged", to="p2")
        one.work(T0 + 3 * DAY + HOUR, "p1", "built")
    other.engine = Engine.restore(other.engine.snapshot())
    for one in (drive, other):
        undo(one, T0 + 3 * DAY + HOUR, T0 + 4 * DAY)
        undo(one, T0 + 3 * DAY, T0 + 4 * DAY + MIN)
    assert drive.engine.snapshot() == other.engine.snapshot()


KINDS = [("built", {}), ("emptied", {}), ("turned", {}), *((kind, {"to": to}) for kind in ("moved", "split", "merged")
         for to in ("p1", "p2", "p3", "b1"))]  # fmt: skip


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(st.sampled_from(["p1", "p2", "p3"]), st.sampled_from(KINDS)), min_size=1, max_size=8))
def test_taking_everything_back_in_turn_leaves_what_was(script):
    drive = Drive(yard(piles={"p1": Pile(name="a", built=T0), "p2": Pile(name="b"), "p3": Pile(name="c")}))
    states = [book(drive)]
    done = []
    for number, (place, (kind, more)) in enumerate(script, 1):
        drive.work(T0 + number * DAY, place, kind, **more)
        done.append(drive.engine.last)
        states.append(book(drive))
    last = drive.engine.last
    for number, of in reversed(list(enumerate(done))):
        last += MIN
        undo(drive, of, last)
        assert book(drive) == states[number]


def test_what_was_done_to_a_bin_is_undone_too():
    drive = Drive(yard())
    bed = drive.engine.state.bins["b1"]
    drive.work(T0 + HOUR, "b1", "fed")
    drive.work(T0 + 2 * HOUR, "b1", "fed")
    undo(drive, drive.engine.last)
    assert drive.engine.state.bins["b1"].fed_at == T0 + HOUR
    drive.work(T0 + 3 * HOUR, "b1", "emptied")
    emptied = drive.engine.last
    assert drive.engine.state.bins["b1"].emptied_at == T0 + 3 * HOUR
    undo(drive, emptied)
    assert (bed.emptied_at, bed.fed_at) == (None, T0 + HOUR)


@pytest.mark.parametrize("kind", ["fed", "emptied", "bedded"])
def test_what_was_logged_of_a_bin_and_was_something_else_never_was(kind):
    drive, plain = (Drive(yard(probes={"b1-t": bedding("b1")})) for _ in range(2))
    for one in (drive, plain):
        one.work(T0 + HOUR, "b1", "fed")
        if kind == "bedded":
            one.work(T0 + 2 * HOUR, "b1", "emptied")
    drive.work(T0 + 3 * HOUR, "b1", kind)
    right = {"time": T0 + 3 * HOUR, "place": "b1", "kind": "note", "note": "fed the neighbour's"}
    drive.feed(T0 + 4 * HOUR, "correction", {"of": drive.engine.last, "work": right, "by": "Ann"})
    states = [one.engine.state.bins["b1"] for one in (drive, plain)]
    assert [(one.emptied_at, one.fed_at) for one in states] == [(states[1].emptied_at, states[1].fed_at)] * 2


def test_a_mute_for_what_never_was_ends():
    drive = Drive(yard())
    drive.hold(T0, T0 + 6 * HOUR, b1_m=90)
    assert drive.state_of("b1/too-wet") == "unacknowledged"
    drive.work(T0 + 6 * HOUR + MIN, "b1", "watered")
    of = drive.engine.last
    assert drive.state_of("b1/too-wet") == "suppressed"
    undo(drive, of)
    drive.hold(drive.engine.last + MIN, drive.engine.last + 30 * MIN, b1_m=90)
    assert drive.state_of("b1/too-wet") == "unacknowledged"


UNTOLD = ("last", "effect_at", "ordinal", "settings", "desk", "agenda")


def remembered(drive):
    """What the engine remembers of the yard, without whom it told of what, and without how far it has come."""
    state = json.loads(drive.engine.snapshot())
    for name in UNTOLD:
        del state[name]
    for run in state["runs"].values():
        for line in run["walk"]["lines"].values():
            line.pop("times"), line.pop("values")  # how much of a line is kept behind it
    for one in state["alarms"].values():
        one.pop("last"), one.pop("by_hand")
    return state


def read_by_hand(drive, at, place, fahrenheit, spot=""):
    series = f"hand:{place}:{spot}" if spot else f"hand:{place}"
    row = [at, series, round(fahrenheit * 1_000_000), "[degF]"]
    return drive.feed(at, "readings", {"rows": [row], "ahead": [], "by": "Ann"})


def hot_heap(drive):
    drive.hold(T0 + MIN, T0 + DAY, p1_a=65, p1_b=60, air=15)
    drive.hold(T0 + DAY + 10 * MIN, T0 + DAY + 3 * HOUR, p1_a=78, p1_b=60, air=15)


def waiting_heap(drive):
    drive.hold(T0 + MIN, T0 + DAY, p1_a=65, p1_b=60, air=15)
    drive.hold(T0 + DAY + 10 * MIN, T0 + DAY + 3 * HOUR, p1_a=73, p1_b=60, air=15)


def turned_heap(drive):
    drive.hold(T0 + MIN, T0 + DAY, p1_a=65, p1_b=60, air=15)
    drive.work(T0 + DAY + MIN, "p1", "turned")
    drive.hold(T0 + DAY + 10 * MIN, T0 + DAY + 2 * HOUR, p1_a=15, p1_b=15, air=15)


def heap_due(drive):
    drive.hold(T0 + MIN, T0 + 4 * DAY, p1_a=60, p1_b=60, air=15)


def silent_heap(drive):
    drive.hold(T0 + MIN, T0 + 4 * HOUR, p1_a=60, air=15)
    drive.hold(T0 + 4 * HOUR, T0 + DAY, p1_b=60, air=15)


@pytest.mark.parametrize("lived", [hot_heap, waiting_heap, turned_heap, heap_due, silent_heap])
def test_an_emptying_that_is_taken_back_leaves_nothing_behind(lived):
    drives = [Recorder(yard(bins={}, probes={"air": air(), "p1-a": core("p1"), "p1-b": core("p1")})) for _ in range(2)]
    for drive, emptied in zip(drives, (True, False), strict=True):
        lived(drive)
        at = drive.engine.last + MIN
        if emptied:
            drive.work(at, "p1", "emptied")
            undo(drive, drive.engine.last, at + 5 * MIN)
        drive.advance(at + 6 * MIN)
    went, stayed = (remembered(drive) for drive in drives)
    for one in (went, stayed):
        for alarm in one["alarms"].values():
            alarm.pop("state")  # it rang anew, or was muted anew
    assert went == stayed
    assert {k for k, one in drives[0].engine.state.alarms.items() if one.on} == {
        k for k, one in drives[1].engine.state.alarms.items() if one.on
    }
    same(drives[0], drives[0].engine.last + DAY)


def test_what_was_read_by_hand_counts_again_with_its_delay_from_its_own_time():
    drive = Recorder(yard(bins={}, probes={}))
    read_by_hand(drive, T0 + HOUR, "p1", 165)
    drive.work(T0 + 2 * HOUR, "p1", "emptied")
    undo(drive, drive.engine.last)
    drive.advance(T0 + 8 * HOUR)
    assert drive.rings("hot") == [T0 + 7 * HOUR]


def test_a_bin_that_was_not_emptied_goes_on_where_it_stood():
    drive = Recorder(yard(piles={}, probes={"b1-t": bedding("b1"), "b1-m": bedding("b1", Quantity.MOISTURE)}))
    drive.hold(T0, T0 + 3 * HOUR, b1_t=31, b1_m=90)
    drive.work(T0 + 3 * HOUR + MIN, "b1", "emptied")
    of = drive.engine.last
    drive.hold(T0 + 3 * HOUR + 10 * MIN, T0 + 3 * HOUR + 30 * MIN, b1_t=31, b1_m=90)
    undo(drive, of)
    assert drive.engine.state.alarms["b1/overheating"].since == T0
    drive.hold(drive.engine.last + MIN, T0 + 5 * HOUR, b1_t=31, b1_m=90)
    assert drive.rings("too-wet") == [T0 + 4 * HOUR], "its four hours ran on"
    same(drive, T0 + 6 * HOUR)


def test_what_was_read_while_a_bin_had_been_emptied_by_mistake_decides():
    drive = Recorder(yard(piles={}, probes={"b1-t": bedding("b1")}))
    drive.hold(T0, T0 + HOUR, b1_t=31)
    drive.work(T0 + HOUR + MIN, "b1", "emptied")
    of = drive.engine.last
    drive.hold(T0 + HOUR + 10 * MIN, T0 + 2 * HOUR, b1_t=20)
    undo(drive, of)
    assert not drive.engine.state.alarms["b1/overheating"].on
    assert drive.engine.state.bins["b1"].thermal == "comfort"


def withdraw(drive, time, series):
    return drive.feed(drive.engine.last + MIN, "correction", {"reading": {"time": time, "probe": series}, "by": "Ann"})


def test_a_heap_that_only_a_mistyped_reading_began_never_was():
    drive = Recorder(yard(bins={}, probes={}, piles={"p3": Pile(name="Bay 3")}))
    before = book(drive)
    read_by_hand(drive, T0 + HOUR, "p3", 140)
    assert drive.engine.state.batches.lying
    withdraw(drive, T0 + HOUR, "hand:p3")
    assert book(drive) == before
    assert not drive.engine.state.batches.settled
    read_by_hand(drive, T0 + 5 * HOUR, "p3", 140)
    assert drive.run("p3").built == T0 + 5 * HOUR
    same(drive, T0 + DAY)


def test_it_begins_with_the_next_reading_or_with_what_was_done_to_it():
    drive = Recorder(yard(bins={}, probes={}, piles={"p3": Pile(name="Bay 3")}))
    for hour in (1, 3, 5):
        read_by_hand(drive, T0 + hour * HOUR, "p3", 140)
    withdraw(drive, T0 + HOUR, "hand:p3")
    assert drive.run("p3").built == T0 + 3 * HOUR
    drive.work(T0 + 4 * HOUR, "p3", "watered", entered=T0 + 6 * HOUR)
    withdraw(drive, T0 + 3 * HOUR, "hand:p3")
    assert drive.run("p3").built == T0 + 4 * HOUR
    withdraw(drive, T0 + 5 * HOUR, "hand:p3")
    assert drive.run("p3").built == T0 + 4 * HOUR, "somebody watered it"
    same(drive, T0 + DAY)


def test_a_heap_that_was_built_stays_when_its_only_reading_is_taken_back():
    drive = Recorder(yard(bins={}, probes={}))
    read_by_hand(drive, T0 + HOUR, "p1", 140)
    withdraw(drive, T0 + HOUR, "hand:p1")
    assert drive.run("p1").built == T0


def test_a_reading_by_hand_out_of_a_file_begins_no_heap():
    drive = Recorder(yard(bins={}, probes={}, piles={"p3": Pile(name="Bay 3")}))
    drive.feed(T0 + DAY, "imported", {"work": [], "rows": [[T0 + HOUR, "hand:p3", 60_000_000, "Cel"]]})
    assert not drive.engine.state.batches.batches
