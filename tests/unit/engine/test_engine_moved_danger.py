"""Danger belongs to the material: it goes where the heap goes, is told there once, and is over where nothing lies any more."""

import pytest
from engine_both_doors import Recorder, same
from engine_yard import DAY, HOUR, MIN, T0, air, core, yard
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.engine import Engine
from monitor.model.settings import Pile

NO_PROBES = {}
PROBES = {"air": air(), "p1-a": core("p1"), "p1-b": core("p1")}


def drive_of(probes=NO_PROBES, spots=(), **more):
    piles = {"p1": Pile(name="Bay 1", built=T0), "p2": Pile(name="Bay 2", spots=spots), "p3": Pile(name="Bay 3")}
    return Recorder(yard(piles=piles, probes=probes, **more))


def read(drive, at, place, fahrenheit, *, spot=""):
    series = f"hand:{place}:{spot}" if spot else f"hand:{place}"
    row = [at, series, round(fahrenheit * 1_000_000), "[degF]"]
    return drive.feed(at, "readings", {"rows": [row], "ahead": [], "by": "Ann"})


def undo(drive, of):
    return drive.feed(drive.engine.last + MIN, "correction", {"of": of, "work": None, "by": "Ann"})


def on(drive):
    return {key for key, one in drive.engine.state.alarms.items() if one.on and one.alarm in ("fire", "too-hot")}


@pytest.mark.parametrize("kind", ["moved", "merged"])
@pytest.mark.parametrize(("fahrenheit", "alarm"), [(185, "fire"), (172, "too-hot")])
def test_a_heap_takes_its_danger_along(kind, fahrenheit, alarm):
    drive = drive_of()
    read(drive, T0 + HOUR, "p1", fahrenheit)
    drive.work(T0 + 5 * HOUR, "p1", kind, to="p2")
    assert drive.rings(alarm, "p2") == [T0 + 5 * HOUR], "it is told although it was read four hours ago"
    assert drive.state_of(f"p1/{alarm}") == "returned unacknowledged"
    left = next(e.draft.why for e in drive.effects if "went with the heap to Bay 2" in e.draft.why)
    assert left.startswith("Bay 1: ")
    assert ", last " in left, "with what was read"
    drive.advance(T0 + 5 * HOUR + 5 * MIN)
    assert drive.notices("in Bay 1, moved here with the heap")
    assert drive.notices("went with the heap to Bay 2")
    assert all(key.startswith("p2/") for key in on(drive))
    same(drive, T0 + 2 * DAY)


@pytest.mark.parametrize("kind", ["moved", "merged"])
@pytest.mark.parametrize("note", ["", "left the probes"])
def test_a_heaps_probes_go_along_unless_the_entry_says_that_they_were_left(kind, note):
    drive = drive_of(PROBES)
    drive.hold(T0 + MIN, T0 + DAY, step=HOUR, p1_a=60, p1_b=50, air=15)
    drive.work(T0 + DAY, "p2", "built")
    drive.work(T0 + DAY + HOUR, "p1", kind, to="p2", note=note)
    assert {drive.engine.place_of(probe) for probe in ("p1-a", "p1-b")} == {"p1" if note else "p2"}
    drive.hold(T0 + DAY + 2 * HOUR, T0 + 2 * DAY, step=HOUR, p1_a=78, p1_b=50, air=15)
    assert drive.state_of("p2/too-hot") == ("normal" if note else "unacknowledged")


def test_it_stays_until_the_new_place_is_read_by_hand_and_then_follows_what_was_read():
    drive = drive_of()
    read(drive, T0 + HOUR, "p1", 185)
    drive.work(T0 + 2 * HOUR, "p1", "moved", to="p2")
    drive.advance(T0 + 3 * DAY)
    assert drive.state_of("p2/fire") == "unacknowledged", "it does not end because nobody looks"
    read(drive, T0 + 3 * DAY, "p2", 172)
    assert on(drive) == {"p2/too-hot"}
    read(drive, T0 + 3 * DAY + 2 * HOUR, "p2", 130)
    assert on(drive) == set()
    same(drive, T0 + 4 * DAY)


def test_what_was_read_at_a_named_spot_is_answered_there_or_where_no_such_spot_is():
    for spots, ends in ((("west", "east"), "west"), (("left", "right"), "left")):
        drive = drive_of(spots=spots)
        read(drive, T0 + HOUR, "p1", 185, spot="west")
        drive.work(T0 + 2 * HOUR, "p1", "moved", to="p2")
        if "east" in spots:
            read(drive, T0 + 4 * HOUR, "p2", 130, spot="east")
            assert "p2/fire" in on(drive)
        read(drive, T0 + 5 * HOUR, "p2", 130, spot=ends)
        assert on(drive) == set()


@pytest.mark.parametrize(("was", "now"), [("", ""), ("west", ""), ("", "left")])
def test_a_reading_of_the_same_hour_may_be_of_another_spot_and_ends_no_fire_that_came_along(was, now):
    drive = drive_of(spots=("left", "right"))
    read(drive, T0 + HOUR, "p1", 185, spot=was)
    drive.work(T0 + HOUR + 10 * MIN, "p1", "moved", to="p2")
    read(drive, T0 + HOUR + 20 * MIN, "p2", 150, spot=now)
    assert "p2/fire" in on(drive)
    read(drive, T0 + 2 * HOUR + MIN, "p2", 150, spot=now)
    assert on(drive) == set()
    same(drive, T0 + DAY)


