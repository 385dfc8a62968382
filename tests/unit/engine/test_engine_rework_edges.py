"""A batch worked out again: what is taken in at one instant comes in its order, and only what is the batch's own counts."""

from types import SimpleNamespace

import pytest
from engine_yard import DAY, HOUR, MIN, T0, Drive, air, core, yard

from monitor.engine.batches.clashing_values import Rivals
from monitor.engine.batches.recompute import _Feed, _forget_falls, _take_over, actions_of, put_back, was_met
from monitor.engine.context.batch_deeds import Deed
from monitor.engine.context.state import Carried, Logged
from monitor.material import never_met
from monitor.model.flags import Flag, FlagReason, Verdict
from monitor.model.settings import Pile
from monitor.model.words import Method
from monitor.model.work import Work, WorkKind
from monitor.piles import OutingState

NOW = T0 + 2 * HOUR
PROBES = {"p1-a": core("p1"), "p1-b": core("p1"), "air": air()}


@pytest.fixture
def drive():
    piles = {
        "p1": Pile(name="Bay 1", rule="us-112-54-turned", method=Method.TURNED, built=T0),
        "p2": Pile(name="Bay 2"),
    }
    made = Drive(yard(piles=piles, bins={}, probes=PROBES))
    made.hold(T0, NOW, p1_a=60, p1_b=50, air=10)
    made.engine.core.at = NOW
    return made


@pytest.fixture
def of(drive):
    return drive.engine.core


@pytest.fixture
def run(of):
    return of.run_at("p1")


def logged(of, kind, at=NOW, place="p1", **more):
    of.state.works.append(Logged(at, Work(time=at, place=place, kind=WorkKind(kind), **more)))


def deeds(of, run, until=1 << 60):
    return [(at, what, probe) for at, _, what, probe in actions_of(of, run, ["p1-a", "p1-b"], never_met, until)]


# Deeds in their order --------------------------------------------------------------------------------------------


def test_at_one_instant_a_probe_comes_before_it_leaves_and_both_before_a_turning(of, run):
    of.state.carried = [Carried(NOW, "p1-a", "p2"), Carried(0, "p1-b", "p2"), Carried(NOW, "p1-b", "p1")]
    of.state.carried.sort(key=lambda one: one.time)
    logged(of, "turned")
    logged(of, "added", what="manure")
    logged(of, "probe out", probe="p1-b")
    assert deeds(of, run) == [
        (T0, Deed.ENTER, "p1-a"),
        (NOW, Deed.ENTER, "p1-b"),
        (NOW, Deed.LEAVE, "p1-a"),
        *sorted([(NOW, Deed.ADDED, ""), (NOW, Deed.TURNED, "")], key=lambda one: one[1]),
        (NOW, Deed.WENT_OUT, "p1-b"),
    ]


def test_only_work_of_the_heap_since_it_was_built_counts(of, run):
    logged(of, "turned", T0 - 1)
    logged(of, "turned", NOW, "p2")
    logged(of, "probe in", NOW, probe="x")
    logged(of, "watered", NOW)
    enter = [(T0, Deed.ENTER, "p1-a"), (T0, Deed.ENTER, "p1-b")]
    assert deeds(of, run) == enter
    logged(of, "turned", T0)
    logged(of, "turned", NOW)
    assert deeds(of, run) == [*enter, (T0, Deed.TURNED, ""), (NOW, Deed.TURNED, "")]
    assert deeds(of, run, NOW) == deeds(of, run)
    assert deeds(of, run, NOW - 1) == [*enter, (T0, Deed.TURNED, "")]


def test_what_happened_later_than_is_asked_for_is_left_out_of_probes_too(of, run):
    of.state.carried = [Carried(NOW, "p1-a", "p2"), Carried(NOW + 1, "p1-b", "p2"), Carried(NOW + 3, "p1-b", "p1")]
    logged(of, "turned", NOW + 1)
    enter = [(T0, Deed.ENTER, "p1-a"), (T0, Deed.ENTER, "p1-b")]
    assert deeds(of, run, NOW - 1) == enter
    assert deeds(of, run, NOW) == [*enter, (NOW, Deed.LEAVE, "p1-a")]
    assert [at for at, _, _ in deeds(of, run, NOW + 2)] == [T0, T0, NOW, NOW + 1, NOW + 1]
    assert deeds(of, run)[-1] == (NOW + 3, Deed.ENTER, "p1-b")


