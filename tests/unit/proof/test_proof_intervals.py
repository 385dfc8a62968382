"""The algebra of closed intervals against cells: instants and the open gaps between them."""

import itertools

import numpy as np
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
    instants,
    intersection,
    lasting,
    longest,
    members,
    next_instant,
    next_start,
    normal,
    total,
    union,
)

N = 40
pairs = st.lists(st.tuples(st.integers(0, N), st.integers(0, 9)), max_size=6)
many_pairs = st.lists(st.tuples(st.integers(0, N), st.sampled_from([0, 0, 1])), min_size=12, max_size=30)
sets = (pairs | many_pairs).map(lambda found: normal((start, min(N, start + length)) for start, length in found))


def closed(cells):
    """What is left, closed again: the ends of every open gap that is in, and no instant that is only a sliver."""
    out = list(cells)
    for g in range(1, len(cells), 2):
        if cells[g]:
            out[g - 1] = out[g + 1] = True
    return out


def is_a_set(one):
    """Tell whether pairs are in order, none ends before it starts, and no two touch (rule 1)."""
    return all(start <= end for start, end in one) and all(a[1] < b[0] for a, b in itertools.pairwise(one))


@given(pairs | many_pairs)
def test_any_pairs_make_the_set_of_their_instants(found):
    given_ = [(start, min(N, start + length)) for start, length in found]
    made = normal(given_)
    assert is_a_set(made)
    assert cells_of(made, N) == [any(cells) for cells in zip(*(cells_of([one], N) for one in given_), strict=True)] or (
        not given_ and not made
    )


@given(sets, sets, sets)
def test_union_and_intersection_are_those_of_the_instants(one, two, three):
    a, b, c = (cells_of(each, N) for each in (one, two, three))
    assert cells_of(union(one, two), N) == [x or y for x, y in zip(a, b, strict=True)]
    assert cells_of(intersection(one, two), N) == [x and y for x, y in zip(a, b, strict=True)]
    assert cells_of(union(one, two, three), N) == [any(xs) for xs in zip(a, b, c, strict=True)]
    assert cells_of(intersection(one, two, three), N) == [all(xs) for xs in zip(a, b, c, strict=True)]
    assert all(
        is_a_set(each) for each in (union(one, two, three), intersection(one, two), intersection(one, two, three))
    )


@given(sets, sets)
def test_difference_keeps_single_instants_and_closes_the_rest(one, other):
    a, b = cells_of(one, N), cells_of(other, N)
    left = [x and not y for x, y in zip(a, b, strict=True)]
    # An instant left between two gaps that were taken, inside a longer interval, is impossible: `other` is closed.
    assert cells_of(difference(one, other), N) == closed(left)
    assert is_a_set(difference(one, other))


@given(sets, st.integers(0, N), st.integers(0, N))
def test_a_cut_is_what_lies_between_both_ends_included(one, start, end):
    kept = [cell and 2 * start <= place <= 2 * end for place, cell in enumerate(cells_of(one, N))]
    assert cells_of(cut(one, start, end), N) == kept
    assert cut(tuple(one), start, end) == cut(one, start, end)


@given(sets, st.integers(0, 6))
def test_members_are_chosen_by_how_long_they_last(one, least):
    assert lasting(one, least) == tuple(pair for pair in one if pair[1] - pair[0] >= least)
    assert instants(one) == tuple(start for start, end in one if start == end)
    assert longest(one) == max(one, key=lambda pair: pair[1] - pair[0], default=None)


@given(sets)
def test_complement_and_set_fill_the_span(one):
    rest = complement(one, 0, N)
    assert total(rest) + total(one) == N
    assert union(rest, one) == ((0, N),)


@given(sets, st.integers(0, N))
def test_questions_about_an_instant(one, at):
    cells = cells_of(one, N)
    assert contains(one, at) == cells[2 * at]
    assert members(one, np.array([at, at], dtype=np.int64)).tolist() == [cells[2 * at]] * 2
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
