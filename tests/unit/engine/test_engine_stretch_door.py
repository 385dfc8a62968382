"""The second door, with stand-ins for engine and runs: what is tried in a run, what is fed alone, and who hears of it."""

from types import SimpleNamespace

import numpy as np
import pytest

from monitor.conditioning import UnsettledError
from monitor.engine.stretch import door
from monitor.engine.stretch.door import GROWTH, _conditioned, _run, feed_commits

LEAST = 4


class Fed:
    """An engine that notes what it is fed."""

    def __init__(self, *, far=()):
        self.done = []
        self.core = SimpleNamespace(silence_check_is_far=lambda at: at in far)

    def feed(self, event, history):
        self.done.append(event)
        return [f"effect of {event}"]

    def take_effects(self):
        return ["effect of a run"]

    def take_verdicts(self):
        return []


class Some:
    """Commits of so many rows each."""

    def __init__(self, count, per, between):
        self.first, self.at = np.arange(count + 1) * per, np.arange(count)
        self.time, self.micro = np.arange(count * per), np.arange(count * per) * 1000
        self.between = between or {}

    def __len__(self):
        return len(self.at)

    def event(self, number):
        return number


def commits_of(count, *, per=1, between=None):
    return Some(count, per, between)


@pytest.fixture
def through(monkeypatch):
    """Feed commits of which runs take those that a rule says; return what was tried, fed and told."""

    def feed(count, taken, *, far=(), is_ready=lambda: True, between=None, per=1, **more):
        engine, tried, told, reached = Fed(far=far), [], [], []
        history = SimpleNamespace(open=lambda commits: None, reach=reached.append)

        def run(engine, commits, history, commit, end, left, least, known):
            tried.append((commit, end))
            return taken(commit, end)

        monkeypatch.setattr(door, "_run", run)
        monkeypatch.setattr(door, "ready", lambda core: is_ready())
        effects = feed_commits(
            engine, commits_of(count, between=between, per=per), history, least=LEAST, told=told.append, **more
        )
        return SimpleNamespace(tried=tried, fed=engine.done, told=told, reached=reached, effects=effects)

    return feed


def test_a_run_may_be_longer_the_further_the_last_one_came(through):
    found = through(200, lambda commit, end: (end, end))
    assert found.tried == [(0, 16), (16, 16 + 16 * GROWTH), (80, 200)]
    assert (found.fed, found.effects) == ([], ["effect of a run"] * 3)
    assert found.told == [16, 80, 200]
    found = through(60, lambda commit, end: (commit + 5, commit + 5))
    assert [end - commit for commit, end in found.tried[:3]] == [16, 20, 20]
    found = through(200, lambda commit, end: (end, end), rows=50)
    assert found.tried[0] == (0, 16)
    assert found.tried[1] == (16, 66), "no more rows than that"
    found = through(200, lambda commit, end: (end, end), rows=3)
    assert found.tried[0] == (0, LEAST), "and no fewer commits than are worth a run"
    found = through(200, lambda commit, end: (end, end), known={}, rows=1000)
    assert found.tried == [(0, 200)]


def test_commits_that_no_run_takes_are_fed_alone_up_to_where_one_is_worth_trying(through):
    found = through(10, lambda commit, end: (commit, commit + 3), per=2)
    assert [commit for commit, _ in found.tried] == [0, 3, 6, 9]
    assert found.fed == [*range(10)]
    assert found.reached == [2 * (number + 1) for number in range(10)]
    assert found.effects[:2] == ["effect of a run", "effect of 0"]
    assert found.told == [0 + 1], "one by one it is told but now and then"


def test_who_waits_hears_of_every_run_and_of_each_500th_commit(through):
    found = through(1002, lambda commit, end: (commit, 10_000))
    assert found.told == [1, 501, 1001]
    found = through(6, lambda commit, end: (commit + 1, commit + 1))
    assert found.told == [1]
    found = through(6, lambda commit, end: (commit + 2, commit + 2))
    assert found.told == [2, 4, 6]


def test_no_run_is_tried_where_none_may_begin(through):
    assert through(3, lambda commit, end: (end, end), is_ready=lambda: False).tried == []
    found = through(8, lambda commit, end: (end, end), far={0, 1, 2})
    assert (found.fed, found.tried) == ([0, 1, 2], [(3, 8)])


def test_small_events_come_before_their_commit_and_the_last_ones_at_the_end(through):
    found = through(
        3, lambda commit, end: (end, end), is_ready=lambda: False, between={2: ["b", "c"], 0: ["a"], 3: ["d"]}
    )
    assert found.fed == ["a", 0, 1, "b", "c", 2, "d"]
    assert found.effects == [f"effect of {one}" for one in found.fed]


