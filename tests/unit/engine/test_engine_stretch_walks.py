"""The walks of a run, each with stand-ins for its neighbours: how far they go alone, what they are fed, what ends them."""

from types import SimpleNamespace

import numpy as np
import pytest
from engine_yard import HOUR

from monitor.conditioning import Course as Way
from monitor.engine.context.agenda import Agenda
from monitor.engine.stretch import walking
from monitor.engine.stretch.curves import END
from monitor.engine.stretch.drive import Drive
from monitor.engine.stretch.heaps import PileCourse
from monitor.engine.stretch.walk_ahead import WalkAhead
from monitor.engine.stretch.walking import COMMITS, NEAR, _Batch, _step, _stop, walk_on
from monitor.model.settings import AMBIENT
from monitor.piles import Stir

COUNT = 200
ROWS = 2
"""Rows of each commit: commit n holds the keys from 4n to 4n + 3."""


def way_of(count=COUNT):
    first = np.arange(count + 1, dtype=np.int64) * ROWS
    return Way(np.arange(count, dtype=np.int64) * 10, first, np.zeros(count * ROWS, np.int64))


def key_of(commit):
    return 2 * ROWS * commit + 1


def a_drive(*, next_keys=None, places=None, changes=(), changed=0, between=(), base=0, agenda=None, **state):
    """A run of many commits, one each 10 ms."""
    made = Drive.__new__(Drive)
    made.way = way_of()
    made.next, made.places = next_keys or {}, places or {}
    made._changes, made._changed = list(changes), changed
    made._between, made._base = list(between), base
    made.core = SimpleNamespace(agenda=agenda or Agenda({}), state=SimpleNamespace(**state))
    return made


# How far walks go alone ------------------------------------------------------------------------------------------


def a_pile(other=END, *, told=True, heard=True, walk=True):
    made = PileCourse.__new__(PileCourse)
    made._told, made._other = told, other
    made.walk = SimpleNamespace(heard=lambda: heard) if walk else None
    return made


def test_only_its_walk_may_change_before_the_first_key_of_anything_else():
    assert a_pile(40).only_walk(40)
    assert not a_pile(40).only_walk(41)
    assert not a_pile(told=False).only_walk(1)
    assert not a_pile(heard=False).only_walk(1)
    assert not a_pile(walk=False).only_walk(1)


def test_walks_stop_after_so_many_commits_or_where_a_heap_has_something_else_to_say():
    pile = a_pile()
    assert _stop(a_drive(next_keys={"p": key_of(3)}, places={"p": pile}), {"p": pile}, 3) == 3 + COMMITS
    late = COUNT - 10
    assert _stop(a_drive(next_keys={"p": key_of(late)}, places={"p": pile}), {"p": pile}, late) == COUNT
    pile = a_pile(key_of(9))
    assert _stop(a_drive(next_keys={"p": key_of(3)}, places={"p": pile}), {"p": pile}, 3) == 9
    drive = a_drive(next_keys={"p": key_of(3)}, places={"p": pile}, changes=[key_of(6)])
    assert _stop(drive, {"p": pile}, 3) == 6
    drive = a_drive(next_keys={"p": key_of(3)}, places={"p": a_pile()}, between=[(5, None)])
    assert _stop(drive, {"p": a_pile()}, 3) == 5


@pytest.mark.parametrize(
    ("other", "joins", "stop"),
    [
        (END, True, 3 + COMMITS),
        (key_of(8), True, 8),
        (key_of(5) + 1, True, 5),
        (key_of(5), False, 5),
    ],
)
def test_another_heap_goes_along_if_only_its_walk_may_change(other, joins, stop):
    pile, second = a_pile(), a_pile(other)
    drive = a_drive(next_keys={"p": key_of(3), "q": key_of(5)}, places={"p": pile, "q": second})
    courses = {"p": pile}
    assert _stop(drive, courses, 3) == stop
    assert (courses.get("q") is second) is joins


def test_a_place_that_is_no_heap_ends_the_walks_and_one_far_ahead_does_not():
    pile, bed = a_pile(), SimpleNamespace()
    for commit, stop in ((5, 5), (3 + COMMITS - 1, 3 + COMMITS - 1), (3 + COMMITS, 3 + COMMITS), (150, 3 + COMMITS)):
        courses = {"p": pile}
        drive = a_drive(next_keys={"p": key_of(3), "b": key_of(commit)}, places={"p": pile, "b": bed})
        assert _stop(drive, courses, 3) == stop
        assert [*courses] == ["p"]


# A walk fed alone ------------------------------------------------------------------------------------------------