def test_a_probe_that_was_elsewhere_was_not_taken_out_here(of, run):
    of.state.carried = [Carried(T0 + HOUR, "p1-a", "p2")]
    logged(of, "probe out", NOW, probe="p1-a")
    assert (NOW, Deed.WENT_OUT, "p1-a") not in deeds(of, run)
    logged(of, "probe out", NOW, probe="p1-b")
    assert (NOW, Deed.WENT_OUT, "p1-b") in deeds(of, run)
    logged(of, "probe in", NOW + MIN, probe="p1-b")
    assert (NOW + MIN, Deed.CAME_IN, "p1-b") in deeds(of, run)


def test_a_fall_of_a_turning_that_is_no_more_touches_the_record_from_its_beginning(of, run):
    assert _forget_falls(of, run, ["p1-a"], NOW) == NOW
    logged(of, "turned", NOW)
    run.falls = {NOW: NOW - MIN, NOW + HOUR: T0 + HOUR}
    assert _forget_falls(of, run, ["p1-a"], NOW) == T0 + HOUR
    assert run.falls == {NOW: NOW - MIN}


# Outings ---------------------------------------------------------------------------------------------------------


def test_a_reminder_that_was_given_is_not_given_again(of, run):
    of.state.outings = {"p1-a": OutingState(out=NOW, reminded=2), "p1-b": OutingState(out=NOW, reminded=2)}
    found = {"p1-a": OutingState(out=NOW), "p1-b": OutingState(out=NOW + 1)}
    _take_over(of, run, found, ["p1-a", "p1-b", "elsewhere"])
    assert of.state.outings["p1-a"].reminded == 2
    assert of.state.outings["p1-b"].reminded == 0, "another outing"
    _take_over(of, run, {}, ["p1-a"])
    assert [*of.state.outings] == ["p1-b"]
    of.state.carried = [Carried(T0, "p1-b", "p2")]
    _take_over(of, run, {}, ["p1-b"])
    assert [*of.state.outings] == ["p1-b"], "it is another heap's by now"


@pytest.mark.parametrize(
    ("outing", "turning", "back"),
    [
        (OutingState(out=NOW), NOW, True),
        (OutingState(out=NOW), NOW + 1, False),
        (OutingState(out=NOW - 1), NOW, False),
        (OutingState(out=NOW, taken=True), NOW, False),
    ],
)
def test_a_presumed_return_puts_back_what_that_turning_took_out(of, outing, turning, back):
    of.state.presumed_back = [("p1-a", NOW)]
    told = []
    heap = SimpleNamespace(outings={"p1-a": outing}, came_in=lambda *what: told.append(what))
    put_back(of, heap, turning)
    assert told == ([("p1-a", turning)] if back else [])


# Verdicts --------------------------------------------------------------------------------------------------------


@pytest.fixture
def feed(of, run):
    made = _Feed(of, run, [], ["p1-a", "p1-b"], ["air"], None)
    made.told = []
    walk = SimpleNamespace(ambient=lambda *what: made.told.append(("air", *what)))
    made.heap = SimpleNamespace(
        walk=walk,
        reading=lambda *what: made.told.append(what),
        unread=lambda *what: made.told.append(("unread", *what)),
    )
    of.verdicts.clear()
    return made


def verdict(probe="p1-a", time=NOW, milli=60_000, flag=Flag.PASS):
    return Verdict(time, probe, milli, flag, FlagReason.NONE)


def test_a_core_probe_is_read_with_the_air_as_it_was(feed):
    feed.take(verdict("air", milli=12_000))
    feed.take(verdict())
    assert feed.told == [("air", NOW, 12_000), ("p1-a", NOW, 60_000, 12_000)]


def test_what_failed_or_is_of_nobody_or_of_before_the_building_counts_for_nothing(of, feed):
    for one in (
        verdict(flag=Flag.FAIL),
        verdict("nobody"),
        verdict(time=T0 - 1),
        verdict("p2-z"),
        verdict("air", flag=Flag.FAIL),
    ):
        feed.take(one)
    assert feed.told == []
    feed.take(verdict(time=T0))
    assert len(feed.told) == 1
    of.state.carried = [Carried(T0, "air", "p1")]
    feed.take(verdict("air"))
    assert len(feed.told) == 1, "it measured no air then"


def test_flags_are_said_again_only_from_where_the_record_changed(of, feed):
    feed.verdicts_from = NOW
    for time in (NOW - 1, NOW):
        feed.take(verdict(time=time))
    feed.take(verdict("air"))
    assert [(one.time, one.probe) for one in of.verdicts] == [(NOW, "p1-a")]
    feed.until = NOW
    feed.take(verdict(time=NOW + 1))
    assert len(of.verdicts) == 1
    assert len(feed.told) == 3


