"""A reading that a bed takes for one that changes nothing is one: taken in full it would say nothing and change no more."""

from copy import deepcopy

from hypothesis import given
from hypothesis import strategies as st

from monitor.bins import Bed, BinState
from monitor.model.thresholds import BinThresholds
from monitor.model.times import MINUTE_MS
from monitor.model.units import Quantity

NOW = 1_800_000_000_000
LIMITS = (
    BinThresholds(),
    BinThresholds(cool_milli_c=19_000, cold_milli_c=14_000, warm_milli_c=22_000, overheating_milli_c=24_000),
    BinThresholds(
        deadband_milli_k=3_000, danger_all_milli_c=27_000, danger_any_milli_c=28_000, near_freezing_milli_c=9_000
    ),
)
EDGES = sorted({
    limit + by
    for limits in LIMITS
    for limit in (
        limits.cold_milli_c, limits.cool_milli_c, limits.warm_milli_c, limits.overheating_milli_c,
        limits.danger_all_milli_c, limits.freezing_milli_c, limits.near_freezing_milli_c,
    )
    for by in (-1, 0, 1, limits.deadband_milli_k, -limits.deadband_milli_k)
})  # fmt: skip
PROBE = st.sampled_from(["a", "b", "hand:b1"])
READ = st.tuples(st.just("read"), PROBE, st.one_of(st.sampled_from(EDGES), st.integers(0, 40_000)), st.booleans())
DAMP = st.tuples(st.just("damp"), PROBE, st.sampled_from([50_000, 60_000, 70_000, 80_000, 90_000]), st.booleans())
SILENT = st.tuples(st.just("silent"), PROBE)
OTHER = st.tuples(st.just("limits"), st.sampled_from(LIMITS))
STEPS = st.lists(st.one_of(READ, READ, READ, DAMP, SILENT, OTHER), max_size=40)


@given(STEPS)
def test_what_is_taken_for_unmoved_changes_nothing(steps):
    bed, now = Bed(BinState(), LIMITS[0]), NOW
    for what, *rest in steps:
        now += 7 * MINUTE_MS
        if what == "limits":
            bed = Bed(bed.state, rest[0])
        elif what == "silent":
            bed.silent(rest[0], now)
        else:
            probe, milli, late = rest
            quantity = Quantity.TEMPERATURE if what == "read" else Quantity.MOISTURE
            whole = Bed(deepcopy(bed.state), bed.limits)
            said = whole.reading(probe, quantity, now, milli, late)
            if bed.unmoved(probe, quantity, now, milli):
                assert said == []
            else:
                bed.reading(probe, quantity, now, milli, late)
            assert bed.state == whole.state
        bed.serve(now + MINUTE_MS)


def test_other_limits_are_held_against_what_was_read_before_with_the_next_reading():
    """Else a spot that is too cool by the new limits stayed unsaid for as long as another was read first."""
    heat = Quantity.TEMPERATURE
    bed = Bed(BinState(), BinThresholds())
    bed.reading("a", heat, NOW, 18_000, False)
    bed.reading("b", heat, NOW, 22_000, False)
    bed = Bed(bed.state, BinThresholds(cool_milli_c=20_000))
    assert not bed.unmoved("b", heat, NOW + MINUTE_MS, 22_000)
    changes = bed.reading("b", heat, NOW + MINUTE_MS, 22_000, False)
    assert [(change.before, change.after) for change in changes] == [("comfort", "cool")]


def test_a_cool_bin_takes_cool_readings_without_looking_at_the_others():
    """A winter of readings is as cheap as a summer of them."""
    heat = Quantity.TEMPERATURE
    bed = Bed(BinState(), BinThresholds())
    bed.reading("a", heat, NOW, 12_000, False)
    assert bed.unmoved("a", heat, NOW + MINUTE_MS, 12_500)
    assert bed.state.temperatures["a"].milli == 12_500
