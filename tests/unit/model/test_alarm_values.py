"""The values of an alarm come back from the record as they went in, in the order of keys that exports show."""

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.model.alarm_values import AlarmValues, ClockOff, Fault

MILLI = st.integers(-60_000, 120_000)
INSTANT = st.integers(0, 4_000_000_000_000)
WORD = st.text(min_size=1, max_size=6)
NUMBERS = {"value_milli": MILLI, "limit_milli": MILLI}
ENDINGS = st.sampled_from([{}, {"moved_to": "p2"}, {"left": "p1-a"}, {"taken_back": True}])


def values(**known):
    return st.builds(lambda one, ending: AlarmValues(**one, **ending), st.fixed_dictionaries(known), ENDINGS)


KINDS = {
    "a bed": values(**NUMBERS, by=WORD, coolest_milli=MILLI, hottest_milli=MILLI, comfortable_milli=MILLI),
    "a warm spot": values(**NUMBERS, comfortable_milli=MILLI),
    "a cold corner": values(**NUMBERS, hottest_of_heap_milli=MILLI),
    "danger that came along": values(**NUMBERS, moved_from=WORD),
    "a turning": values(
        **NUMBERS, variant=WORD, rule=WORD, progress=st.just({"days": 3, "days_needed": 15, "run_h": 0.5})
    ),
    "rounds": values(read=INSTANT, breaks=INSTANT, variant=WORD),
    "a link": values(fault=st.builds(Fault, what=WORD, name=st.text(max_size=3), why=st.text(max_size=3))),
    "a fault": values(fault=st.builds(Fault, why=st.text(max_size=3))),
    "a clock": values(clock=st.builds(ClockOff, by_ms=st.integers(), limit_ms=st.integers()), variant=WORD),
    "nothing known": values(),
}
KEYS = {
    "a bed": ["value", "limit", "by", "coolest", "hottest", "other"],
    "a warm spot": ["value", "limit", "other"],
    "a cold corner": ["other", "value", "limit"],
    "danger that came along": ["value", "limit", "moved_from"],
    "a turning": ["variant", "value", "limit", "rule", "days", "days_needed", "run_h"],
    "rounds": ["read", "breaks", "variant"],
    "a link": ["what", "name", "why"],
    "a clock": ["by_ms", "limit_ms", "variant"],
    "nothing known": [],
}


@pytest.mark.parametrize("kind", KINDS)
@given(st.data())
def test_they_come_back_from_the_record_as_they_went_in(kind, data):
    found = data.draw(KINDS[kind])
    plain = json.loads(json.dumps(found.plain()))
    assert AlarmValues.of(plain) == found
    assert [*AlarmValues.of(plain).plain().items()] == [*plain.items()]


@pytest.mark.parametrize("kind", KEYS)
@given(st.data())
def test_exports_show_their_keys_in_the_order_of_old_and_how_it_ended_last(kind, data):
    keys = [*data.draw(KINDS[kind]).plain()]
    assert keys[: len(KEYS[kind])] == KEYS[kind]
    assert set(keys[len(KEYS[kind]) :]) <= {"moved_to", "left", "taken_back"}


def test_they_are_written_in_degrees_and_as_times():
    assert AlarmValues(value_milli=55_000, limit_milli=54_444, read=0).plain() == {
        "read": "1970-01-01T00:00:00.000Z", "value": 55, "limit": 54.444,
    }  # fmt: skip
    assert AlarmValues(value_milli=0, clock=ClockOff(by_ms=0)).plain() == {"by_ms": 0, "value": 0}
    assert AlarmValues(fault=Fault(why="full")).plain() == {"why": "full"}


@given(
    st.one_of(
        st.none(),
        st.text(),
        st.dictionaries(
            st.sampled_from([key for keys in KEYS.values() for key in keys]),
            st.one_of(st.none(), st.text(), st.lists(st.none())),
        ),
    )
)
def test_a_garbled_record_is_read_without_what_is_garbled(garbled):
    found = AlarmValues.of(garbled)
    assert (found.value_milli, found.limit_milli, found.clock, found.taken_back) == (None, None, ClockOff(), False)
    assert AlarmValues.of({"value": "hot", "left": 7, "read": "noon", "limit": 30}) == AlarmValues(limit_milli=30_000)


def test_an_alarm_is_lost_with_its_probe_its_heap_or_its_reading():
    assert AlarmValues(left="p1-a").lost
    assert AlarmValues(moved_to="p2").lost
    assert AlarmValues(taken_back=True).lost
    assert not AlarmValues(value_milli=80_000, moved_from="p2").lost


def test_a_second_number_is_the_hottest_of_a_heap_or_the_comfortable_of_a_bin():
    assert AlarmValues(hottest_of_heap_milli=60_000).other_milli == 60_000
    assert AlarmValues(comfortable_milli=0).other_milli == 0
    assert AlarmValues(hottest_of_heap_milli=0).other_milli == 0
    assert AlarmValues().other_milli is None
