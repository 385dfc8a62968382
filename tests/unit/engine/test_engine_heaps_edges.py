"""Heaps at their edges: how far a change reaches, what is remembered, whose danger goes along, when a round is due."""

from types import SimpleNamespace

import pytest
from engine_yard import DAY, HOUR, MIN, T0, Drive, air, core, yard

from monitor.engine.batches import missed_rounds
from monitor.engine.batches.begin_and_end import ENDED_KEPT_MS, forget_old
from monitor.engine.batches.moved_danger import read_anew, unsay_brought
from monitor.engine.batches.pile_readings import _late_for_outings, touch, touch_hand, touch_place
from monitor.engine.batches.recompute import AMBIENT_BEFORE_MS, ambients_of
from monitor.engine.context.batch_feeder import Heap
from monitor.engine.context.dangerous_heat import Brought
from monitor.engine.context.places import FOREVER
from monitor.engine.context.read_spots import HandSpot
from monitor.engine.context.state import Carried, Chain
from monitor.engine.handlers.imports import _known_better, _stuck
from monitor.model.settings import AMBIENT, Pile
from monitor.model.thresholds import PileThresholds
from monitor.model.words import Method, RuleState
from monitor.piles import COLDEST, GONE_MS, HOTTEST, ROUND_MS, OutingState, RoundPoint

NOW = T0 + 6 * HOUR
PROBES = {"p1-a": core("p1"), "p1-b": core("p1"), "air": air()}
PILES = {
    "p1": Pile(name="Bay 1", rule="us-112-54-turned", method=Method.TURNED, built=T0),
    "p2": Pile(name="Bay 2", rule="us-112-54-static", method=Method.STATIC),
    "p3": Pile(name="Bay 3"),
}


@pytest.fixture
def drive():
    made = Drive(yard(piles=PILES, bins={}, probes=PROBES))
    made.hold(T0, NOW, p1_a=60, p1_b=50, air=10)
    made.engine.core.at = NOW
    return made


@pytest.fixture
def of(drive):
    return drive.engine.core


@pytest.fixture
def run(of):
    return of.run_at("p1")


# How far a change reaches ----------------------------------------------------------------------------------------


def test_a_heap_is_worked_out_again_from_the_earliest_change(run):
    touch(run, NOW)
    touch(run, T0)
    touch(run, T0 + 1)
    assert run.touched == T0


def test_a_change_long_before_a_heap_was_built_does_not_concern_it(of, run):
    touch_place(of, AMBIENT, 0, T0 - AMBIENT_BEFORE_MS - 1)
    touch_place(of, "p2", T0)
    assert run.touched is None
    touch_place(of, AMBIENT, 5, T0 - AMBIENT_BEFORE_MS)
    assert run.touched == 5
    run.touched = None
    touch_place(of, "p1", T0 - AMBIENT_BEFORE_MS)
    assert run.touched == T0 - AMBIENT_BEFORE_MS


def test_what_came_before_a_heap_that_its_first_reading_began_may_begin_it(of, run):
    early = T0 - AMBIENT_BEFORE_MS - DAY
    touch_place(of, "p1", early)
    assert run.touched is None
    run.by_reading = True
    touch_place(of, "p2", early)
    assert run.touched is None
    touch_place(of, "p1", early)
    assert run.touched == early


def test_a_reading_by_hand_changes_its_whole_round(of, run):
    touch_hand(of, "p1", NOW)
    assert run.touched == NOW - ROUND_MS


