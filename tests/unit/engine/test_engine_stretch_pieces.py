"""The pieces of a run, each against the plain way: a probe's watch brought forward, limits searched, looks for silence."""

from dataclasses import replace
from itertools import pairwise
from types import SimpleNamespace

import numpy as np
import pytest
from engine_both_doors import Recorder
from engine_yard import DAY, HOUR, MIN, T0, air, bedding, core, yard
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.engine.context.agenda import PENDING, Deadline, DueKind
from monitor.engine.context.air_highs import note_high
from monitor.engine.context.probe_watch import TRAIL_STEP_MS, ProbeWatch
from monitor.engine.context.read_spots import Apart, HandSpot
from monitor.engine.context.route import Goal
from monitor.engine.context.routes import route
from monitor.engine.stretch.barriers import _is_at_home, first_barrier, ready, rows_by_probe
from monitor.engine.stretch.checks import _last, _widest
from monitor.engine.stretch.commits import commits_from_events
from monitor.engine.stretch.courses import AmbientCourse
from monitor.engine.stretch.curves import END, Curve, Stream
from monitor.engine.stretch.lane import Lane, _kept
from monitor.engine.stretch.limits_ahead import LimitsAhead
from monitor.engine.stretch.walk_ahead import WalkAhead
from monitor.model.bounds import HIGHEST, LOWEST, Limit, Quiet, Side, Span, falling, rising
from monitor.model.events import Event, EventKind
from monitor.model.excursions import Excursion
from monitor.model.units import Quantity
from monitor.piles import OutingState
from monitor.piles.air import AirState, note_air

LATE_MS, HOT = 5 * MIN, 70_000
NOW = T0 + 6 * HOUR

# A probe's watch ------------------------------------------------------------------------------------------------

READINGS = st.lists(
    st.tuples(
        st.sampled_from([MIN, 10 * MIN, 10 * MIN, 35 * MIN]),  # from one commit to the next
        st.sampled_from([0, 0, 0, LATE_MS, LATE_MS + 1, 20 * MIN]),  # how late it came
        st.sampled_from([20_000, HOT, HOT + 1, 80_000]),
        st.sampled_from([True, True, True, False]),  # whether it was accepted
    ),
    min_size=1,
    max_size=40,
)


def laid_out(found):
    """Return (at, own time, value, accepted) of a probe's readings, own times rising."""
    at, own, rows = T0, T0 - DAY, []
    for step, late, milli, accepted in found:
        at += step
        own = max(own + 1, at - late)
        rows.append((at, own, milli, accepted))
    return rows


def lane_of(rows, watch, *, danger=True):
    at = np.array([one[0] for one in rows], np.int64)
    good = [number for number, one in enumerate(rows) if one[3]]
    series = SimpleNamespace(
        name="p1-a", kept={}, rows=np.arange(len(rows)), time=np.array([one[1] for one in rows], np.int64),
        key=2 * np.array(good, np.int64) + 1, accepted_time=np.array([rows[n][1] for n in good], np.int64),
        accepted_milli=np.array([rows[n][2] for n in good], np.int64), episodes=[(0, 1)], said=[],
    )  # fmt: skip
    known = SimpleNamespace(watch=watch, comparable_from=0, danger=object() if danger else None, hot_milli=HOT)
    return Lane(known, series, SimpleNamespace(at=at, first=np.arange(len(rows) + 1)), LATE_MS)


def fresh_watch():
    watch = ProbeWatch(heard_from=T0 - DAY)
    for at in (T0 - 20 * MIN, T0 - 10 * MIN):
        watch.arrive(at, False)
        watch.accept(at, at, 40_000, False, HOT)
        watch.newest = at
    return watch


def fed(watch, rows):
    for at, own, milli, accepted in rows:
        late = own < at - LATE_MS
        watch.arrive(at, late)
        watch.newest = own
        if accepted:
            watch.accept(at, own, milli, late, HOT)
    return watch


@given(READINGS, st.lists(st.integers(0, 40), max_size=3))
@settings(max_examples=40)
def test_a_watch_brought_forward_at_once_is_the_one_that_took_each_reading(found, stops):
    rows = laid_out(found)
    lane = lane_of(rows, fresh_watch())
    for stop in sorted(min(one, len(rows)) for one in stops):
        lane.skip(2 * stop)
        assert lane.watch == fed(fresh_watch(), rows[:stop])
        heard = 2 * stop + 1 if stop < len(rows) else 1 << 62
        assert lane.next_key() == heard, "its next row comes before what is accepted of it"
    lane.skip(2 * len(rows))
    assert lane.watch == fed(fresh_watch(), rows)
    lane.skip(0)
    assert lane.watch == fed(fresh_watch(), rows)


