"""Readings held against limits as columns: the same first change, and the same memory, as stepping through them."""

from types import SimpleNamespace

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from monitor.bins import Bed, BinState
from monitor.bins.axis import sides_of
from monitor.bins.state import Newest
from monitor.engine.stretch.curves import END, Curve, stream_of
from monitor.engine.stretch.limits_ahead import LimitsAhead
from monitor.model.bounds import HIGHEST, LOWEST, Side
from monitor.model.thresholds import BinThresholds
from monitor.model.times import DAY_MS, MINUTE_MS
from monitor.model.units import Quantity

NOW = 1_800_000_000_000
LIMITS = BinThresholds()
HEATS = sorted({
    limit + by
    for limit in (
        LIMITS.cold_milli_c, LIMITS.cool_milli_c, LIMITS.warm_milli_c, LIMITS.overheating_milli_c,
        LIMITS.danger_all_milli_c, LIMITS.danger_any_milli_c, LIMITS.near_freezing_milli_c, LIMITS.freezing_milli_c,
    )
    for by in (-LIMITS.deadband_milli_k - 1, -1, 0, 1, LIMITS.deadband_milli_k + 1)
})  # fmt: skip
values = st.one_of(st.sampled_from(HEATS), st.integers(19_000, 21_000))
rows = st.lists(st.tuples(st.sampled_from("abc"), values, st.integers(1, 30), st.booleans()), min_size=1, max_size=40)


def lanes_of(found):
    """Columns as a run has them; `found` are (key, name, time, milli, late)."""
    lanes = []
    for name in sorted({one[1] for one in found}):
        key, _, time, milli, late = zip(*[one for one in found if one[1] == name], strict=True)
        columns = [np.array(one, np.int64) for one in (key, time, milli)]
        lanes.append(
            SimpleNamespace(name=name, key=columns[0], time=columns[1], milli=columns[2], late=np.array(late, np.bool_))
        )
    return lanes


def steps(drawn):
    time, found = NOW, []
    for number, (name, milli, minutes, late) in enumerate(drawn):
        time += minutes * MINUTE_MS
        found.append((2 * number + 1, name, time, milli, late))
    return found


@given(values, rows, st.sets(st.sampled_from("de")), rows)
def test_columns_skip_and_stop_where_stepping_does(first, before, silent, drawn):
    heat = Quantity.TEMPERATURE
    bed, other = (Bed(BinState(), LIMITS) for _ in range(2))
    for one in (bed, other):
        for number, name in enumerate("abcde"):
            one.reading(name, heat, NOW - DAY_MS + number, first, late=False)
        for _, name, time, milli, late in steps(before):
            one.reading(name, heat, time - MINUTE_MS * sum(one[2] for one in before), milli, late)
        for name in sorted(silent):
            one.silent(name, NOW)
    found = steps(drawn)
    axis, stepped = bed.axes[heat], other.axes[heat]
    last = [one.milli for one in axis.newest.values() if one.silent]
    ahead = LimitsAhead(stream_of(lanes_of(found), axis.speaking(), {}), last)
    for key, name, time, milli, late in found:
        quiet = stepped.quiet()
        due = ahead.next_key(axis.quiet())
        assert due >= key, "what is stepped over was quiet"
        other.reading(name, heat, time, milli, late)
        stays = (
            quiet is not None
            and all(span.has(stepped.sides()) for span in quiet.spans)
            and time < quiet.until
            and not (quiet.waits and not late)
        )
        assert (due == key) is not stays
        if due == key:
            skip(ahead, axis, key)
            bed.reading(name, heat, time, milli, late)
            ahead.jump(key + 1)
            assert bed.state == other.state
    skip(ahead, axis, END)
    assert bed.state == other.state


def skip(ahead, axis, key):
    for lane, index in ahead.skip(key, axis.limits):
        axis.newest[lane.name] = Newest(int(lane.time[index]), int(lane.milli[index]))


@given(st.lists(st.integers(0, 9), max_size=20), st.integers(0, 21), st.integers(0, 9), st.integers(0, 9))
def test_a_curve_finds_the_first_number_outside_a_span(numbers, start, least, most):
    curve = Curve(np.array(numbers, np.int64))
    for low, high in ((least, most), (LOWEST, most), (least, HIGHEST), (LOWEST, HIGHEST)):
        outside = (n for n in range(start, len(numbers)) if not low <= numbers[n] <= high)
        assert curve.outside(start, low, high) == next(outside, END)


def test_sides_are_of_those_that_speak_and_of_what_each_said_last():
    known = {"a": Newest(1, 20), "b": Newest(1, 30), "c": Newest(1, 40, silent=True), "hand:x": Newest(1, 10)}
    assert sides_of(known) == (30, 10, 40, 10, 20, 20)
    known["hand:x"].silent = known["a"].silent = known["b"].silent = True
    assert sides_of(known) == (LOWEST, HIGHEST, 40, 10, LOWEST, 20)
    known["hand:x"] = Newest(2, 25)
    assert sides_of(known)[Side.EVERY] == 25, "where no probe speaks, what was read by hand decides"
    assert sides_of(known)[Side.LAST_EVERY] == 25, "neither ends what the other holds open"
    assert sides_of({}) == (LOWEST, HIGHEST, LOWEST, HIGHEST, LOWEST, LOWEST)