@pytest.mark.parametrize(
    ("outing", "since", "until"),
    [
        (OutingState(out=T0 + HOUR, accepted_from=None), T0 + HOUR, None),
        (OutingState(returned=T0 + HOUR, accepted_from=T0 + 2 * HOUR), T0 + HOUR, T0 + 2 * HOUR),
    ],
)
def test_air_that_came_after_a_probes_word_was_missing_when_that_was_judged(of, outing, since, until):
    of.state.outings["p1-a"] = outing
    assert _late_for_outings(of, since - 1, "air") == ()
    assert _late_for_outings(of, since, "air") == ("p1",)
    if until is not None:
        assert _late_for_outings(of, until, "air") == ("p1",)
        assert _late_for_outings(of, until + 1, "air") == ()
    of.state.outings["p1-a"] = OutingState(out=T0, accepted_from=None)
    assert _late_for_outings(of, NOW, "air") == ("p1",), "at one instant the air comes first"
    assert _late_for_outings(of, NOW, "p1-z") == ()
    assert _late_for_outings(of, NOW + 1, "air") == ()


def test_the_air_is_what_was_ever_measured_in_it(of):
    assert ambients_of(of) == ["air"]
    of.state.carried = [Carried(T0, "p1-b", AMBIENT), Carried(NOW, "p1-b", "p1"), Carried(T0, "gone", AMBIENT)]
    assert ambients_of(of) == ["air", "p1-b"]


# What is remembered ----------------------------------------------------------------------------------------------


def test_a_heap_that_ended_can_be_put_back_for_two_weeks(drive, of, run):
    drive.work(NOW + MIN, "p1", "turned")
    drive.work(NOW + HOUR, "p1", "emptied")
    ended = of.state.ended[run.batch].at
    of.at = ended + ENDED_KEPT_MS
    forget_old(of)
    assert run.batch in of.state.ended
    assert [one.work.kind.value for one in of.state.works] == ["turned", "emptied"]
    of.at += 1
    forget_old(of)
    assert of.state.ended == {}
    assert of.state.works == []


def test_of_where_probes_were_carried_the_last_before_the_oldest_heap_is_kept(of, run):
    of.state.carried = [
        Carried(T0 - 9, "p1-a", "p2"), Carried(T0 - 5, "p1-a", "p1"), Carried(T0, "p1-b", "p1"), Carried(T0 + 1, "p1-b", "p1"),
        Carried(T0 + 2, "gone", "p1"),
    ]  # fmt: skip
    forget_old(of)
    assert [(one.time, one.probe) for one in of.state.carried] == [(T0 - 5, "p1-a"), (T0, "p1-b"), (T0 + 1, "p1-b")]
    of.state.retired["old"] = core("p1")
    of.keeps_all = True
    forget_old(of)
    assert "old" in of.state.retired
    of.keeps_all = False
    of.state.retired["old"] = core("p3")
    forget_old(of)
    assert of.state.retired == {}, "no heap needs it"


# Danger that went along ------------------------------------------------------------------------------------------


def brought(of, series="hand:p2", time=T0, measured=T0, milli=83_000):
    of.danger("p1").state.newest[series] = milli
    of.danger("p1").state.brought[series] = Brought(time, "p2", measured)
    if series.startswith("hand:"):
        of.state.hands[series] = HandSpot("p2", "", measured, milli, measured)


def is_there(of, series="hand:p2"):
    return series in of.state.dangers["p1"].brought


def test_a_value_that_came_along_stands_until_the_place_is_read_again(of):
    brought(of)
    read_anew(of, "p1", "hand:p1", T0)
    assert is_there(of), "read before it came"
    read_anew(of, "p1", "hand:p1", T0 + ROUND_MS)
    assert is_there(of), "it may be of another spot in the same hour"
    read_anew(of, "p1", "hand:p1", T0 + ROUND_MS + 1)
    assert not is_there(of)


def test_a_probes_value_goes_with_the_first_reading_unless_the_probe_came_along(of):
    brought(of, "p1-a")
    read_anew(of, "p1", "hand:p1", T0 + 1)
    assert is_there(of, "p1-a"), "its own next reading decides"
    of.state.carried = [Carried(T0, "p1-a", "p2")]
    read_anew(of, "p1", "hand:p1", T0 + 1)
    assert not is_there(of, "p1-a")