@given(READINGS, st.integers(0, 40), st.integers(-1, 1), st.integers(0, 40))
@settings(max_examples=40)
def test_a_watch_as_of_an_instant_knows_what_came_before_it(found, number, off, taken):
    rows = laid_out(found)
    at = rows[min(number, len(rows) - 1)][0] + off
    taken = min(taken, sum(one[0] < at for one in rows))
    lane = lane_of(rows, fresh_watch())
    lane.skip(2 * taken)
    seen, plain = lane.as_of(at), fed(fresh_watch(), [one for one in rows if one[0] < at])
    for name in ("heard_from", "arrivals", "accepted", "arrived", "accepted_at", "accepted_time", "hot_time"):
        assert getattr(seen, name) == getattr(plain, name)


@given(READINGS, st.sampled_from([0, 10 * MIN, HOUR, 6 * HOUR]))
@settings(max_examples=30)
def test_a_probe_was_hot_within_a_span_before_its_newest_reading(found, span):
    rows = laid_out(found)
    lane = lane_of(rows, fresh_watch())
    assert lane.hot_ever() is any(milli > HOT and accepted for *_, milli, accepted in rows)
    assert not lane_of(rows, fresh_watch(), danger=False).hot_ever()
    within = lane.hot_within(lane.at, span)
    for number in range(len(rows)):
        watch = fed(fresh_watch(), rows[: number + 1])
        assert within[number] == (watch.hot_time is not None and watch.hot_time >= watch.accepted_time - span)


@given(
    st.lists(st.sampled_from([1, 5 * MIN, 10 * MIN, 10 * MIN, 25 * MIN]), min_size=1, max_size=30), st.integers(0, 30)
)
@settings(max_examples=40)
def test_a_trail_keeps_a_reading_each_ten_minutes(steps, before):
    times = (T0 + np.cumsum(np.array(steps))).astype(np.int64)
    last = T0 - before * MIN
    kept = _kept(times, last)
    plain = []
    for number, time in enumerate(times.tolist()):
        if time >= last + TRAIL_STEP_MS:
            plain.append(number)
            last = time
    assert kept.tolist() == plain


@given(st.sampled_from([MIN, 7 * MIN, 10 * MIN, 11 * MIN]), st.integers(1, 40), st.integers(0, 12))
@settings(max_examples=30)
def test_a_trail_of_even_readings_is_the_same(step, count, before):
    times = np.arange(count, dtype=np.int64) * step + T0
    last = T0 - before * MIN
    plain, newest = [], last
    for number, time in enumerate(times.tolist()):
        if time >= newest + TRAIL_STEP_MS:
            plain.append(number)
            newest = time
    assert _kept(times, last).tolist() == plain


# Gaps -----------------------------------------------------------------------------------------------------------

INSTANTS = st.lists(st.integers(1, 50), unique=True, max_size=8).map(sorted)


@given(INSTANTS, st.integers(0, 50))
def test_the_widest_gap_reaches_from_the_word_before_to_the_end(instants, more):
    end = (instants[-1] if instants else 0) + more
    edges = [0, *instants, end]
    assert _widest(0, np.array(instants, np.int64), end) == max(b - a for a, b in pairwise(edges))


@given(INSTANTS, INSTANTS.filter(bool), st.integers(-3, 30))
def test_the_last_word_at_each_commit(instants, commits, least):
    found = _last(-1, np.array(instants, np.int64), np.array(commits, np.int64), least)
    assert found.tolist() == [max(least, *(one for one in [-1, *instants] if one <= at)) for at in commits]


# Limits ---------------------------------------------------------------------------------------------------------

VALUES = st.lists(st.integers(0, 6), max_size=12)


@given(VALUES, st.integers(0, 12), st.integers(0, 6), st.integers(0, 6))
def test_the_first_value_outside_a_span_is_found(values, start, one, other):
    curve = Curve(np.array(values, np.int64))
    for least, most in ((min(one, other), max(one, other)), (LOWEST, one), (one, HIGHEST), (LOWEST, HIGHEST)):
        plain = next((n for n in range(start, len(values)) if not least <= values[n] <= most), END)
        assert curve.outside(start, least, most) == plain
        assert curve.outside(start, least, most) == plain, "what was searched is remembered"


