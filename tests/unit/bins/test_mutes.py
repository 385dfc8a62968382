"""Work mutes a bin's moisture alarms at most 12 h in any 24, however often it is done."""

from hypothesis import given
from hypothesis import strategies as st

from monitor.bins import mute_until
from monitor.model.times import DAY_MS, HOUR_MS

T = 1_800_000_000_000


def test_the_first_mute_is_as_long_as_it_is_wanted():
    mutes = []
    assert mute_until(mutes, T, T + 12 * HOUR_MS) == T + 12 * HOUR_MS
    assert mutes == [(T, T + 12 * HOUR_MS)]


def test_work_while_it_is_muted_makes_it_no_longer_than_twelve_hours():
    mutes = []
    mute_until(mutes, T, T + 12 * HOUR_MS)
    assert mute_until(mutes, T + 10 * HOUR_MS, T + 22 * HOUR_MS) == T + 12 * HOUR_MS
    assert mute_until(mutes, T + 12 * HOUR_MS, T + 24 * HOUR_MS) == T + 12 * HOUR_MS
    assert mute_until(mutes, T + DAY_MS, T + DAY_MS + 12 * HOUR_MS) == T + DAY_MS + 12 * HOUR_MS


def test_a_stretch_is_remembered_as_long_as_it_counts():
    mutes = []
    for day in range(30):
        mute_until(mutes, T + day * DAY_MS, T + day * DAY_MS + HOUR_MS)
        assert len(mutes) <= 2, "a bin that is fed each day for years remembers no year of it"
    assert mute_until(mutes, T + 30 * DAY_MS, T + 32 * DAY_MS) == T + 30 * DAY_MS + 12 * HOUR_MS


@given(st.lists(st.tuples(st.integers(0, 10 * HOUR_MS), st.integers(0, 14 * HOUR_MS)), max_size=30))
def test_no_day_is_muted_for_more_than_twelve_hours(steps):
    mutes, all_of, now = [], [], T
    for wait, wanted in steps:
        now += wait
        until = mute_until(mutes, now, now + wanted)
        assert now <= until <= max([now + wanted, *(end for _, end in all_of)])
        all_of.append((now, until))
    edges = sorted({edge for span in all_of for edge in span})
    for end in edges:
        spans, muted = sorted((max(a, end - DAY_MS), min(b, end)) for a, b in all_of), 0
        reach = end - DAY_MS
        for a, b in spans:
            if b > max(a, reach):
                muted += b - max(a, reach)
                reach = b
        assert muted <= 12 * HOUR_MS
