"""The service of probes in a certificate's record: when each came in and why, and which entry says so."""

from types import SimpleNamespace

import pytest
from engine_yard import DAY, HOUR, T0, Drive, air, core, yard

from monitor.engine.context.batch_deeds import Deed
from monitor.engine.context.state import Carried, Logged
from monitor.engine.handlers.undone_entries import _rests_on, in_the_way, lies_alike
from monitor.engine.records.batch_record import ServiceChange, ServiceRecord, _Feed, _Line, _Notes, _returns
from monitor.model.settings import AMBIENT, Pile
from monitor.model.words import Method
from monitor.model.work import Work, WorkKind
from monitor.piles import OutingState

NOW = T0 + 2 * HOUR
END = T0 + 9 * DAY


def logged(kind, at=NOW, place="p1", **more):
    return Logged(at, Work(time=at, place=place, kind=WorkKind(kind), **more))


def notes(*works, lines=("a",)):
    made = _Notes(T0, works, END)
    made.state.lines = {name: _Line(serving=True) for name in lines}
    return made


def changes(made, probe="a"):
    return [(one.time, one.into, one.how) for one in made.service[probe].changes]


# Why -------------------------------------------------------------------------------------------------------------


def test_a_probe_that_serves_comes_in_once_and_one_that_is_out_goes_out_no_more():
    made = notes(lines=())
    made.probe_out("a", T0)
    made.probe_in("a", T0)
    made.probe_in("a", T0 + 1)
    made.probe_out("a", T0 + 2)
    made.probe_out("a", T0 + 3)
    assert changes(made) == [(T0, True, "built"), (T0 + 2, False, "configuration")]


def test_in_and_out_at_one_instant_is_no_service():
    made = notes(lines=())
    made.probe_in("a", T0)
    made.probe_out("a", T0)
    assert changes(made) == []
    made.probe_in("a", NOW)
    made.probe_out("a", NOW + 1)
    assert len(changes(made)) == 2


@pytest.mark.parametrize(
    ("work", "why", "at", "into", "how"),
    [
        (logged("probe in", probe="a"), "", NOW, True, "probe in"),
        (logged("probe in", probe="b"), "", NOW, True, "configuration"),
        (logged("probe out", probe="a"), "", NOW, False, "probe out"),
        (logged("turned"), Deed.TURNED, NOW, False, "turning"),
        (logged("moved", to="p2"), Deed.TURNED, NOW, False, "turning"),
        (logged("moved", to="p2"), "", NOW, True, "moved"),
        (logged("built", T0), "", T0, True, "built"),
        (logged("added", T0), "", T0, True, "built"),
        (logged("turned", T0), "", T0, True, "built"),
        (logged("emptied", END), "", END, False, "end of the batch"),
        (logged("turned"), "", NOW, False, "configuration"),
    ],
)
def test_each_change_says_why_and_which_entry_says_so(work, why, at, into, how):
    made = notes(work, lines=() if into else ("a",))
    made.why = why
    (made.probe_in if into else made.probe_out)("a", at)
    (change,) = made.service["a"].changes
    assert (change.time, change.into, change.how) == (at, into, how)
    told = how != "configuration" and not (how == "built" and work.work.kind is WorkKind.TURNED)
    assert change.logged is (work if told else None)


def test_a_turning_is_named_by_its_own_entry_before_a_move_of_the_same_instant():
    moved, turned = logged("moved", to="p2"), logged("turned")
    made = notes(moved, turned)
    made.why = Deed.TURNED
    made.probe_out("a", NOW)
    assert made.service["a"].changes[0].logged is turned


def test_what_nobody_wrote_down_has_no_entry():
    made = notes(logged("probe in", probe="a"), lines=())
    made.why = "back by itself"
    made.probe_in("a", NOW)
    assert made.service["a"].changes == [ServiceChange(NOW, True, "back by itself", None)]


def test_spans_of_service_begin_with_a_coming_in_and_end_with_the_next_going_out():
    def of(*found):
        return ServiceRecord([ServiceChange(at, into, "", None) for at, into in found]).spans()

    assert of() == of((5, False)) == []
    assert of((1, True)) == [(1, None)]
    assert of((1, True), (3, False), (4, False), (6, True)) == [(1, 3), (6, None)]