# A run -----------------------------------------------------------------------------------------------------------


@pytest.fixture
def pieces(monkeypatch):
    """Stand-ins for what a run is made of."""
    made = SimpleNamespace(barrier=20, conditioned=[], looked=0, drives=[])

    def barrier(*what):
        made.looked += 1
        return made.barrier

    def conditioned(core, commits, start, end, rows, least):
        made.conditioned.append((start, end))
        return made.run

    class Made:
        def __init__(self, engine, run, history, between, base):
            made.drives.append((run, base))

        def go(self, reach):
            reach(7)
            return 6

    monkeypatch.setattr(door, "rows_by_probe", lambda commits, start, end: "rows")
    monkeypatch.setattr(door, "first_barrier", barrier)
    monkeypatch.setattr(door, "_conditioned", conditioned)
    monkeypatch.setattr(door, "Drive", Made)
    made.run = "run"
    return made


def one_run(pieces, known=None, start=10):
    reached = []
    core = SimpleNamespace(
        conditioner=SimpleNamespace(state="c"), state=SimpleNamespace(watches="w"), audience="people"
    )
    commits, history = commits_of(100, per=3), SimpleNamespace(reach=reached.append)
    return _run(SimpleNamespace(core=core), commits, history, start, 50, [], LEAST, known), reached


def test_a_run_goes_up_to_the_first_barrier(pieces):
    assert one_run(pieces) == ((16, 16), [30, 37, 48])
    assert (pieces.conditioned, pieces.drives) == ([(10, 20)], [("run", 10)])


def test_a_run_that_is_not_worth_it_is_left_to_the_first_door(pieces):
    pieces.barrier = 10 + LEAST - 1
    assert one_run(pieces) == ((10, 10 + LEAST), [])
    assert pieces.conditioned == []
    pieces.barrier = 10 + LEAST
    assert one_run(pieces)[0] == (16, 16)
    pieces.run = 12
    assert one_run(pieces) == ((10, 13), [])


def test_a_run_that_is_known_is_not_prepared_again(pieces):
    known = {}
    assert one_run(pieces, known) == one_run(pieces, known)
    assert pieces.looked == 1
    one_run(pieces, known, start=11)
    assert pieces.looked == 2
    pieces.barrier, known = 11, {}
    assert one_run(pieces, known) == one_run(pieces, known) == ((10, 12), [])
    assert pieces.looked == 3


def prepared(monkeypatch, late, *, unsettled=False, names=("a", "b"), begin=10, end=30):
    """Prepare a run of which rows come too late, attempt by attempt."""
    seen, left = [], list(late)

    def run(conditioner, course, mine):
        if unsettled:
            raise UnsettledError
        seen.append((len(course.at), {name: (rows.tolist(), micro.tolist()) for name, (rows, micro) in mine.items()}))
        return SimpleNamespace(series={"a": SimpleNamespace(late=left.pop(0)), "b": SimpleNamespace(late=[])})

    monkeypatch.setattr(door, "Conditioned", run)
    commits = commits_of(40, per=2)
    core = SimpleNamespace(conditioner=SimpleNamespace(state=SimpleNamespace(probes=dict.fromkeys(names))))
    rows = {"a": np.array([0, 3, 39]), "b": np.array([1, 38]), "no probe": np.array([2])}
    return _conditioned(core, commits, begin, end, rows, LEAST), seen


def test_a_run_is_cut_where_a_reading_touches_the_past(monkeypatch):
    run, seen = prepared(monkeypatch, [[]])
    assert run.series["a"].late == []
    assert seen == [(20, {"a": ([0, 3, 39], [20_000, 23_000, 59_000]), "b": ([1, 38], [21_000, 58_000])})]
    run, seen = prepared(monkeypatch, [[39, 38], []])
    assert [count for count, _ in seen] == [20, 19]
    assert seen[1][1] == {"a": ([0, 3], [20_000, 23_000]), "b": ([1], [21_000])}
    assert not isinstance(run, int)
    run, seen = prepared(monkeypatch, [[2 * LEAST], []])
    assert [count for count, _ in seen] == [20, LEAST]
    assert not isinstance(run, int)
    assert prepared(monkeypatch, [[2 * LEAST - 1], []])[0] == 10 + LEAST - 1, "that is not worth a run"


def test_without_a_known_probe_or_with_flags_that_wait_there_is_no_run(monkeypatch):
    assert prepared(monkeypatch, [[]], names=()) == (30, [])
    assert prepared(monkeypatch, [[]], unsettled=True) == (10 + LEAST, [])
    assert prepared(monkeypatch, [], end=10 + LEAST - 1) == (10 + LEAST - 1, [])