def test_a_part_takes_it_along_and_what_stays_keeps_it():
    drive = drive_of()
    read(drive, T0 + HOUR, "p1", 185)
    drive.work(T0 + 2 * HOUR, "p1", "split", to="p2")
    of = drive.engine.last
    assert {"p1/fire", "p2/fire"} <= on(drive)
    undo(drive, of)
    assert on(drive) == {"p1/fire", "p1/too-hot"}
    same(drive, T0 + DAY)


def test_what_came_from_a_place_that_was_empty_by_the_log_brings_its_danger_too():
    drive = drive_of()
    drive.work(T0 + MIN, "p1", "emptied")
    read(drive, T0 + HOUR, "p1", 185)
    drive.work(T0 + 2 * HOUR, "p1", "moved", to="p2")
    assert on(drive) == {"p2/fire"}


def test_what_was_read_after_the_heap_had_gone_stays_where_it_was_read():
    drive = drive_of()
    read(drive, T0 + HOUR, "p1", 185)
    drive.work(T0 + 30 * MIN, "p1", "moved", to="p2", entered=T0 + 2 * HOUR)
    assert on(drive) == {"p1/fire"}


def test_a_move_that_is_taken_back_takes_the_danger_back():
    drive, plain = drive_of(), drive_of()
    for one in (drive, plain):
        read(one, T0 + HOUR, "p1", 185)
    drive.work(T0 + 2 * HOUR, "p1", "moved", to="p2")
    undo(drive, drive.engine.last)
    assert on(drive) == on(plain)
    assert drive.engine.state.dangers["p1"] == plain.engine.state.dangers["p1"]
    assert drive.engine.state.hands == plain.engine.state.hands
    read(drive, T0 + 4 * HOUR, "p1", 130)
    assert on(drive) == set()
    same(drive, T0 + DAY)


def test_a_move_that_is_taken_back_brings_no_danger_back_where_the_spot_was_read_anew_meanwhile():
    drive = drive_of()
    read(drive, T0 + HOUR, "p1", 185)
    drive.work(T0 + 2 * HOUR, "p1", "moved", to="p2")
    of = drive.engine.last
    read(drive, T0 + 5 * HOUR, "p1", 120)
    undo(drive, of)
    assert on(drive) == set()


def test_what_was_thrown_onto_another_heap_goes_back_alone():
    drive = drive_of()
    drive.work(T0 + MIN, "p2", "built")
    read(drive, T0 + HOUR, "p1", 172)
    read(drive, T0 + HOUR + MIN, "p2", 185)
    drive.work(T0 + 2 * HOUR, "p1", "merged", to="p2")
    assert on(drive) == {"p2/fire", "p2/too-hot"}
    undo(drive, drive.engine.last)
    assert on(drive) == {"p1/too-hot", "p2/fire", "p2/too-hot"}


def test_a_mistyped_reading_is_taken_back_where_its_heap_lies_now():
    drive = drive_of()
    read(drive, T0 + HOUR, "p1", 185)
    drive.work(T0 + 2 * HOUR, "p1", "moved", to="p2")
    drive.feed(T0 + 3 * HOUR, "correction", {"reading": {"time": T0 + HOUR, "probe": "hand:p1"}, "by": "Ann"})
    assert on(drive) == set()
    assert drive.notices("Bay 2: taken back, mistyped")
    same(drive, T0 + DAY)


def test_it_goes_on_to_a_third_place_and_an_emptied_one_forgets_all_but_a_fire():
    drive = drive_of()
    read(drive, T0 + HOUR, "p1", 172)
    drive.work(T0 + 2 * HOUR, "p1", "moved", to="p2")
    drive.work(T0 + 9 * HOUR, "p2", "moved", to="p3")
    assert on(drive) == {"p3/too-hot"}
    drive.work(T0 + 10 * HOUR, "p3", "emptied")
    assert on(drive) == set()


def test_a_snapshot_between_changes_nothing():
    drive, other = drive_of(), drive_of()
    for one in (drive, other):
        read(one, T0 + HOUR, "p1", 185)
        one.work(T0 + 2 * HOUR, "p1", "moved", to="p2")
    other.engine = Engine.restore(other.engine.snapshot())
    for one in (drive, other):
        read(one, T0 + 4 * HOUR, "p2", 172)
    assert drive.engine.snapshot() == other.engine.snapshot()


def hot_probes(kind="moved", note="", celsius=84):
    drive = drive_of(PROBES)
    drive.hold(T0 + MIN, T0 + 5 * HOUR, p1_a=70, p1_b=60, air=15)
    drive.hold(T0 + 5 * HOUR + 10 * MIN, T0 + 6 * HOUR, p1_a=celsius, p1_b=60, air=15)
    drive.work(T0 + 6 * HOUR + MIN, "p1", kind, to="p2", note=note)
    return drive