def test_a_reading_taken_back_is_taken_back_wherever_it_went(of):
    brought(of, time=T0 + HOUR)
    unsay_brought(of, "hand:p2", T0 + HOUR + 1)
    unsay_brought(of, "hand:p3", T0)
    assert is_there(of), "that one was read after the heap had gone"
    unsay_brought(of, "hand:p2", T0 + HOUR)
    assert not is_there(of)


# Rounds ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("gap", "due", "rings"),
    [(26 * HOUR, 24 * HOUR, 25 * HOUR), (4 * HOUR, 2 * HOUR, 3 * HOUR), (2 * HOUR, HOUR, 90 * MIN)],
)
def test_a_round_is_due_two_hours_before_its_chain_breaks(of, gap, due, rings):
    assert missed_rounds._chain(of, "p1", T0, gap) == Chain(last=T0, due=T0 + due, rings=T0 + rings, breaks=T0 + gap)


@pytest.mark.parametrize(
    ("sleep", "rings"),
    [
        (25 * HOUR, 25 * HOUR),
        (23 * HOUR, 23 * HOUR),  # an hour before they sleep, as the desk says, where that is before it is due
        (24 * HOUR, 24 * HOUR + 30 * MIN),
        (23 * HOUR + 40 * MIN, 24 * HOUR + 30 * MIN),
        (23 * HOUR + 10 * MIN, 24 * HOUR + 5 * MIN),
        (23 * HOUR + MIN, 24 * HOUR),
        (-HOUR, 0),
    ],
)
def test_people_who_sleep_are_rung_for_before_and_never_before_the_last_round(of, monkeypatch, sleep, rings):
    asked = []
    monkeypatch.setattr(of.desk, "last_waking", lambda place, at: asked.append((place, at)) or T0 + sleep)
    assert missed_rounds._chain(of, "p1", T0, 26 * HOUR).rings == T0 + rings
    assert asked == [("p1", T0 + 25 * HOUR)]


def test_a_chain_is_watched_while_its_rule_runs(of, run, monkeypatch):
    monkeypatch.setattr(missed_rounds, "_last_round", lambda run: T0)
    run.rule = RuleState.RUNNING
    found = missed_rounds._chains(of, anew=False)
    assert found["p1"].breaks == T0 + 26 * HOUR
    of.state.chains = {"p1": found["p1"]}
    assert missed_rounds._chains(of, anew=False)["p1"] is found["p1"]
    assert missed_rounds._chains(of, anew=True)["p1"] is not found["p1"]
    run.touched = NOW
    assert missed_rounds._chains(of, anew=True)["p1"] is found["p1"], "it waits to be worked out again"
    of.state.chains = {}
    assert missed_rounds._chains(of, anew=True) == {}
    run.touched = None
    for state in (RuleState.MET, RuleState.NOT_BEGUN):
        run.rule = state
        assert missed_rounds._chains(of, anew=True) == {}


# Probes of a heap ------------------------------------------------------------------------------------------------


class Walk:
    """Notes what a heap's walk is told."""

    def __init__(self, **lines):
        known = {"serving": True, "failed": False, "heard": True, "time": T0}
        self.state = SimpleNamespace(lines={name: SimpleNamespace(**known | more) for name, more in lines.items()})
        self.told = []

    def __getattr__(self, name):
        if name.endswith("_past"):
            return lambda *of: False
        return lambda *of: self.told.append((name, *of))


def heap(outings=None, **lines):
    return Heap(Walk(**lines), {} if outings is None else outings, PileThresholds())


def test_rounds_prove_once_all_probes_have_been_silent_for_longer_than_they_may_lag():
    lag = PileThresholds().lag_ms
    one = heap(a={}, b={"time": T0 + HOUR})
    assert one.silent_since(T0 + HOUR + lag) is None
    assert one.silent_since(T0 + HOUR + lag + 1) == T0 + HOUR + GONE_MS
    assert heap().silent_since(T0 + DAY) is None, "without probes nobody is waited for"
    out = {"a": OutingState(out=T0 + 2 * HOUR, accepted_from=None)}
    gone = heap(out, a={"serving": False})
    assert gone.silent_since(T0 + DAY) == T0 + 2 * HOUR + GONE_MS
    out["a"].taken = True
    assert gone.silent_since(T0 + DAY) is None, "somebody took it out"


