"""Entries of one turning stand for one turning."""

from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from monitor.model.times import HOUR_MS, MINUTE_MS
from monitor.model.turnings import counted_firsts


def test_five_entries_in_five_minutes_are_one_turning_at_the_first():
    assert counted_firsts([n * MINUTE_MS for n in (3, 1, 4, 0, 2)]) == (0,)


def test_exactly_six_hours_later_a_new_one_begins_and_the_group_goes_by_its_first():
    hours = [0, 5, 6, 11, 12]
    assert counted_firsts(hour * HOUR_MS for hour in hours) == (0, 6 * HOUR_MS, 12 * HOUR_MS)
    assert counted_firsts([0, 6 * HOUR_MS - 1]) == (0,)
    assert counted_firsts([]) == ()


@given(st.lists(st.integers(0, 60)), st.integers(0, 60))
def test_what_is_logged_later_never_changes_what_was_one_turning_before(entries, cut):
    whole = counted_firsts(entries, 7)
    assert counted_firsts([at for at in entries if at <= cut], 7) == tuple(at for at in whole if at <= cut)
    assert all(later - earlier >= 7 for earlier, later in pairwise(whole))
    assert all(any(first <= at < first + 7 for first in whole) for at in entries)
