"""Long sets of instants as arrays: the same answers as the tuples give, on everything."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.proof.intervals import interval_arrays as arrays
from monitor.proof.intervals import interval_sets as intervals
from monitor.proof.intervals.interval_columns import LONG, Spans

pairs = st.lists(st.tuples(st.integers(0, 60), st.sampled_from([0, 0, 1, 2, 5, 11])), max_size=9).map(
    lambda found: [(start, start + length) for start, length in found]
)
sets = pairs.map(intervals.normal)
instants = st.integers(-3, 75)


def spans(pairs):
    columns = np.array(list(pairs), dtype=np.int64).reshape(-1, 2)
    return Spans(columns[:, 0], columns[:, 1])


@given(pairs)
def test_any_pairs_make_the_same_set(found):
    mine = spans(found)
    assert tuple(arrays.normal(mine.starts, mine.ends)) == intervals.normal(found)


@given(sets, sets, sets)
def test_union_and_intersection(one, two, three):
    long = [spans(each) for each in (one, two, three)]
    assert tuple(arrays.union(*long)) == intervals.union(one, two, three)
    both = intervals.intersection(one, two)
    assert tuple(arrays.intersection(*long[:2])) == both
    assert tuple(arrays.intersection(*long)) == intervals.intersection(both, three)


@given(sets, sets, instants, instants)
def test_difference_cut_and_complement(one, two, start, end):
    assert tuple(arrays.difference(spans(one), spans(two))) == intervals.difference(one, two)
    assert tuple(arrays.cut(spans(one), start, end)) == intervals.cut(one, start, end)
    if start <= end:
        assert tuple(intervals.complement(spans(one), start, end)) == intervals.complement(one, start, end)


@given(sets, st.lists(instants, max_size=5), st.integers(0, 6))
def test_questions_about_a_set(one, asked, least):
    long = spans(one)
    assert intervals.total(long) == intervals.total(one)
    assert intervals.longest(long) == intervals.longest(one)
    assert intervals.lasting(long, least) == intervals.lasting(one, least)
    assert intervals.instants(long) == intervals.instants(one)
    measure, plain = intervals.Measure(long), intervals.Measure(one)
    held = arrays.holds(long, np.array(asked, dtype=np.int64))
    for at, inside in zip(asked, held.tolist(), strict=True):
        assert inside == intervals.contains(long, at) == intervals.contains(one, at)
        assert intervals.next_start(long, at) == intervals.next_start(one, at)
        assert intervals.next_instant(long, at) == intervals.next_instant(one, at)
        assert measure.until(at) == plain.until(at)
        assert measure.reaches(at, least + 1) == plain.reaches(at, least + 1)


def test_a_long_set_behaves_like_its_tuple():
    plain = tuple((10 * n, 10 * n + n % 7) for n in range(LONG + 1))
    long = intervals.union(spans(plain), ())
    assert isinstance(long, Spans)
    assert (len(long), long[0], long[-1], long[3]) == (len(plain), plain[0], plain[-1], plain[3])
    assert tuple(long) == plain
    assert long == plain
    assert long != plain[:-1]
    assert hash(long) == hash(plain)
    assert isinstance(long[:5], Spans)
    assert tuple(long[:5]) == plain[:5]
    assert all(type(end) is int for end in long[7])
    with pytest.raises(ValueError, match="in its own order only"):
        long[::2]


def test_what_has_become_short_is_a_tuple_again():
    plain = tuple((10 * n, 10 * n + 1) for n in range(LONG + 1))
    left = intervals.cut(spans(plain), 5, 35)
    assert left == ((10, 11), (20, 21), (30, 31))
    assert type(left) is tuple
    assert type(intervals.union(spans(plain[:2]), plain[4:5])) is tuple
    assert type(intervals.difference(plain[:3], spans(plain))) is tuple


def test_numbers_from_long_sets_are_pythons_own():
    long = spans([(0, 5), (10, 30)])
    measure = intervals.Measure(long)
    found = [intervals.total(long), measure.until(12), measure.reaches(0, 9), *intervals.longest(long)]
    assert found == [25, 7, 14, 10, 30]
    assert {type(one) for one in found} == {int}


def test_far_instants_do_not_overflow():
    far = spans([(intervals.LONG_AGO_MS, -7), (9, intervals.FAR_AHEAD_MS)])
    assert intervals.total(far) == intervals.FAR_AHEAD_MS - intervals.LONG_AGO_MS - 16
    assert tuple(intervals.complement(far, -20, 20)) == ((-7, 9),)