# Bare files ------------------------------------------------------------------------------------------------------


def turned(at):
    return (at, 2, Deed.TURNED, "")


def put(at, probe, what=Deed.CAME_IN):
    return (at, 3, what, probe)


def test_a_probe_that_is_logged_in_after_a_turning_was_taken_out_by_it():
    one, two = T0 + DAY, T0 + 3 * DAY
    assert _returns([turned(one), put(one + HOUR, "a")]) == {one: {"a"}}
    assert _returns([put(T0 + 1, "a"), turned(one)]) == {}
    assert _returns([turned(one), turned(two), put(two + 1, "a")]) == {two: {"a"}}, "the last before it"
    assert _returns([turned(one), put(one + 1, "a"), turned(two), put(two + 1, "a")]) == {one: {"a"}, two: {"a"}}
    assert _returns([turned(one), put(one + 1, "a", Deed.WENT_OUT), put(one + 2, "a")]) == {}, "somebody took it out"


def test_several_entries_of_one_turning_are_one():
    one = T0 + DAY
    assert _returns([turned(one), turned(one + HOUR), put(one + 2 * HOUR, "a")]) == {one: {"a"}}
    assert _returns([turned(one), turned(one + 6 * HOUR), put(one + 7 * HOUR, "a")]) == {one + 6 * HOUR: {"a"}}


# Readings of probes that are out ---------------------------------------------------------------------------------


class Told:
    def __init__(self, outings, readings):
        self.outings, self.readings, self.heap_told = outings, readings, []

    def between(self, probe, start, end):
        return [(at, milli) for name, at, milli in self.readings if name == probe and start <= at <= end]

    def before(self, probe, time):
        return max(((at, milli) for name, at, milli in self.readings if name == probe and at < time), default=None)

    def reading(self, probe, time, milli, ambient):
        self.heap_told.append((probe, time, milli, ambient))
        if milli > 50_000:
            self.outings[probe].out, self.outings[probe].returned = None, time
            self.outings[probe].accepted_from = time + HOUR


@pytest.fixture
def feed():
    drive = Drive(
        yard(
            piles={"p1": Pile(name="Bay 1", built=T0)}, bins={}, probes={"a": core("p1"), "b": core("p1"), "air": air()}
        )
    )
    of = drive.engine.core

    def made(*readings, out=("a",), actions=()):
        told = Told({name: OutingState(out=T0) for name in out}, readings)
        one = _Feed(of, of.run_at("p1"), list(actions), told, notes(lines=("a", "b")), bare=False)
        one._outings.update(told.outings)
        told.outings = one._outings
        one._heap = SimpleNamespace(reading=told.reading)
        return one, told

    made.core = of
    return made


def test_only_probes_that_are_out_are_read_until_they_are_back(feed):
    one, told = feed(("a", NOW, 20_000), ("b", NOW, 20_000), ("a", NOW + 1, 60_000), ("a", NOW + 2, 61_000))
    one._outside(NOW, NOW + 9)
    assert told.heap_told == [("a", NOW, 20_000, None), ("a", NOW + 1, 60_000, None)]
    assert one._notes.service["a"].settling == [(NOW + 1, NOW + 1 + HOUR)]
    one._outside(NOW, NOW + 9)
    assert len(told.heap_told) == 2
    two, told = feed(("a", NOW, 20_000))
    two._outside(NOW, NOW - 1)
    assert told.heap_told == []
    two._outside(NOW, NOW)
    assert len(told.heap_told) == 1, "both ends count"


def test_each_is_compared_with_the_air_as_it_was_then(feed):
    one, told = feed(
        ("air", NOW - HOUR, 5_000),
        ("air", NOW + 2, 9_000),
        ("a", NOW, 20_000),
        ("a", NOW + 2, 20_000),
        ("a", NOW + 3, 20_000),
    )
    one._outside(NOW, NOW + 9)
    assert [ambient for *_, ambient in told.heap_told] == [5_000, 5_000, 9_000]
    feed.core.state.carried = [Carried(0, "air", AMBIENT), Carried(NOW, "air", "p1")]
    one, told = feed(("air", NOW - HOUR, 5_000), ("air", NOW + 2, 9_000), ("a", NOW + 3, 20_000))
    one._outside(NOW, NOW + 9)
    assert [ambient for *_, ambient in told.heap_told] == [5_000], "it measured no air then"


