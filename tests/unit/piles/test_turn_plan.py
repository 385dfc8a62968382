"""When the next turning is due: the check value of the contract, its bounds, and what moves it."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.model.progress import RuleProgress
from monitor.model.times import DAY_MS, HOUR_MS
from monitor.model.words import RuleState
from monitor.piles.state import WalkState
from monitor.piles.turn_plan import next_turning, plan_turning

T = 1_784_000_000_000
EVERY = 3 * DAY_MS


def left(turnings, days, apart=0):
    return RuleProgress(
        state=RuleState.RUNNING, since=T, look_again=None, values={}, wants_turnings=turnings > 0,
        turnings_left=turnings, days_left=days, turnings_apart_ms=apart,
    )  # fmt: skip


def test_the_check_value_of_the_contract():
    """Yard-work contract, section 11: 3 days and 2 turnings left, last turned 3 days ago: now, and the fifth within 2 days."""
    now = T + 3 * DAY_MS
    assert next_turning(T, 2, 3, 0, now, EVERY) == now
    assert next_turning(now, 1, 3, 0, now, EVERY) == now + 2 * DAY_MS


@pytest.mark.parametrize(
    ("turnings", "days", "apart", "days_later"),
    [
        (5, 15, 0, 3),
        (4, 12, 0, 3),
        (3, 4, 0, 4 / 3),
        (4, 2, 0, 1),
        (1, 1, 0, 1),
        (1, 0, 0, 1),
        (2, 10, 0, 3),
        (4, 2, 2 * DAY_MS, 2),
        (5, None, 0, 3),
    ],
)
def test_each_bound(turnings, days, apart, days_later):
    assert next_turning(T, turnings, days, apart, T, EVERY) == T + int(days_later * DAY_MS)


@given(st.integers(1, 9), st.integers(0, 40), st.integers(0, 10 * DAY_MS))
def test_it_is_never_sooner_than_a_day_nor_later_than_three(turnings, days, later):
    due = next_turning(T, turnings, days, 0, T + later, EVERY)
    assert T + DAY_MS <= due <= T + EVERY
    if turnings == 1:
        assert due <= max(T + DAY_MS, T + later + (days - 1) * DAY_MS)


def test_days_that_pass_never_put_it_off():
    state = WalkState.fresh(T)
    state.first_hold = T
    plan_turning(state, left(3, 4), T, EVERY)
    first = state.plan.at
    for hours in range(1, 60):
        plan_turning(state, left(3, max(4 - hours // 24, 0)), T + hours * HOUR_MS, EVERY)
        assert state.plan.at <= first


def test_days_that_are_lost_and_a_turning_put_it_off():
    state = WalkState.fresh(T)
    state.first_hold = T
    plan_turning(state, left(3, 4), T, EVERY)
    plan_turning(state, left(3, 9), T + DAY_MS, EVERY)
    assert state.plan.at == T + EVERY
    state.turned_at = T + 2 * DAY_MS
    plan_turning(state, left(2, 8), T + 2 * DAY_MS, EVERY)
    assert state.plan.at == T + 5 * DAY_MS


def test_nothing_is_due_where_no_turning_is_wanted():
    state = WalkState.fresh(T)
    state.first_hold = T
    plan_turning(state, left(3, 4), T, EVERY)
    plan_turning(state, None, T + HOUR_MS, EVERY)
    assert state.plan.at is None