def limits_of(values, silent=()):
    count = len(values)
    lane = SimpleNamespace(
        name="a", key=2 * np.arange(count) + 1, time=T0 + np.arange(count), milli=np.array(values, np.int64),
        late=np.zeros(count, np.bool_),
    )  # fmt: skip
    return LimitsAhead(Stream([lane], {}), silent)


@pytest.mark.parametrize("bound", [rising(4, 2, 0), falling(2, 4, 0)])
@given(VALUES.filter(bool), st.integers(0, 12))
def test_an_excursion_keeps_the_last_reading_beyond_its_limit(bound, values, stop):
    ahead, excursion, waiting = limits_of(values), Excursion(T0 - 9, T0 - 9, True), Excursion()
    stop = min(stop, len(values))
    lanes = ahead.skip(2 * stop, [Limit("x", excursion, bound, 4), Limit("y", waiting, bound, 4)])
    beyond = [n for n in range(stop) if bound.beyond.covers(values[n])]
    assert excursion.last == (T0 + beyond[-1] if beyond else T0 - 9)
    assert waiting.last is None
    assert [index for _, index in lanes] == ([stop - 1] if stop else [])
    assert ahead.skip(2 * stop, []) == []
    unknown = Excursion(T0 - 9)
    limits_of(values).skip(2 * stop, [Limit("x", unknown, bound, 4)])
    assert unknown.last == (T0 + beyond[-1] if beyond else None)


@given(
    VALUES.filter(bool), st.lists(st.integers(0, 6), max_size=2), st.integers(0, 6), st.integers(0, 12), st.booleans()
)
def test_the_next_reading_that_is_not_quiet_is_found(values, silent, most, until, waits):
    ahead = limits_of(values, silent)
    quiet = Quiet([Span(Side.HIGH, LOWEST, most), Span(Side.LAST_LOW, 1, HIGHEST)], T0 + until, waits)
    plain = [n for n, one in enumerate(values) if one > most or min([one, *silent]) < 1 or n >= until or waits]
    assert ahead.next_key(quiet) == (2 * plain[0] + 1 if plain else END)
    assert ahead.next_key(None) == 1
    ahead.jump(2 * len(values))
    assert ahead.next_key(None) == END


# The air ---------------------------------------------------------------------------------------------------------


