"""Readings of several probes of a place as one stream: whose each is, and the highest and lowest of the newest after each."""

from types import SimpleNamespace

import numpy as np
import pytest

from monitor.engine.stretch.curves import END, Stream
from monitor.engine.stretch.limits_ahead import LimitsAhead
from monitor.model.bounds import HIGHEST, LOWEST, NEVER, Limit, Quiet, Side, Span, falling, rising
from monitor.model.excursions import Excursion

A = {1: 50, 7: 40, 9: 60}
"""Values by their keys; times are ten times the keys."""
B = {3: 55, 11: 30}


def a_lane(name, values, late=()):
    keys = [*values]
    return SimpleNamespace(
        name=name, key=np.array(keys, np.int64), time=np.array(keys, np.int64) * 10,
        milli=np.array([*values.values()], np.int64), late=np.array([key in late for key in keys], np.bool_),
    )  # fmt: skip


def a_stream(held=(), lanes=(("a", A), ("b", B)), late=(7,)):
    return Stream([a_lane(name, values, late) for name, values in lanes], dict(held))


def plainly(stream, held):
    """Return (highest, lowest) after each reading, taken one by one."""
    known, found = dict(held), []
    for lane, milli in zip(stream.lane, stream.milli, strict=True):
        known[stream.lanes[lane].name] = int(milli)
        found.append((max(known.values()), min(known.values())))
    return found


@pytest.mark.parametrize(
    "held",
    [
        {},
        {"a": 70},
        {"b": 20},
        {"a": 45, "b": 57},
        {"c": 52},
        {"c": 80, "d": 10},
        {"a": 10, "c": 56},
        {"b": 90, "c": 35},
    ],
)
@pytest.mark.parametrize("lanes", [(("a", A), ("b", B)), (("b", B), ("a", A)), (("a", A),)])
def test_the_highest_and_lowest_of_the_newest_values_after_each_reading(held, lanes):
    stream = a_stream(held, lanes)
    found = [*zip(stream.high.values.tolist(), stream.low.values.tolist(), strict=True)]
    assert found == plainly(stream, held)


def test_readings_are_merged_in_the_order_of_their_keys():
    stream = a_stream()
    assert stream.key.tolist() == [1, 3, 7, 9, 11]
    assert [stream.lanes[one].name for one in stream.lane] == ["a", "b", "a", "a", "b"]
    assert stream.time.tolist() == [10, 30, 70, 90, 110]
    assert stream.milli.tolist() == [50, 55, 40, 60, 30]
    assert stream.late.tolist() == [False, False, True, False, False]
    one = a_stream(lanes=(("a", A),))
    assert (one.lane.tolist(), one.late.tolist(), len(one)) == ([0, 0, 0], [False, True, False], 3)


def test_what_is_before_a_key_is_counted_and_told_by_probe():
    stream = a_stream()
    assert [stream.before(key) for key in (0, 1, 2, 3, 11, 12)] == [0, 0, 1, 1, 4, 5]
    told = [[(lane.name, index) for lane, index in stream.newest(count)] for count in range(6)]
    assert told == [
        [], [("a", 0)], [("a", 0), ("b", 0)], [("a", 1), ("b", 0)], [("a", 2), ("b", 0)], [("a", 2), ("b", 1)]
    ]  # fmt: skip


def test_the_same_stream_may_be_of_other_lanes():
    stream = a_stream()
    other = stream.of([a_lane("x", {}), a_lane("y", {})])
    assert [one.name for one in other.lanes] == ["x", "y"]
    assert [one.name for one in stream.lanes] == ["a", "b"]
    assert other.key is stream.key


def test_the_first_reading_at_or_after_an_instant_and_the_first_in_time():
    stream = a_stream(late=(3, 7))
    assert [stream.first_at(0, until) for until in (10, 11, 30, 110, 111)] == [0, 1, 1, 4, END]
    assert stream.first_at(3, 10) == 3
    assert [stream.first_prompt(start) for start in range(6)] == [0, 3, 3, 3, 4, END]


# Limits ahead ----------------------------------------------------------------------------------------------------


def test_silent_probes_count_for_what_was_last_known_and_for_nothing_else():
    plain, ahead = LimitsAhead(a_stream()), LimitsAhead(a_stream(), silent=[20, 58])

    def first(limits, side, least, most):
        return limits.next_key(Quiet([Span(side, least, most)], NEVER, False))

    assert first(plain, Side.HIGH, LOWEST, 57) == first(ahead, Side.HIGH, LOWEST, 57) == 9
    assert first(plain, Side.LAST_HIGH, LOWEST, 57) == 9
    assert first(ahead, Side.LAST_HIGH, LOWEST, 57) == 1
    assert first(ahead, Side.LAST_LOW, 21, HIGHEST) == 1
    assert first(plain, Side.LAST_LOW, 31, HIGHEST) == 11
    assert first(ahead, Side.LOW, 31, HIGHEST) == 11


def test_the_next_key_is_that_of_the_first_reading_that_is_not_quiet():
    ahead = LimitsAhead(a_stream())
    assert ahead.next_key(None) == 1
    assert ahead.next_key(Quiet([], NEVER, False)) == END
    assert ahead.next_key(Quiet([], 70, False)) == 7
    assert ahead.next_key(Quiet([], NEVER, True)) == 1
    ahead.jump(7)
    assert (ahead.taken, ahead.next_key(None)) == (2, 7)
    assert ahead.next_key(Quiet([], NEVER, True)) == 9, "the one before it came late"
    assert ahead.next_key(Quiet([], 110, True)) == 9
    assert ahead.next_key(Quiet([], 70, True)) == 7
    ahead.jump(99)
    assert ahead.next_key(None) == END


def excursion(last, since=5):
    return Excursion(since, last, True)


def test_an_excursion_that_has_begun_keeps_the_newest_reading_beyond_its_limit():
    ahead = LimitsAhead(a_stream())
    high, low = excursion(None), excursion(200)
    unbegun, never = Excursion(), excursion(3)
    limits = [
        Limit("high", high, rising(55, 50, 0), 55), Limit("low", low, falling(50, 60, 0), 50),
        Limit("unbegun", unbegun, rising(1, 0, 0), 1), Limit("never", never, rising(99, 90, 0), 99),
    ]  # fmt: skip
    assert [(lane.name, index) for lane, index in ahead.skip(7, limits)] == [("a", 0), ("b", 0)]
    assert (high.last, low.last, unbegun.last, never.last) == (30, 200, None, 3)
    assert ahead.skip(7, limits) == []
    assert ahead.skip(12, limits) != []
    assert (high.last, low.last) == (110, 200), "what is newer stays, and the other probe is as hot as before"


def test_alarms_that_are_on_are_given_their_newest_numbers():
    said = []
    core = SimpleNamespace(alarms=SimpleNamespace(begins=lambda *what, **more: said.append((what, more))))
    one = SimpleNamespace(alarm="hot", since=1, last=2, probe="a", values="v", stage=1, more="not this")
    LimitsAhead.say_again(core, "p1", [one])
    assert said == [(("p1", "hot"), {"since": 1, "last": 2, "probe": "a", "values": "v", "stage": 1})]
