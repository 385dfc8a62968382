"""A set of instants as columns: it behaves like the tuple of its pairs, and its numbers are Python's own."""

import pickle

import numpy as np
import pytest

from monitor.proof.intervals import (
    FAR_AHEAD_MS,
    LONG_AGO_MS,
    Measure,
    Spans,
    as_spans,
    complement,
    cut,
    difference,
    distinct,
    in_order,
    intersection,
    lasting,
    longest,
    normal,
    total,
    union,
)

PLAIN = tuple((10 * n, 10 * n + n % 7) for n in range(40))


def column(*instants):
    return np.array(instants, dtype=np.int64)


def test_it_behaves_like_its_tuple():
    long = as_spans(PLAIN)
    assert (len(long), long[0], long[-1], long[3]) == (len(PLAIN), PLAIN[0], PLAIN[-1], PLAIN[3])
    assert tuple(long) == PLAIN
    assert long == PLAIN
    assert long != PLAIN[:-1]
    assert long != list(PLAIN)
    assert hash(long) == hash(PLAIN)
    assert isinstance(long[:5], Spans)
    assert long[:5] == PLAIN[:5]
    assert all(type(end) is int for end in long[7])
    with pytest.raises(ValueError, match="in its own order only"):
        long[::2]
    assert pickle.loads(pickle.dumps(long)) == long


def test_it_shows_its_pairs_where_they_are_few():
    assert repr(as_spans(((1, 2), (4, 4)))) == "Spans((1, 2), (4, 4))"
    assert repr(as_spans(PLAIN)) == "Spans of 40 pairs"


def test_whatever_goes_in_columns_come_out():
    for found in (
        normal(PLAIN),
        union(PLAIN, ()),
        intersection(PLAIN, ((3, 200),)),
        intersection(((0, 5),), ((3, 9),)),
        difference(PLAIN, ((5, 9),)),
        complement(PLAIN, 0, 99),
        cut(PLAIN, 5, 35),
        lasting(PLAIN, 3),
        normal([]),
    ):
        assert isinstance(found, Spans)


def test_numbers_are_pythons_own():
    long = as_spans(((0, 5), (10, 30)))
    measure = Measure(long)
    found = [total(long), measure.until(12), measure.reaches(0, 9), *longest(long)]
    assert found == [25, 7, 14, 10, 30]
    assert {type(one) for one in found} == {int}


def test_no_set_that_was_given_is_written_to():
    long = as_spans(PLAIN)
    assert cut(long, 12, 43) == ((20, 22), (30, 33), (40, 43))
    assert cut(long, 41, 42) == ((41, 42),)
    assert long == PLAIN


def test_far_instants_do_not_overflow():
    far = as_spans([(LONG_AGO_MS, -7), (9, FAR_AHEAD_MS)])
    assert total(far) == FAR_AHEAD_MS - LONG_AGO_MS - 16
    assert complement(far, -20, 20) == ((-7, 9),)


def test_columns_are_merged_and_made_distinct():
    assert in_order(column(1, 5), column(2, 5, 9)).tolist() == [1, 2, 5, 5, 9]
    assert distinct(column(5, 1, 5, 2)).tolist() == [1, 2, 5]
    assert distinct(column(3)).tolist() == [3]
    assert distinct(column()).tolist() == []