def test_probes_take_it_along_and_what_they_say_outside_does_not_end_it():
    drive = hot_probes(celsius=78)
    assert on(drive) == {"p2/too-hot"}
    drive.hold(T0 + 6 * HOUR + 5 * MIN, T0 + 7 * HOUR, p1_a=15, p1_b=15, air=15)
    assert on(drive) == {"p2/too-hot"}, "nobody has measured that it is over"
    assert "its probes lie outside" in drive.engine.words("p2/too-hot", drive.engine.last).text
    for probe in ("p1-a", "p1-b"):
        drive.work(T0 + 7 * HOUR + MIN, "p2", "probe in", probe=probe)
    drive.hold(T0 + 7 * HOUR + 5 * MIN, T0 + 9 * HOUR, p1_a=60, p1_b=60, air=15)
    assert on(drive) == set()
    same(drive, T0 + 10 * HOUR)


def test_probes_that_stay_say_no_more_of_the_heap_that_left():
    drive = hot_probes(note="probes left")
    drive.hold(T0 + 6 * HOUR + 5 * MIN, T0 + 8 * HOUR, p1_a=15, p1_b=15, air=15)
    assert "p2/fire" in on(drive)
    told = drive.engine.words("p2/fire", drive.engine.last).text
    assert ": nothing measures it here" in told
    assert "silent" not in told
    assert not any(key.startswith("p1/") for key in on(drive))
    read(drive, T0 + 9 * HOUR, "p2", 120)
    assert on(drive) == set()
    same(drive, T0 + 10 * HOUR)


def test_a_fire_is_not_over_because_its_probes_were_taken_out_to_turn():
    drive = drive_of(PROBES)
    drive.hold(T0 + MIN, T0 + 5 * HOUR, p1_a=70, p1_b=60, air=15)
    drive.hold(T0 + 5 * HOUR + 10 * MIN, T0 + 6 * HOUR, p1_a=84, p1_b=60, air=15)
    drive.work(T0 + 6 * HOUR + MIN, "p1", "turned")
    drive.hold(T0 + 6 * HOUR + 5 * MIN, T0 + 8 * HOUR, p1_a=15, p1_b=15, air=15)
    assert "p1/fire" in on(drive)
    drive.hold(T0 + 8 * HOUR + 5 * MIN, T0 + 10 * HOUR, p1_a=62, p1_b=60, air=15)
    assert on(drive) == set(), "back in the heap, they say that it is over"
    same(drive, T0 + 11 * HOUR)


def test_a_probe_outside_that_reads_fire_is_still_believed():
    drive = drive_of(PROBES)
    drive.hold(T0 + MIN, T0 + 5 * HOUR, p1_a=70, p1_b=60, air=15)
    drive.work(T0 + 5 * HOUR + MIN, "p1", "turned")
    drive.hold(T0 + 5 * HOUR + 5 * MIN, T0 + 5 * HOUR + 20 * MIN, p1_a=84, p1_b=60, air=15)
    assert "p1/fire" in on(drive)


PLACES = ("p1", "p2", "p3")
STEPS = st.one_of(
    st.tuples(
        st.just("read"), st.sampled_from(PLACES), st.sampled_from([120, 165, 172, 185]), st.sampled_from(["", "west"])
    ),
    st.tuples(
        st.sampled_from(["moved", "split", "merged"]), st.sampled_from(PLACES), st.sampled_from(PLACES), st.just("")
    ),
    st.tuples(st.sampled_from(["emptied", "built", "turned"]), st.sampled_from(PLACES), st.just(""), st.just("")),
    st.tuples(st.just("probes"), st.sampled_from([15, 60, 78, 84]), st.sampled_from([15, 60]), st.just("")),
    st.tuples(st.just("undo"), st.just(""), st.just(""), st.just("")),
)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(STEPS, st.sampled_from([20 * MIN, 3 * HOUR, 30 * HOUR])), min_size=2, max_size=9))
def test_whatever_is_done_with_burning_heaps_both_doors_agree_and_no_danger_is_lost_by_a_move(script):
    drive, at, done = drive_of(PROBES), T0, []
    for (what, first, second, third), later in script:
        at = max(at, drive.engine.last) + later
        before = on(drive)
        if what == "read":
            read(drive, at, first, second, spot=third)
        elif what == "probes":
            drive.hold(at, at + 30 * MIN, p1_a=first, p1_b=second, air=15)
        elif what == "undo":
            if done:
                undo(drive, done.pop())
        else:
            drive.work(at, first, what, **({"to": second} if second else {}))
            done.append(drive.engine.last)
        if what in ("moved", "split", "merged") and first != second:
            lost = {key.partition("/")[2] for key in before} - {key.partition("/")[2] for key in on(drive)}
            assert not lost, "the danger is somewhere"
        for state in drive.engine.state.dangers.values():
            assert set(state.brought) <= set(state.newest)
    restored = Engine.restore(drive.engine.snapshot())
    assert restored.snapshot() == drive.engine.snapshot()
    same(drive, at + 2 * DAY)