def test_of_rivals_the_coldest_counts_or_the_instant_proves_nothing(feed):
    feed.rivals = {(NOW, "p1-a"): Rivals(50_000, 50_000, True), (NOW, "p1-b"): Rivals(50_000, 50_000, False)}
    feed.take(verdict())
    feed.take(verdict("p1-b"))
    feed.take(verdict(time=NOW + 1))
    assert feed.told == [("p1-a", NOW, 50_000, None), ("unread", "p1-b", NOW), ("p1-a", NOW + 1, 60_000, None)]


def test_actions_come_before_the_readings_of_their_instant(feed):
    done = []
    feed.act = lambda *what: done.append(what[0])
    feed.take = lambda one: done.append(one.time)
    feed.actions = [(NOW, 2, Deed.TURNED, ""), (NOW + 5, 2, Deed.TURNED, ""), (NOW + DAY, 2, Deed.TURNED, "")]
    feed.waiting = [verdict(time=NOW + 9), verdict(time=NOW), verdict(time=NOW - 1), verdict(time=NOW + 10)]
    feed._hand_on(NOW + 10)
    assert done == [NOW - 1, NOW, NOW, NOW + 5, NOW + 9]
    assert [one.time for one in feed.waiting] == [NOW + 10]
    assert feed.step == 2


@pytest.mark.parametrize("what", [Deed.ADDED, Deed.JOINED])
def test_a_walk_is_asked_right_before_and_right_after_material_comes_in(feed, what):
    done = []
    feed.walk = SimpleNamespace(advance=lambda: done.append("asked") or [f"change {len(done)}"])
    feed.heap = SimpleNamespace(
        walk=feed.walk, added=lambda at: done.append(("added", at)), joined=lambda at: done.append(("joined", at))
    )
    feed.act(NOW, 2, what, "")
    assert done == ["asked", ("added" if what is Deed.ADDED else "joined", NOW), "asked"]
    assert feed.changes == ["change 1", "change 3"]


# Whether a heap that came into another had met its rule ------------------------------------------------------------

MET = T0 + 3 * DAY


@pytest.fixture(scope="module")
def hot_heap():
    """A heap that kept to its static rule for three days to the millisecond, beside one under the same rule."""
    piles = {name: Pile(name=name, rule="us-112-54-static", method=Method.STATIC) for name in ("p1", "p2")}
    piles["p3"] = Pile(name="Bay 3", rule="us-112-54-turned", method=Method.TURNED)
    made = Drive(yard(piles=piles, bins={}, probes={"p1-a": core("p1"), "p2-a": core("p2"), "p3-a": core("p3")}))
    for place in piles:
        made.work(T0, place, "built", amount="100", measure="kg")
    made.hold(T0, MET, 2 * HOUR, p1_a=60, p2_a=60, p3_a=60)
    made.engine.core.history = made.history
    return made


def had_met(drive, taker, place, at):
    of = drive.engine.core
    of.met_known.clear()
    return was_met(of, of.run_at(taker))(of.run_at(place).batch, at)


def test_a_heap_had_met_its_rule_from_the_instant_on_at_which_it_did(hot_heap):
    assert had_met(hot_heap, "p2", "p1", MET) is True
    assert had_met(hot_heap, "p2", "p1", MET + DAY) is True
    assert had_met(hot_heap, "p2", "p1", MET - 1) is False


def test_what_a_heap_met_is_nothing_to_a_heap_under_another_rule(hot_heap):
    assert had_met(hot_heap, "p3", "p1", MET) is False
    assert had_met(hot_heap, "p1", "p3", MET) is False


def test_what_was_found_of_a_heap_is_remembered(hot_heap):
    of = hot_heap.engine.core
    taker, batch = of.run_at("p2"), of.run_at("p1").batch
    of.met_known.clear()
    assert was_met(of, taker)(batch, MET) is True
    assert of.met_known == {(batch, MET, taker.rule_id): True}
    of.met_known[(batch, MET, taker.rule_id)] = False
    assert was_met(of, taker)(batch, MET) is False
    of.met_known.clear()


def test_a_heap_that_took_in_raw_material_has_to_begin_anew(hot_heap):
    of = hot_heap.engine.core
    of.state.works.append(Logged(MET, Work(time=MET - HOUR, place="p1", kind=WorkKind.ADDED, what="manure")))
    try:
        assert had_met(hot_heap, "p2", "p1", MET) is False
        of.state.works[-1] = Logged(MET, Work(time=MET + 1, place="p1", kind=WorkKind.ADDED, what="manure"))
        assert had_met(hot_heap, "p2", "p1", MET) is True, "that came later"
        assert had_met(hot_heap, "p2", "p1", MET + 1) is False, "though nothing was read of the heap since"
    finally:
        of.state.works.pop()