class Fed:
    """A batch whose walk notes what it was fed."""

    def __init__(self, rows, *, odd=(), changes=()):
        self.told, self.reached = [], []
        self.state = SimpleNamespace(pending=(), due=None)
        self.rows, self.odd, self.changes = rows, odd, dict(changes)
        self.run = SimpleNamespace(batch="heap")

    def reading(self, probe, time, milli):
        self.told.append((probe, time, milli))

    def advance(self):
        return self.changes.get(len(self.told), [])

    def walk_to(self, commit, stop):
        return [row for row in self.rows if commit <= row[0] < stop]

    def odd_from(self, commit):
        return next((one for one in self.odd if one >= commit), END)

    def walked(self, commit):
        self.reached.append(commit)


def row(commit, time=None, probe="a"):
    return (commit, key_of(commit), probe, commit * 10 if time is None else time, 60_000 + commit)


def batch_of(fed, commit=0, stop=COUNT):
    return _Batch(SimpleNamespace(walks={"heap": fed}), fed, commit, stop)


def test_a_commit_is_fed_with_all_its_readings_and_says_the_newest():
    fed = Fed([row(2, 25, "b"), row(2, 20), row(3), row(5)])
    one = batch_of(fed)
    assert one.feed(1) == 0
    assert one.feed(2) == 25
    assert fed.told == [("b", 25, 60_002), ("a", 20, 60_002)]
    assert one.feed(4) == 30
    assert one.feed(4) == 0
    assert one.feed(9) == 50
    assert one.feed(9) == 0


@pytest.fixture
def told(monkeypatch):
    """What people would be told."""
    found = []
    monkeypatch.setattr(walking, "tell_walk", lambda core, run, changes: found.append((core.at, changes)))
    monkeypatch.setattr(walking, "refresh_latent", lambda core, run: found.append("latent"))
    monkeypatch.setattr(walking, "settle", lambda core: found.append("settled"))
    return found


class OneHeap:
    """A drive of one heap whose walk alone matters."""

    def __init__(self, fed, *, finds=(), air=None, other=END, looks=True):
        self.way, self.fed, self.history = way_of(), fed, "record"
        self.core = SimpleNamespace(
            walks={"heap": fed}, state=SimpleNamespace(runs={"heap": fed.run}, last=0), at=0, history=None,
            silence_check=1 if looks else None,
        )  # fmt: skip
        course = a_pile(other)
        course.walk = SimpleNamespace(
            heard=lambda: True, **{n: getattr(fed, n) for n in ("run", "walk_to", "odd_from", "walked")}
        )
        self.places, self.next = {"p": course}, {"p": key_of(3)}
        if air is not None:
            self.places[AMBIENT] = air
        self.looked, self.skipped, self.renewed = [], [], []
        self.checks = SimpleNamespace(run=lambda at, tie: self.looked.append((at, tie)) or at in finds)

    def change_key(self):
        return END

    def stops(self):
        return COUNT

    def skip_all(self, key):
        self.skipped.append(key)

    def after(self, places):
        self.renewed.append(places)


@pytest.mark.parametrize(
    ("odd", "last"), [([3], 3), ([3, 4 + NEAR], 4 + NEAR), ([3, 5 + NEAR], 3), ([5], 5), ([3 + NEAR, 100], 3 + NEAR)]
)
def test_quiet_commits_are_fed_as_long_as_the_next_limit_is_near(told, odd, last):
    fed = Fed([row(n) for n in range(3, 90)], odd=odd)
    drive = OneHeap(fed)
    assert walk_on(drive, ["p"], 3) is True
    assert fed.reached == [last + 1]
    assert len(fed.told) == last + 1 - 3
    assert drive.renewed == [["p"]]
    assert drive.looked == [(10 * n, True) for n in range(4, last + 1)]
    assert told == []


def test_a_look_that_finds_a_silent_probe_comes_before_the_commit_of_its_instant(told):
    fed = Fed([row(n) for n in range(3, 90)], odd=range(COUNT))
    drive = OneHeap(fed, finds=[30, 60])
    assert walk_on(drive, ["p"], 3) is True
    assert fed.reached == [6], "the look at the first commit was served before"
    fed = Fed([row(n) for n in range(3, 90)], odd=range(COUNT))
    drive = OneHeap(fed, finds=[60], looks=False)
    assert walk_on(drive, ["p"], 3) is True
    assert (fed.reached, drive.looked) == ([3 + COMMITS], [])


def test_what_a_walk_says_is_told_at_its_commit_and_ends_the_walks(told):
    fed = Fed([row(n) for n in range(3, 90)], odd=range(COUNT), changes={3: ["hot"], 4: ["never asked for"]})
    drive = OneHeap(fed)
    assert walk_on(drive, ["p"], 3) is True
    assert told == [(50, ["hot"]), "latent", "settled"]
    assert drive.skipped == [key_of(6) - 1]
    assert fed.reached == [6, 6]
    assert (drive.core.at, drive.core.history, drive.core.state.last) == (50, None, 50)


