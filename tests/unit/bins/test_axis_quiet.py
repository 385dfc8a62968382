"""What an axis of a bed calls quiet is exactly what changes nothing: the columns of a replay skip it."""

from copy import deepcopy
from dataclasses import fields

from hypothesis import given
from hypothesis import strategies as st
from test_bed_unmoved import EDGES, LIMITS, NOW

from monitor.bins import Bed, BinState
from monitor.model.excursions import Excursion
from monitor.model.times import MINUTE_MS
from monitor.model.units import Quantity

SERIES = st.sampled_from(["a", "b", "hand:b1"])
HEATS = st.one_of(st.sampled_from(EDGES), st.integers(0, 40_000))
DAMPS = st.sampled_from([57_999, 58_000, 59_999, 60_000, 62_000, 62_001, 70_000, 82_999, 83_000, 85_000, 85_001])
READ = st.one_of(
    st.tuples(st.just(Quantity.TEMPERATURE), SERIES, HEATS, st.booleans()),
    st.tuples(st.just(Quantity.MOISTURE), st.sampled_from(["m", "n"]), DAMPS, st.booleans()),
)
SILENT = st.tuples(st.just("silent"), st.sampled_from(["a", "b", "hand:b1", "m", "n"]))
OTHER = st.tuples(st.just("limits"), st.sampled_from(LIMITS))
STEPS = st.lists(st.one_of(READ, READ, READ, READ, SILENT, OTHER), min_size=1, max_size=30)


def stands(state):
    """What a reading may change besides the newest values and when something was last beyond its limit."""
    every = [getattr(state, field.name) for field in fields(state)]
    excursions = [(one.since, one.confirmed, one.due) for one in every if isinstance(one, Excursion)]
    assert len(excursions) >= 7
    return state.thermal, state.moisture, excursions


@given(STEPS)
def test_a_reading_is_quiet_if_and_only_if_it_changes_nothing(steps):
    bed, now = Bed(BinState(), LIMITS[0]), NOW
    for what, *rest in steps:
        now += 7 * MINUTE_MS
        bed.serve(now)
        if what == "limits":
            bed = Bed(bed.state, rest[0])
        elif what == "silent":
            bed.silent(rest[0], now)
        else:
            _read(bed, what, now, *rest)


def _read(bed, quantity, now, series, milli, late):
    axis = bed.axes[quantity]
    quiet, before = axis.quiet(), stands(deepcopy(bed.state))
    begun = [one for one in axis.limits if one.excursion.confirmed]
    changes = bed.reading(series, quantity, now, milli, late)
    sides = axis.sides()
    stays = (
        quiet is not None
        and all(span.has(sides) for span in quiet.spans)
        and now < quiet.until
        and not (quiet.waits and not late)
    )
    assert stays is (stands(bed.state) == before)
    if stays:
        assert changes == bed.standing(quantity)
        assert [one for one in axis.limits if one.excursion.confirmed] == begun


@given(STEPS)
def test_where_nobody_asks_how_the_bin_is_only_the_excursions_count(steps):
    bed, now = Bed(BinState(), LIMITS[0]), NOW
    for what, *rest in steps:
        now += 7 * MINUTE_MS
        if what in (Quantity.TEMPERATURE, Quantity.MOISTURE):
            bed.reading(rest[0], what, now, rest[1], rest[2])
    for axis in bed.axes.values():
        whole, rings = axis.quiet(), axis.quiet(words=False)
        if axis.word is None:
            assert rings is None
        else:
            assert len(rings.spans) == len(axis.limits)
            assert whole is None or whole.spans[-len(axis.limits) :] == rings.spans