def test_air_of_more_than_a_week_before_the_building_says_nothing(feed):
    for before, known in ((8 * DAY, 5_000), (8 * DAY + 1, None)):
        one, told = feed(("air", T0 - before, 5_000), ("a", T0 + 1, 20_000))
        one._outside(T0, NOW)
        assert [ambient for *_, ambient in told.heap_told] == [known]


def test_work_counts_before_the_readings_of_its_instant(feed):
    one, told = feed(("a", NOW, 20_000), ("a", NOW + 1, 20_000), actions=[(NOW, 3, Deed.CAME_IN, "a")])
    one._act = lambda at, what, probe: told.heap_told.append((what, at))
    one.run()
    assert told.heap_told == [(Deed.CAME_IN, NOW), ("a", NOW, 20_000, None), ("a", NOW + 1, 20_000, None)]


# What stands in the way of a correction --------------------------------------------------------------------------


def work(kind, at=NOW, place="p1", **more):
    return Work(time=at, place=place, kind=WorkKind(kind), **more)


def test_entries_that_say_the_same_of_where_heaps_lie_replace_each_other():
    moved = work("moved", to="p2")
    assert lies_alike(moved, work("moved", to="p2", by="Ann"))
    for other in (
        work("moved", to="p3"),
        work("moved", NOW + 1, to="p2"),
        work("split", to="p2"),
        work("moved", place="p3", to="p2"),
    ):
        assert not lies_alike(moved, other)
    assert not lies_alike(moved, work("moved", to="p2", note="left the probes"))
    assert lies_alike(work("built"), work("built", NOW + 1)), "only the hour of the building"
    assert lies_alike(work("turned"), work("turned", note="in rain"))
    assert not lies_alike(work("turned"), work("turned", NOW + 1))


def test_what_moves_material_there_later_rests_on_an_entry():
    reversal = SimpleNamespace(left="p2", pile="p1")
    old = work("moved", to="p2")
    assert _rests_on(work("moved", NOW + 1, "p2", to="p3"), old, reversal)
    assert _rests_on(work("split", NOW + 1, "p3", to="p1"), old, reversal)
    assert _rests_on(work("turned", NOW + 1, "p2"), old, reversal), "nothing would lie there"
    assert not _rests_on(work("turned", NOW + 1, "p1"), old, reversal)
    assert not _rests_on(work("moved", NOW + 1, "p3", to="p4"), old, reversal)
    assert not _rests_on(work("turned", NOW + 1, "p2"), old, SimpleNamespace(left="p2", pile="p2"))


def test_a_later_entry_that_rests_on_it_is_named_the_first_of_them():
    piles = {name: Pile(name=name, method=Method.TURNED) for name in ("p1", "p2", "p3")}
    drive = Drive(yard(piles=piles, bins={}, probes={}))
    drive.work(T0, "p1", "built")
    drive.work(T0 + HOUR, "p1", "moved", to="p2")
    drive.work(T0 + 3 * HOUR, "p2", "moved", to="p3")
    drive.work(T0 + 2 * HOUR, "p2", "turned", entered=T0 + 4 * HOUR)
    state = drive.engine.state
    built, first, *_ = sorted(state.works, key=lambda one: one.work.time)
    assert in_the_way(state, first, None).work.time == T0 + 3 * HOUR
    assert in_the_way(state, first, first.work) is None
    last = max(state.works, key=lambda one: one.work.time)
    assert in_the_way(state, last, None) is None
    turning = next(one for one in state.works if one.work.kind is WorkKind.TURNED)
    assert in_the_way(state, turning, None) is None, "it moves nothing"
    assert in_the_way(state, built, None).work.time == T0 + HOUR