def test_where_nothing_is_told_nothing_is_brought_up(told):
    fed = Fed([row(5)], changes={0: ["not its reading"]})
    drive = OneHeap(fed)
    batches = {"heap": batch_of(fed)}
    assert _step(drive, batches, None, 4) is False
    assert _step(drive, batches, None, 5) is False
    assert (told, drive.skipped, fed.reached, drive.core.state.last) == ([], [], [], 0)


@pytest.mark.parametrize(
    ("pending", "due", "brought"), [((), None, False), ((), 31, False), ((), 30, True), ([1], None, True)]
)
def test_the_air_is_brought_up_to_a_commit_at_which_the_walk_may_have_to_judge(told, pending, due, brought):
    fed, air = Fed([row(3)]), SimpleNamespace(got=[])
    fed.state = SimpleNamespace(pending=pending, due=due)
    air.skip = air.got.append
    _step(OneHeap(fed, air=air), {"heap": batch_of(fed)}, air, 2)
    assert air.got == []
    _step(OneHeap(fed, air=air), {"heap": batch_of(fed)}, air, 3)
    assert air.got == ([key_of(3) - 1] if brought else [])


def test_what_matters_to_more_than_walks_is_not_fed_here(told):
    for drive, places in (
        (OneHeap(Fed([row(3)]), other=key_of(4) - 2), ["p"]),
        (OneHeap(Fed([row(3)]), air=SimpleNamespace()), ["p", AMBIENT]),
        (OneHeap(Fed([row(3)]), air=SimpleNamespace()), [AMBIENT]),
        (OneHeap(Fed([row(3)])), []),
    ):
        assert walk_on(drive, places, 3) is False
        assert (drive.fed.told, drive.renewed) == ([], [])
    assert walk_on(OneHeap(Fed([row(3)]), other=key_of(4) - 1), ["p"], 3) is True


# How far a record can be examined --------------------------------------------------------------------------------


def ahead_of(times, *, lag=100, odd=(), **lines):
    """A walk ahead of probes that say one reading a commit, at these own times."""
    made = WalkAhead.__new__(WalkAhead)
    count = len(next(iter(times.values())))
    made._first = np.arange(count + 1, dtype=np.int64)
    made._cores = [
        SimpleNamespace(name=name, key=2 * np.arange(count) + 1, time=np.array(own, np.int64), milli=np.arange(count))
        for name, own in times.items()
    ]
    made._taken, made._walked, made._odd = [0] * len(times), 0, np.array(odd, np.int64)
    made._newest, made._frontiers = {}, {}
    made.core = SimpleNamespace(thresholds_of=lambda run: SimpleNamespace(lag_ms=lag))
    known = {name: SimpleNamespace(serving=True, absent=False, time=0) for name in times}
    made.run = SimpleNamespace(walk=SimpleNamespace(lines=known | lines, newest_out=0))
    return made


def columns(ahead):
    return [column.tolist() for column in ahead._frontier(ahead.run.walk)]


def test_a_record_is_examined_as_far_as_every_probe_in_service_has_spoken():
    assert columns(ahead_of({"a": [10, 20, 30], "b": [5, 25, 26]})) == [[5, 20, 26], []]
    mute = SimpleNamespace(serving=True, absent=False, time=7)
    assert columns(ahead_of({"a": [10, 20, 30]}, c=mute)) == [[7, 7, 7], []]
    for away in (
        SimpleNamespace(serving=False, absent=False, time=7),
        SimpleNamespace(serving=True, absent=True, time=7),
    ):
        assert columns(ahead_of({"a": [10, 20, 30]}, c=away)) == [[10, 20, 30], []]


def test_a_commit_leaves_a_probe_behind_that_is_further_back_than_it_may_lag():
    assert columns(ahead_of({"a": [10, 110, 111], "b": [10, 10, 10]})) == [[10, 10, 10], [2]]
    ahead = ahead_of({"a": [10, 20, 30]})
    ahead.run.walk.newest_out = 121
    assert columns(ahead) == [[10, 20, 30], [0, 1]]


def test_rows_of_a_walk_come_in_order_of_their_commits_from_where_it_stands():
    ahead = ahead_of({"b": [10, 20, 30], "a": [5, 25, 26]})
    assert ahead._rows_before(4) == [
        (0, 1, "a", 5, 0), (0, 1, "b", 10, 0), (1, 3, "a", 25, 1), (1, 3, "b", 20, 1)
    ]  # fmt: skip
    ahead.walked(1)
    assert (ahead._walked, ahead._taken) == (2, [1, 1])
    assert ahead._rows_before(3) == []
    assert ahead._rows_before(4) == [(1, 3, "a", 25, 1), (1, 3, "b", 20, 1)]


