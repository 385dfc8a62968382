"""Entries of one turning stand for one turning."""

from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from monitor.model.times import HOUR_MS, MINUTE_MS
from monitor.model.turnings import counted_firsts, fall_begins


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


MIN = MINUTE_MS
AT = 600 * MIN


def readings(*pairs):
    times = [AT + minute * MIN for minute, _ in pairs]
    return times, [round(value * 1000) for _, value in pairs]


def begins(*pairs):
    found = fall_begins(*readings(*pairs), AT)
    return None if found is None else (found - AT) // MIN


def test_the_fall_begins_with_the_last_reading_before_it():
    assert begins((-60, 60), (-50, 60), (-40, 60), (-30, 25), (-20, 18)) == -40
    assert begins((-60, 60), (-50, 59), (-40, 57), (-30, 54)) == -60
    # A reading in between that rises again belongs to it all the same.
    assert begins((-30, 60), (-20, 57), (-15, 57.1), (-10, 54)) == -30


def test_a_fall_of_less_than_five_degrees_or_slower_than_half_an_hour_is_none():
    assert begins((-60, 60), (-50, 55.001)) is None
    assert begins((-60, 60), (-50, 55)) == -60
    assert begins((-60, 60), (-29, 55)) is None
    assert begins((-60, 60), (-30, 55)) == -60
    assert begins() is None


def test_it_belongs_to_the_turning_up_to_two_hours_after_its_beginning():
    assert begins((-120, 60), (-110, 20)) == -120
    assert begins((-121, 60), (-110, 20)) is None
    # What was read last before the entry is the last before it: the fall ends after it.
    assert begins((-5, 60), (5, 20)) == -5
    assert begins((0, 60), (10, 20)) is None


@given(st.lists(st.tuples(st.integers(1, 25), st.integers(40, 64)), max_size=25), st.integers(-20, 160))
def test_falls_are_those_that_a_plain_look_finds(steps, start):
    times, at = [], AT - start * MIN
    for wait, _ in steps:
        at += wait * MIN
        times.append(at)
    milli = [value * 1000 for _, value in steps]
    begun = []
    for late in range(len(times)):
        early = [
            n for n in range(late)
            if milli[n] - milli[late] >= 5000 and times[late] - times[n] <= 30 * MIN and times[n] >= AT - 120 * MIN
        ]  # fmt: skip
        if early:
            n = early[-1]
            while n and milli[n - 1] > milli[n] and times[n - 1] >= max(times[late] - 30 * MIN, AT - 120 * MIN):
                n -= 1
            begun += [times[n]] if times[n] < AT else []
    assert fall_begins(times, milli, AT) == min(begun, default=None)
