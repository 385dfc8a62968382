"""The air's highest of the last day, and heaps that begin with their first reading whenever that comes."""

from engine_yard import DAY, HOUR, MIN, T0, Drive, core, yard
from hypothesis import given
from hypothesis import strategies as st

from monitor.engine.context.air_highs import highest, note_high, note_highs

readings = st.lists(st.tuples(st.integers(0, 60 * 60), st.integers(0, 30)), max_size=60)


@given(readings, st.integers(0, 60 * 60))
def test_the_airs_highest_is_of_the_hours_of_the_day_before_in_whatever_order_they_came(found, minute):
    highs, newest = [], 0
    for at, milli in found:
        note_high(highs, T0 + at * MIN, milli)
        newest = max(newest, at // 60)
    at = max(newest * 60, minute)
    mine = [milli for when, milli in found if (at - 24 * 60) // 60 <= when // 60 <= at // 60]
    assert highest(highs, T0 + at * MIN) == max(mine, default=None)
    assert [hour for hour, _ in highs] == sorted({hour for hour, _ in highs})
    assert len(highs) <= 27


@given(readings)
def test_the_highest_of_many_hours_may_be_noted_at_once(found):
    one, many = [], []
    for at, milli in sorted(found):
        note_high(one, T0 + at * MIN, milli)
    hours = {}
    for at, milli in found:
        hour = (T0 + at * MIN) // HOUR
        hours[hour] = max(milli, hours.get(hour, milli))
    note_highs(many, sorted(hours.items()))
    assert one == many


def test_what_is_to_come_is_no_highest_yet():
    highs = []
    note_high(highs, T0 + 2 * HOUR, 20)
    assert highest(highs, T0 + HOUR) is None
    assert highest(highs, T0 + 26 * HOUR + 59 * MIN) == 20
    assert highest(highs, T0 + 27 * HOUR) is None


def by_reading():
    return Drive(yard(bins={}, probes={"p1-a": core("p1"), "p2-a": core("p2")}))


def test_a_heap_that_began_with_a_reading_began_with_the_earliest_whichever_came_first():
    drive = by_reading()
    drive.read(T0 + HOUR, p2_a=40)
    assert drive.run("p2").built == T0 + HOUR
    drive.read(T0 + 30 * MIN, received=T0 + HOUR + MIN, p2_a=39)
    assert drive.run("p2").built == T0 + 30 * MIN
    assert drive.engine.state.batches.batches[drive.run("p2").batch].spans[0].start == T0 + 30 * MIN


def test_one_that_was_built_began_then_and_another_places_reading_moves_no_beginning():
    drive = by_reading()
    drive.read(T0 + HOUR, p2_a=40)
    drive.read(T0 + 2 * HOUR, p1_a=50)
    drive.read(T0 + 30 * MIN, received=T0 + 2 * HOUR + MIN, p1_a=49)
    assert (drive.run("p2").built, drive.run("p1").built) == (T0 + HOUR, T0)
    drive.work(T0 + 40 * MIN, "p2", "built", entered=T0 + 3 * HOUR)
    drive.advance(T0 + DAY)
    assert drive.run("p2").built == T0 + 40 * MIN


def test_a_heap_that_was_logged_as_built_begins_then_whatever_was_measured_before_and_came_late():
    drive = Drive(yard(bins={}, probes={"p2-a": core("p2")}))
    drive.work(T0 + 6 * HOUR, "p2", "built")
    drive.hold(T0 + 6 * HOUR + MIN, T0 + 8 * HOUR, p2_a=40)
    drive.read(T0 + 5 * HOUR, received=T0 + 8 * HOUR + MIN, p2_a=50)
    drive.read(T0 + 7 * HOUR + 5 * MIN, received=T0 + 8 * HOUR + 2 * MIN, p2_a=41)
    assert drive.run("p2").built == T0 + 6 * HOUR