def test_the_next_odd_commit_is_one_at_or_behind_this():
    ahead = ahead_of({"a": [1]}, odd=[3, 8])
    assert [ahead.odd_from(commit) for commit in (0, 3, 4, 8, 9)] == [3, 3, 8, 8, END]


def with_dues(ahead, *, due=None, pending=(), hour=None, unsettled=False, now=0, besides=None):
    walk = ahead.run.walk
    walk.due, walk.pending, walk.now, walk.moving = due, list(pending), now, SimpleNamespace(hour=hour)
    parts = (None, SimpleNamespace(unsettled=lambda: unsettled), None)
    ahead._walk, ahead._hours = SimpleNamespace(parts=parts, besides_hours=besides), None
    return ahead


def test_the_next_deadline_of_a_walk_is_met_by_the_commit_that_lets_it_be_examined():
    own = {"a": [10, 20, 30], "b": [12, 22, 32]}
    for due, commit in ((5, 0), (10, 0), (11, 1), (20, 1), (21, 2), (30, 2)):
        assert with_dues(ahead_of(own), due=due).due_key() == 2 * commit + 1
    assert with_dues(ahead_of(own), due=31).due_key() == END
    assert with_dues(ahead_of(own)).due_key() == END
    assert with_dues(ahead_of(own), due=31, pending=[(15, "stir")]).due_key() == 3
    assert with_dues(ahead_of(own), due=15, pending=[(25, "stir"), (26, "stir")]).due_key() == 3
    passed = with_dues(ahead_of(own), due=5)
    passed.walked(2)
    assert passed.due_key() == 5, "what is behind was not looked at then"


def test_a_limit_that_moves_by_the_hour_is_asked_at_the_next_instant_while_its_side_is_not_known():
    own = {"a": [10, 20, 30]}
    assert with_dues(ahead_of(own), hour=0, unsettled=True, now=10).due_key() == 3
    assert with_dues(ahead_of(own), hour=0, unsettled=False, now=10).due_key() == END
    assert with_dues(ahead_of(own), hour=None, unsettled=True, now=10).due_key() == END


def test_a_deadline_of_whole_hours_waits_for_the_first_at_which_something_can_change():
    own = {"a": [10, 20, 30]}
    hours = SimpleNamespace(quiet_until=lambda: 5 * HOUR)
    for hour, due, besides, quiet, found in (
        (None, HOUR, None, 5 * HOUR, HOUR),
        (0, HOUR + 1, None, 5 * HOUR, HOUR + 1),
        (0, HOUR, None, 5 * HOUR, 5 * HOUR),
        (0, HOUR, HOUR, 5 * HOUR, HOUR),
        (0, HOUR, HOUR + 1, 5 * HOUR, HOUR + 1),
        (0, HOUR, 6 * HOUR, 5 * HOUR, 5 * HOUR),
        (0, HOUR, 6 * HOUR, None, HOUR),
    ):
        ahead = with_dues(ahead_of(own), due=due, hour=hour, besides=besides)
        ahead._hours = hours
        hours.quiet_until = lambda quiet=quiet: quiet
        assert ahead._due(ahead.run.walk) == found, (hour, due, besides, quiet)


@pytest.mark.parametrize(("hour", "now", "said"), [(0, 5, True), (None, 5, False), (0, 30, False)])
def test_the_hours_that_were_passed_over_are_told_to_limits_that_move(hour, now, said):
    told = []
    ahead = with_dues(ahead_of({"a": [10, 20, 30]}), hour=hour, now=now)
    ahead._walk.parts[1].nothing_until = lambda *what: told.append(what)
    ahead._ahead = [SimpleNamespace(probe="a", passed=lambda *what: False, skip=lambda *what: None)]
    ahead._passing = "passing"
    ahead._skip_lines(4)
    assert (ahead.run.walk.now, ahead._taken) == (max(now, 20), [2])
    assert told == ([(20, "passing")] if said else [])


@pytest.mark.parametrize(
    ("stir", "at", "passed", "again"),
    [(None, 0, False, False), (None, 0, True, True), (Stir.LEVEL, 20, False, True), (Stir.LEVEL, 21, False, False)],
)
def test_a_level_is_taken_anew_where_it_was_passed_or_changes_meanwhile(stir, at, passed, again):
    done = []
    ahead = with_dues(ahead_of({"a": [10, 20, 30]}), pending=[] if stir is None else [(at, stir, "a", 0)])
    ahead._ahead = [
        SimpleNamespace(
            probe="a",
            passed=lambda *what: passed,
            skip=lambda *what: done.append(what[:2]),
            relevel=lambda: done.append("anew"),
        )
    ]
    ahead._skip_lines(4)
    assert done == [(0, 2), *(["anew"] if again else [])]
    ahead._skip_lines(4)
    assert done[1:] == (["anew"] if again else []), "it stands there already"
