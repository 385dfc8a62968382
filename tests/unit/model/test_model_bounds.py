"""A limit says once where an excursion begins, goes on and ends: at its edges, and of every number in between."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.model.bounds import HIGHEST, LOWEST, NEVER, Limit, Side, Span, falling, quiet, rising
from monitor.model.excursions import Excursion

HOUR = 3_600_000
UP, DOWN = rising(30, 25, HOUR), falling(30, 35, HOUR)
milli = st.integers(20, 40)


def sides(number):
    return (number,) * len(Side)


@given(milli, milli, st.booleans())
def test_a_number_lies_in_a_span_or_in_the_rest_of_it(edge, number, upper):
    span = Span(Side.HIGH, edge, HIGHEST) if upper else Span(Side.HIGH, LOWEST, edge)
    assert span.covers(number) is not span.rest().covers(number)
    assert span.rest().rest() == span


@pytest.mark.parametrize(("bound", "in_it", "out_of_it"), [(UP, 30, 29), (DOWN, 30, 31)])
def test_a_limit_is_passed_at_its_first_number(bound, in_it, out_of_it):
    assert (bound.beyond.has(sides(in_it)), bound.beyond.has(sides(out_of_it))) == (True, False)
    assert (bound.within.has(sides(in_it)), bound.within.has(sides(out_of_it))) == (False, True)


@pytest.mark.parametrize(("bound", "in_it", "out_of_it"), [(UP, 25, 24), (DOWN, 35, 36)])
def test_its_deadband_holds_to_its_last_number(bound, in_it, out_of_it):
    assert (bound.held.has(sides(in_it)), bound.held.has(sides(out_of_it))) == (True, False)


def test_each_side_is_held_against_its_own_span():
    bound = rising(30, 25, 0, Side.EVERY, Side.LAST_EVERY)
    assert (bound.beyond.side, bound.within.side, bound.held.side) == (Side.EVERY, Side.EVERY, Side.LAST_EVERY)
    assert (UP.beyond.side, UP.held.side) == (Side.HIGH, Side.LAST_HIGH)
    assert (DOWN.beyond.side, DOWN.held.side) == (Side.LOW, Side.LAST_LOW)
    assert (UP.falls, DOWN.falls) == (False, True)


@given(st.sampled_from([UP, DOWN]), st.lists(milli, max_size=6), milli, st.booleans())
def test_readings_are_quiet_as_long_as_the_excursion_stays_as_it_is(bound, before, number, late):
    """The spans say exactly what a step does: of every number, not only of those far from the limit."""
    one, time = Excursion(), 0
    for known in before:
        time += HOUR // 3
        one.step(time, bound.beyond.covers(known), bound.held.covers(known), bound.delay_ms, False)
    time += HOUR // 3
    found = quiet([Limit("hot", one, bound, 30)])
    stays = (
        all(span.has(sides(number)) for span in found.spans) and time < found.until and not (found.waits and not late)
    )
    was = (one.since, one.confirmed, one.due)
    one.step(time, bound.beyond.covers(number), bound.held.covers(number), bound.delay_ms, late)
    assert stays is (was == (one.since, one.confirmed, one.due))


def test_a_delay_that_runs_ends_the_quiet_at_its_end_and_one_of_other_settings_with_the_next_prompt_reading():
    one = Excursion(since=0, last=0, due=HOUR)
    assert (quiet([Limit("hot", one, UP, 30)]).until, quiet([Limit("hot", one, UP, 30)]).waits) == (HOUR, False)
    other = Limit("hot", one, rising(30, 25, 2 * HOUR), 30)
    assert (quiet([other]).until, quiet([other]).waits) == (2 * HOUR, True)
    assert quiet([other], deadlines=False).waits is False
    one.confirmed = True
    assert (quiet([other]).until, quiet([other]).waits) == (NEVER, False)