@given(
    st.lists(st.tuples(st.sampled_from([10 * MIN, 40 * MIN, 3 * HOUR]), st.integers(0, 6)), min_size=1, max_size=20),
    st.lists(st.integers(0, 20), max_size=3),
)
def test_the_air_brought_forward_is_the_air_that_took_each_reading(found, stops):
    times = (T0 + np.cumsum([step for step, _ in found])).astype(np.int64)
    milli = np.array([value for _, value in found], np.int64)
    count = len(found)
    lane = SimpleNamespace(
        name="air", key=2 * np.arange(count) + 1, time=times, milli=milli, late=np.zeros(count, np.bool_),
        route=SimpleNamespace(goal=Goal.AMBIENT),
    )  # fmt: skip
    heap = SimpleNamespace(state=SimpleNamespace(air=AirState()))
    of = SimpleNamespace(state=SimpleNamespace(air=None, air_highs=[]), walks={"heap": heap})
    course, highs, hours = AmbientCourse(of, [lane]), [], AirState()
    done = 0
    for stop in sorted(min(one, count) for one in [*stops, count]):
        ahead = [(int(time) // HOUR, int(value)) for time, value in zip(times[done:], milli[done:], strict=True)]
        plain = {hour: [value for at, value in ahead if at == hour] for hour, _ in ahead}
        assert [column.tolist() for column in course.ahead()] == [
            [*plain], [sum(some) for some in plain.values()], [len(some) for some in plain.values()]
        ]  # fmt: skip
        course.skip(2 * stop)
        for time, value in zip(times[done:stop].tolist(), milli[done:stop].tolist(), strict=True):
            note_high(highs, time, value)
            note_air(hours, time, value)
        done = max(done, stop)
        assert (of.state.air_highs, heap.state.air) == (highs, hours)
        assert of.state.air == (int(milli[done - 1]) if done else None)
    again = AmbientCourse(of, [lane])
    again.jump(2 * count)
    again.skip(2 * count)
    assert (of.state.air_highs, heap.state.air) == (highs, hours), "fed one by one already"


# A walk that can be seen ahead -----------------------------------------------------------------------------------


def line(**more):
    return SimpleNamespace(**{"serving": True, "absent": False, "heard": True} | more)


def ahead_of(lines, outing=None, *, begun=True, gaps=(), built=T0, times=(NOW,)):
    one = WalkAhead.__new__(WalkAhead)
    one.run = SimpleNamespace(walk=SimpleNamespace(begun=begun, lines=lines, built=built, gaps=gaps))
    one.core = SimpleNamespace(state=SimpleNamespace(outings={} if outing is None else {"a": outing}))
    one._cores, one._taken = [SimpleNamespace(name="a", time=np.array(times, np.int64))], [0]
    return one


def test_a_walk_is_seen_ahead_where_all_its_probes_speak_as_ever():
    assert ahead_of({"a": line()}).understood()
    assert ahead_of({"a": line(), "b": line(serving=False, heard=False)}).understood()
    assert ahead_of({"a": line(), "b": line(absent=True, heard=False)}).understood()
    for lines in ({}, {"a": line(heard=False)}, {"a": line(), "b": line(heard=False)}, {"b": line()}):
        assert not ahead_of(lines).understood()
    assert not ahead_of({"a": line(serving=False), "b": line()}).understood()
    assert not ahead_of({"a": line(absent=True)}).understood()
    assert not ahead_of({"a": line()}, begun=False).understood()


def test_a_probe_that_is_out_or_just_back_is_not_seen_ahead():
    lines = {"a": line()}
    assert not ahead_of(lines, OutingState(out=T0, accepted_from=None)).understood()
    assert not ahead_of(lines, OutingState(returned=T0, accepted_from=NOW + 1)).understood()
    assert ahead_of(lines, OutingState(returned=T0, accepted_from=NOW)).understood()
    assert ahead_of(lines, OutingState(out=T0, accepted_from=None), times=()).understood(), (
        "it says no more in this run"
    )


def test_readings_from_before_the_building_or_across_a_gap_are_fed_one_by_one():
    lines = {"a": line()}
    assert ahead_of(lines, built=NOW).understood()
    assert not ahead_of(lines, built=NOW + 1).understood()
    assert ahead_of(lines, gaps=[("a", T0, NOW - 1)]).understood()
    assert not ahead_of(lines, gaps=[("a", T0, NOW - 1), ("a", T0, NOW)]).understood()


# Where a run may not begin, or ends -----------------------------------------------------------------------------

PROBES = {
    "p1-a": core("p1"),
    "p1-b": core("p1"),
    "b1-t": bedding("b1"),
    "b1-m": bedding("b1", Quantity.MOISTURE),
    "air": air(),
}


@pytest.fixture
def engine():
    drive = Recorder(yard(probes=PROBES))
    drive.hold(T0, NOW, p1_a=60, p1_b=50, b1_t=20, b1_m=75, air=10)
    return drive.engine


def test_a_run_may_begin_where_nothing_waits_and_nobody_read_by_hand(engine):
    state, of = engine.core.state, engine.core
    assert ready(of)
    state.clock_off_ms = -1
    assert not ready(of)
    state.clock_off_ms = 0
    of.run_at("p1").touched = NOW
    assert not ready(of)
    of.run_at("p1").touched = None
    state.hands["hand:p1"] = HandSpot("p1", "", NOW, 60_000, NOW, held=True)
    assert not ready(of)
    state.hands["hand:p1"].held = False
    assert ready(of)
    state.apart["p1"] = Apart("hand:p1", NOW, 60_000, "p1-a", 50_000)
    assert not ready(of)
    state.apart.clear()
    state.dangers["p1"].newest["hand:p1"] = 60_000
    assert not ready(of)
    del state.dangers["p1"].newest["hand:p1"]
    of.wait(Deadline("", DueKind.SILENCE), None)
    assert not ready(of)
    assert PENDING.kind is DueKind.PENDING


def barrier(engine, *rows, unit="Cel", ahead=()):
    """Return the first barrier among commits of one row each: (minutes after, probe, own minutes before, value)."""
    events = []
    for number, (after, probe, before, micro) in enumerate(rows):
        row = [NOW + (after - before) * MIN, probe, micro, unit]
        claims = list(ahead) if number == 1 else []
        events.append(Event(NOW + after * MIN, EventKind.READINGS, {"rows": [row], "ahead": claims}))
    (commits,) = commits_from_events(events)
    return first_barrier(engine.core, commits, 0, len(commits), rows_by_probe(commits, 0, len(commits)))


FINE = (10, "p1-a", 0, 60_000_000), (20, "p1-b", 0, 50_000_000), (30, "p1-a", 0, 60_000_000)


def test_readings_as_ever_have_no_barrier(engine):
    assert barrier(engine, *FINE) == 3
    assert barrier(engine, (5, "no such probe", 0, 1), *FINE) == 4, "what is of no probe changes nothing"


def test_what_is_out_of_the_ordinary_is_fed_by_itself(engine):
    assert barrier(engine, *FINE, (40, "p1-a", 10, 1)) == 3, "not newer than the one before"
    assert barrier(engine, *FINE, (40, "p1-a", 9, 1)) == 4
    assert barrier(engine, *FINE, (40, "b1-t", 180, 1)) == 3, "hours behind the others"
    assert barrier(engine, *FINE, unit="[degF]") == 0, "another unit"
    assert barrier(engine, *FINE, (40, "hand:p1", 0, 1)) == 3, "read by hand"
    assert barrier(engine, *FINE, ahead=[("p1-a", NOW + DAY)]) == 1, "a word from the future"


@pytest.mark.parametrize("field", ["silent", "lost", "ahead", "broken"])
def test_a_probe_that_was_not_as_ever_is_fed_by_itself(engine, field):
    setattr(engine.core.state.watches["p1-b"], field, True)
    assert barrier(engine, *FINE) == 1


def test_a_probe_that_its_place_does_not_know_is_fed_by_itself(engine):
    state = engine.core.state
    state.watches["p1-b"].newest = None
    assert barrier(engine, *FINE) == 1
    state.watches["p1-b"].newest = NOW
    state.dangers["p1"].accepted.pop("p1-b")
    assert barrier(engine, *FINE) == 1
    state.dangers["p1"].accepted["p1-b"] = 50_000
    assert barrier(engine, *FINE) == 3
    state.watches["p1-b"].trail = []
    assert barrier(engine, *FINE) == 1
    state.bins["b1"].temperatures["b1-t"].silent = True
    assert barrier(engine, (10, "b1-t", 0, 20_000_000)) == 0
    state.bins["b1"].temperatures.clear()
    assert barrier(engine, (10, "b1-t", 0, 20_000_000)) == 0


def test_a_probe_is_at_home_once_a_reading_of_it_was_accepted_there(engine):
    known = route(engine.core, "p1-a")
    assert known.watch.accepted_time == NOW
    for since, comparable_from, at_home in (
        (NOW, 0, True),
        (NOW + 1, 0, False),
        (0, NOW, True),
        (0, NOW + 1, False),
        (NOW + 1, NOW, False),
        (NOW, NOW + 1, False),
        (0, None, True),
    ):
        moved = replace(known, since=since, comparable_from=comparable_from)
        assert _is_at_home(engine.core, "p1-a", moved) is at_home, (since, comparable_from)
    trail, known.watch.trail = known.watch.trail, []
    assert not _is_at_home(engine.core, "p1-a", known)
    known.watch.trail, known.watch.accepted_time = trail, None
    assert not _is_at_home(engine.core, "p1-a", known)


def test_a_heaps_damp_probe_is_at_home_once_its_line_is_known(engine):
    known = replace(route(engine.core, "p1-a"), goal=Goal.PILE_LINE, quantity=Quantity.MOISTURE, danger=None)
    assert not _is_at_home(engine.core, "p1-a", known)
    engine.core.state.lines["p1/pile-too-wet/p1-a"] = Excursion()
    assert _is_at_home(engine.core, "p1-a", known)
    assert not _is_at_home(engine.core, "p1-a", replace(known, quantity=Quantity.OXYGEN))
    assert _is_at_home(engine.core, "p1-a", replace(known, quantity=Quantity.BATTERY)), "no line is kept of that"


def test_a_probe_that_is_out_with_its_heaps_core_probes_is_fed_by_itself(engine):
    engine.core.state.outings["b1-t"] = OutingState(out=NOW, with_cores=True)
    assert barrier(engine, (10, "b1-t", 0, 20_000_000)) == 0


def test_a_gap_longer_than_a_probe_may_lag_is_fed_by_itself(engine):
    lag = engine.core.thresholds_of(engine.core.run_at("p1")).lag_ms // MIN
    assert barrier(engine, (lag, "p1-a", 0, 60_000_000)) == 1
    assert barrier(engine, (lag + 1, "p1-a", 0, 60_000_000)) == 0
    assert route(engine.core, "p1-a").place == "p1"
