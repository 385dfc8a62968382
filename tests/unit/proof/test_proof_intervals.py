"""The algebra of closed intervals against cells: instants and the open gaps between them."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from proof_grid import cells_of

from monitor.proof.intervals import (
    Measure,
    complement,
    contains,
    cut,
    difference,
    intersection,
    longest,
    next_instant,
    next_start,
    normal,
    total,
    union,
)

N = 40
sets = st.lists(st.tuples(st.integers(0, N), st.integers(0, 9)), max_size=6).map(
    lambda pairs: normal((start, min(N, start + length)) for start, length in pairs)
)


def closed(cells):
    """What is left, closed again: the ends of every open gap that is in, and no instant that is only a sliver."""
    out = list(cells)
    for g in range(1, len(cells), 2):
        if cells[g]:
            out[g - 1] = out[g + 1] = True
    return out


@given(sets, sets)
def test_union_and_intersection_are_those_of_the_instants(one, other):
    a, b = cells_of(one, N), cells_of(other, N)
    assert cells_of(union(one, other), N) == [x or y for x, y in zip(a, b, strict=True)]
    assert cells_of(intersection(one, other), N) == [x and y for x, y in zip(a, b, strict=True)]


@given(sets, sets)
def test_difference_keeps_single_instants_and_closes_the_rest(one, other):
    a, b = cells_of(one, N), cells_of(other, N)
    left = [x and not y for x, y in zip(a, b, strict=True)]
    # An instant left between two gaps that were taken, inside a longer interval, is impossible: `other` is closed.
    assert cells_of(difference(one, other), N) == closed(left)


@given(sets)
def test_complement_and_set_fill_the_span(one):
    rest = complement(one, 0, N)
    assert total(rest) + total(one) == N
    assert union(rest, one) == ((0, N),)


@given(sets, st.integers(0, N))
def test_questions_about_an_instant(one, at):
    cells = cells_of(one, N)
    assert contains(one, at) == cells[2 * at]
    assert next_instant(one, at) == next((k for k in range(at, N + 1) if cells[2 * k]), None)
    assert next_start(one, at) == next((start for start, _ in one if start >= at), None)


@given(sets, st.integers(0, N), st.integers(1, N))
def test_measures(one, at, duration):
    cells = cells_of(one, N)
    measure = Measure(one)
    assert measure.until(at) == sum(cells[2 * k + 1] for k in range(at))
    reached = next((k for k in range(at, N + 1) if sum(cells[2 * j + 1] for j in range(at, k)) >= duration), None)
    assert measure.reaches(at, duration) == reached


def test_ends_a_millisecond_apart_stay_apart():
    # Both are crossings rounded inward; between them the batch was not inside.
    assert normal([(0, 100), (101, 200)]) == ((0, 100), (101, 200))
    assert normal([(0, 100), (100, 200)]) == ((0, 200),)


def test_single_instants():
    assert total(((5, 5),)) == 0
    assert difference(((5, 5), (7, 7)), ((7, 9),)) == ((5, 5),)
    assert difference(((0, 10),), ((10, 20),)) == ((0, 10),)
    assert difference(((0, 10),), ((0, 10),)) == ()
    assert complement(((5, 5),), 0, 10) == ((0, 10),)
    assert cut(((0, 10),), 10, 12) == ((10, 10),)


def test_longest_is_the_earliest_of_equals():
    assert longest(((0, 5), (10, 15))) == (0, 5)
    assert longest(()) is None


def test_an_interval_cannot_end_before_it_starts():
    with pytest.raises(ValueError, match="cannot start at 5 and end at 4"):
        normal([(5, 4)])
