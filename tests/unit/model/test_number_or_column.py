"""What takes a number takes a column of them, and says of each the same: live and replay share these lines."""

from fractions import Fraction

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from monitor.model.number_or_column import higher, lower
from monitor.model.units import divide_half_even

wholes = st.integers(-(1 << 50), 1 << 50)
columns = st.lists(wholes, min_size=1, max_size=20)


def column(values):
    return np.array(values, dtype=np.int64)


@given(columns, st.integers(1, 1 << 20))
def test_a_column_is_divided_as_each_of_its_numbers(values, denominator):
    each = [divide_half_even(value, denominator) for value in values]
    assert each == [round(Fraction(value, denominator)) for value in values]
    assert divide_half_even(column(values), denominator).tolist() == each


@given(st.lists(st.tuples(wholes, st.integers(1, 9)), min_size=1, max_size=20))
def test_a_column_is_divided_by_a_column(pairs):
    numerators, denominators = zip(*pairs, strict=True)
    found = divide_half_even(column(numerators), column(denominators))
    assert found.tolist() == [round(Fraction(*pair)) for pair in pairs]


@given(columns, wholes)
def test_no_value_passes_its_end(values, end):
    assert [higher(value, end) for value in values] == [max(value, end) for value in values]
    assert higher(column(values), end).tolist() == [max(value, end) for value in values]
    assert [lower(value, end) for value in values] == [min(value, end) for value in values]
    assert lower(column(values), end).tolist() == [min(value, end) for value in values]
