"""Probes out for a turning: when they are back by themselves, and what is accepted."""

import random

import pytest
from hypothesis import given
from hypothesis import strategies as st
from piles_script import LIMITS, T0, H
from pydantic import TypeAdapter

from monitor.model.times import MINUTE_MS
from monitor.piles import OutingState, come_in, go_out, reminder_at, weigh

M = MINUTE_MS
STATE = TypeAdapter(OutingState)


def run(state, readings, ambient=None):
    """(minute, degrees) -> [(minute, accepted)], minute at which it was back."""
    accepted, back = [], None
    for minute, value in readings:
        verdict = weigh(state, T0 + minute * M, round(value * 1000), ambient, LIMITS)
        accepted.append((minute, verdict.accepted))
        if verdict.returned_at is not None:
            assert back is None
            back = (verdict.returned_at - T0) // M
    return accepted, back


def out(at=0):
    state = OutingState()
    go_out(state, T0 + at * M)
    return state


def test_a_probe_never_out_is_accepted():
    assert run(OutingState(), [(0, 50), (10, 20)]) == ([(0, True), (10, True)], None)


def test_back_at_the_start_of_30_minutes_and_accepted_after_60():
    readings = [(0, 60), (10, 22), (20, 17.9), (30, 25), (40, 30), (50, 35), (60, 40), (89, 41), (90, 41)]
    accepted, back = run(out(), readings, ambient=18_000)
    assert back == 30
    assert [minute for minute, ok in accepted if ok] == [90]


@pytest.mark.parametrize(("value", "ambient", "back"), [(23, 18_000, 30), (22.999, 18_000, None), (23, 18_001, None)])
def test_five_degrees_above_ambient(value, ambient, back):
    assert run(out(), [(10, 20), (30, value), (60, value)], ambient)[1] == back


@pytest.mark.parametrize(("minute", "back"), [(60, 30), (59, None)])
def test_thirty_minutes(minute, back):
    assert run(out(), [(10, 20), (30, 40), (minute, 40)], 18_000)[1] == back


def test_without_ambient_it_is_above_its_own_lowest():
    assert run(out(), [(0, 60), (10, 50), (20, 30), (30, 34.999), (40, 35), (60, 36), (70, 36)])[1] == 40
    assert run(out(), [(0, 60), (10, 60), (60, 60)])[1] is None


def test_a_dip_begins_the_30_minutes_anew():
    assert run(out(), [(10, 20), (30, 40), (50, 22), (55, 40), (84, 40), (85, 40)], 18_000)[1] == 55


def test_a_long_silence_begins_them_anew():
    assert run(out(), [(10, 20), (30, 40), (150, 40)], 18_000)[1] == 30
    assert run(out(), [(10, 20), (30, 40), (151, 40), (181, 40)], 18_000)[1] == 151


def test_probe_in_is_followed_by_60_minutes():
    state = out()
    come_in(state, T0 + 20 * M, LIMITS)
    assert run(state, [(25, 50), (79, 50), (80, 50)])[0] == [(25, False), (79, False), (80, True)]
    assert state.returned == T0 + 20 * M


def test_a_second_turning_begins_anew():
    state = out()
    run(state, [(10, 20), (20, 40), (50, 40)], 18_000)
    assert state.returned == T0 + 20 * M
    go_out(state, T0 + 60 * M)
    assert run(state, [(90, 20), (100, 40), (130, 40), (160, 40)], 18_000) == (
        [(90, False), (100, False), (130, False), (160, True)],
        100,
    )


def test_twelve_hours_out_are_reminded_of_and_each_time_twice_as_long():
    state = out()
    assert reminder_at(state, LIMITS) == T0 + 12 * H
    state.reminded = 1
    assert reminder_at(state, LIMITS) == T0 + 24 * H
    state.reminded = 3
    assert reminder_at(state, LIMITS) == T0 + 96 * H
    go_out(state, T0 + H)
    assert reminder_at(state, LIMITS) == T0 + 13 * H
    come_in(state, T0 + 2 * H, LIMITS)
    assert reminder_at(state, LIMITS) is None


@given(st.integers(0, 1 << 30))
def test_acceptance_is_what_a_look_back_over_all_readings_gives(seed):
    rng = random.Random(seed)
    minute, readings = 0, []
    for _ in range(rng.randint(1, 40)):
        minute += rng.choice([1, 5, 10, 10, 20, 29, 30, 31, 121])
        readings.append((minute, rng.choice([15, 22, 23, 40])))
    state = out()
    accepted = []
    for now, value in readings:
        state = STATE.validate_json(STATE.dump_json(state))
        accepted.append(weigh(state, T0 + now * M, value * 1000, 18_000, LIMITS).accepted)
    back = None
    for index, (start, _) in enumerate(readings):
        stretch = readings[index:]
        for step, (now, value) in enumerate(stretch):
            if value < 23 or (step and now - stretch[step - 1][0] > 120):
                break
            if now - start >= 30:
                back = start
                break
        if back is not None:
            break
    assert accepted == [back is not None and now >= back + 60 for now, _ in readings]