def test_probes_that_failed_are_back_when_one_of_them_speaks():
    one = heap({"b": OutingState(out=T0)}, a={}, b={"serving": False})
    one.fail(T0)
    assert one.failed
    assert one.walk.told == [("probe_out", "a", T0), ("probe_in", COLDEST, T0), ("probe_in", HOTTEST, T0)]
    one.walk.told.clear()
    one.walk.state.lines["a"].serving = False
    assert one.reading("a", NOW, 60_000, None)
    assert not one.failed
    assert one.walk.told == [
        ("probe_out", COLDEST, NOW), ("probe_out", HOTTEST, NOW), ("probe_in", "a", NOW), ("reading", "a", NOW, 60_000),
    ]  # fmt: skip


def test_a_round_counts_only_while_rounds_prove():
    point = RoundPoint(time=NOW, low=40_000, high=60_000, first=NOW, spots=2)
    one = heap(a={})
    assert one.round(point)
    assert one.walk.told == []
    proving = heap(**{COLDEST: {}, HOTTEST: {}})
    assert proving.round(point)
    assert proving.walk.told == [("reading", COLDEST, NOW, point.low), ("reading", HOTTEST, NOW, point.high)]


def test_a_probe_that_spoke_since_is_seen():
    one = heap(**{"a": {"time": NOW}, COLDEST: {"time": NOW + DAY}})
    assert one.spoke_since(NOW)
    assert not one.spoke_since(NOW + 1)
    assert not heap(a={"time": NOW, "heard": False}).spoke_since(NOW)
    assert not heap(a={"time": NOW, "serving": False}).spoke_since(NOW)


@pytest.mark.parametrize(
    ("outing", "told"),
    [
        (None, True),
        (OutingState(out=T0, accepted_from=None), False),
        (OutingState(returned=T0, accepted_from=NOW), True),
        (OutingState(returned=T0, accepted_from=NOW + 1), False),
    ],
)
def test_values_of_which_none_counts_are_a_gap_in_a_probe_that_is_in(outing, told):
    one = heap({} if outing is None else {"a": outing}, a={})
    one.unread("a", NOW)
    assert one.walk.told == ([("unread", "a", NOW)] if told else [])


# Imports ---------------------------------------------------------------------------------------------------------


def test_a_presumed_return_is_dropped_by_a_reading_from_the_turning_on(of):
    of.state.presumed_back = [("p1-a", T0), ("p1-b", T0)]
    assert _known_better(of, [[T0 - 1, "p1-a", 1, "Cel"]]) == set()
    assert _known_better(of, [[T0 - 1, "p1-a", 1, "Cel"], [T0, "p1-a", 1, "Cel"]]) == {T0}
    assert of.state.presumed_back == [("p1-b", T0)]


def test_a_probe_is_presumed_back_once_it_would_have_settled(of):
    settle = PILES["p1"].thresholds.settle_ms
    of.state.outings["p1-a"] = OutingState(out=T0, accepted_from=None)
    of.at = T0 + settle - 1
    assert _stuck(of, [T0]) == []
    of.at = T0 + settle
    assert _stuck(of, [T0]) == [("p1-a", T0)]
    assert _stuck(of, [T0 + 1]) == []
    for change in ({"taken": True}, {"with_cores": True}):
        of.state.outings["p1-a"] = OutingState(out=T0, accepted_from=None, **change)
        assert _stuck(of, [T0]) == []
    of.stuck.add(("p1-b", T0))
    assert _stuck(of, [T0]) == [("p1-b", T0)]
    of.state.presumed_back = [("p1-b", T0)]
    assert _stuck(of, [T0]) == []
    assert FOREVER > NOW
