"""A bin's conditions and alarms at, just under and just over each limit and delay."""

import pytest

from monitor.bins import Bed, BinState, ConditionChange
from monitor.model.alarm_signals import AlarmSignal
from monitor.model.thresholds import BinThresholds
from monitor.model.times import HOUR_MS, MINUTE_MS
from monitor.model.units import Quantity, celsius_milli
from monitor.model.words import Dampness, Thermal

T, M = Quantity.TEMPERATURE, Quantity.MOISTURE
NOW = 1_800_000_000_000


def bed(**limits):
    return Bed(BinState(), BinThresholds(**limits))


def fahrenheit(degrees):
    return celsius_milli(degrees, "degF")


def words(changes):
    return [c.after for c in changes if isinstance(c, ConditionChange)]


def alarms(changes):
    return [(c.alarm, c.on) for c in changes if isinstance(c, AlarmSignal)]


@pytest.mark.parametrize(
    ("milli", "word"),
    [
        (fahrenheit(50) - 1, Thermal.COLD),
        (fahrenheit(50), Thermal.COOL),
        (fahrenheit(60) - 1, Thermal.COOL),
        (fahrenheit(60), Thermal.COMFORT),
        (fahrenheit(80), Thermal.COMFORT),
        (fahrenheit(80) + 1, Thermal.WARM),
        (fahrenheit(85), Thermal.WARM),
    ],
)
def test_thermal_word_at_each_limit(milli, word):
    """Limits: design section 4, ours from sources that disagree above 25 °C."""
    assert words(bed().reading("t", T, NOW, milli, False)) == [word]


@pytest.mark.parametrize(
    ("milli", "word"), [(fahrenheit(60) + 500, Thermal.COOL), (fahrenheit(60) + 501, Thermal.COMFORT)]
)
def test_a_cold_bin_that_warms_up_at_once_is_cool_to_the_end_of_that_deadband(milli, word):
    one = bed()
    one.reading("t", T, NOW, fahrenheit(40), False)
    assert words(one.reading("t", T, NOW + 1, milli, False)) == [word]


def test_what_all_must_say_the_probes_decide_where_there_are_some():
    one = bed()
    one.reading("a", T, NOW, fahrenheit(91), False)
    one.reading("hand:b1", T, NOW + 1, fahrenheit(70), False)
    told = [c for c in one.serve(NOW + 15 * MINUTE_MS) if isinstance(c, AlarmSignal)]
    assert [(c.alarm, c.probe, c.values.by) for c in told] == [("worms-in-danger", "a", "all")]


def test_overheating_needs_its_delay_by_deadline():
    one = bed()
    changes = one.reading("t", T, NOW, fahrenheit(85), False)
    assert alarms(changes) == []
    due = NOW + 20 * MINUTE_MS
    assert one.due() == due
    assert one.serve(due - 1) == []
    changes = one.serve(due)
    assert alarms(changes) == [("overheating", True)]
    assert words(changes) == [Thermal.OVERHEATING]
    assert changes[0].since == NOW


def test_overheating_needs_its_delay_by_a_later_reading():
    one = bed()
    one.reading("t", T, NOW, fahrenheit(85), True)
    assert one.due() is None, "a late reading starts no deadline"
    assert alarms(one.reading("t", T, NOW + 20 * MINUTE_MS - 1, fahrenheit(86), True)) == []
    assert alarms(one.reading("t", T, NOW + 20 * MINUTE_MS, fahrenheit(86), True)) == [("overheating", True)]


def test_a_dip_below_the_limit_starts_the_delay_anew():
    one = bed()
    one.reading("t", T, NOW, fahrenheit(85), False)
    one.reading("t", T, NOW + 10 * MINUTE_MS, fahrenheit(85) - 1, False)
    assert one.due() is None
    one.reading("t", T, NOW + 11 * MINUTE_MS, fahrenheit(85), False)
    assert one.due() == NOW + 31 * MINUTE_MS


def test_overheating_ends_only_past_its_deadband():
    one = bed()
    one.reading("t", T, NOW, fahrenheit(86), False)
    one.serve(NOW + 20 * MINUTE_MS)
    assert alarms(one.reading("t", T, NOW + HOUR_MS, fahrenheit(85) - 500, False)) == [("overheating", True)]
    changes = one.reading("t", T, NOW + 2 * HOUR_MS, fahrenheit(85) - 501, False)
    assert alarms(changes) == [("overheating", False)]
    assert words(changes) == [Thermal.WARM]


def test_worms_in_danger_by_the_coolest_and_by_any():
    one = bed()
    one.reading("a", T, NOW, fahrenheit(91), False)
    one.reading("b", T, NOW, fahrenheit(80), False)
    assert ("worms-in-danger", True) not in alarms(one.serve(NOW + HOUR_MS))
    changes = one.reading("a", T, NOW + HOUR_MS, fahrenheit(95) + 1, False)
    assert ("worms-in-danger", True) in alarms(changes)
    changes = one.reading("a", T, NOW + 2 * HOUR_MS, fahrenheit(85), False)
    assert ("worms-in-danger", False) in alarms(changes)
    one.reading("b", T, NOW + 3 * HOUR_MS, fahrenheit(90) + 1, False)
    one.reading("a", T, NOW + 3 * HOUR_MS, fahrenheit(91), False)
    assert one.due() == NOW + 3 * HOUR_MS + 15 * MINUTE_MS
    assert ("worms-in-danger", True) in alarms(one.serve(NOW + 3 * HOUR_MS + 15 * MINUTE_MS))


def test_danger_is_over_only_when_both_its_reasons_are():
    one = bed()
    one.reading("a", T, NOW, fahrenheit(96), False)
    one.serve(NOW + 15 * MINUTE_MS)
    between = one.reading("a", T, NOW + HOUR_MS, fahrenheit(92), False)
    assert ("worms-in-danger", False) not in alarms(between)
    assert ("worms-in-danger", False) in alarms(one.reading("a", T, NOW + 2 * HOUR_MS, fahrenheit(80), False))


def test_silence_makes_unknown_and_ends_no_alarm():
    one = bed()
    one.reading("a", T, NOW, fahrenheit(96), False)
    changes = one.silent("a", NOW + HOUR_MS)
    assert words(changes) == [Thermal.UNKNOWN]
    assert alarms(changes) == []
    other = bed()
    other.reading("a", T, NOW, fahrenheit(96), False)
    other.silent("a", NOW + HOUR_MS)
    assert ("worms-in-danger", False) not in alarms(other.reading("b", T, NOW + HOUR_MS, fahrenheit(70), False))
    assert ("worms-in-danger", False) in alarms(other.reading("a", T, NOW + 2 * HOUR_MS, fahrenheit(70), False))


@pytest.mark.parametrize(
    ("milli", "stage", "limit"),
    [
        (fahrenheit(43) + 1, None, None),
        (fahrenheit(43), 0, 6_111),
        (fahrenheit(39) + 1, 0, 6_111),
        (fahrenheit(39), 1, 3_889),
    ],
)
def test_freezing_at_each_of_its_limits_and_not_before(milli, stage, limit):
    found = [c for c in bed().reading("t", T, NOW, milli, False) if isinstance(c, AlarmSignal)]
    assert [(c.alarm, c.stage, c.values.limit_milli) for c in found] == (
        [] if stage is None else [("freezing", stage, limit)]
    )


def test_freezing_comes_back_to_its_first_limit_and_is_over_past_it():
    one = bed()
    one.reading("t", T, NOW, fahrenheit(38), False)
    (eased,) = {
        (c.on, c.stage) for c in one.reading("t", T, NOW + 1, fahrenheit(41), False) if isinstance(c, AlarmSignal)
    }
    assert eased == (True, 0)
    assert alarms(one.reading("t", T, NOW + 2, fahrenheit(43) + 500, False)) == [("freezing", True)]
    assert alarms(one.reading("t", T, NOW + 3, fahrenheit(43) + 501, False)) == [("freezing", False)]


def test_a_site_whose_high_limit_is_above_the_first_has_one_limit():
    found = bed(freezing_milli_c=fahrenheit(46)).reading("t", T, NOW, fahrenheit(45), False)
    assert [(c.alarm, c.stage) for c in found if isinstance(c, AlarmSignal)] == [("freezing", 1)]


def test_an_emptied_bed_knows_nothing_and_ends_its_alarms():
    one = bed()
    one.reading("t", T, NOW, fahrenheit(96), False)
    one.reading("m", M, NOW, 50_000, False)
    changes = one.empty(NOW + 1)
    assert alarms(changes) == [("worms-in-danger", False)]
    assert words(changes) == [Thermal.UNKNOWN, Dampness.UNKNOWN]
    assert one.due() is None


def test_worms_in_danger_says_which_of_its_limits_rang():
    one = bed()
    one.reading("b", T, NOW, fahrenheit(80), False)
    (any_of,) = [c for c in one.reading("a", T, NOW, fahrenheit(96), False) if isinstance(c, AlarmSignal) and c.on]
    assert (any_of.values.by, any_of.values.coolest_milli, any_of.values.hottest_milli) == ("any", 26_667, 35_556)
    other = bed()
    other.reading("a", T, NOW, fahrenheit(91), False)
    other.reading("b", T, NOW, fahrenheit(94), False)
    (by_all,) = [c for c in other.serve(NOW + 15 * MINUTE_MS) if isinstance(c, AlarmSignal)]
    assert (by_all.values.by, by_all.values.value_milli, by_all.values.hottest_milli) == ("all", 32_778, 34_444)


@pytest.mark.parametrize(
    ("milli", "word"),
    [(59_999, Dampness.TOO_DRY), (60_000, Dampness.COMFORT), (85_000, Dampness.COMFORT), (85_001, Dampness.TOO_WET)],
)
def test_moisture_word_at_each_limit(milli, word):
    assert words(bed().reading("m", M, NOW, milli, False)) == [word]


def test_too_dry_is_told_after_twelve_hours():
    one = bed()
    one.reading("m", M, NOW, 59_000, False)
    assert one.serve(NOW + 12 * HOUR_MS - 1) == []
    assert alarms(one.serve(NOW + 12 * HOUR_MS)) == [("too-dry", True)]


def test_moisture_deadband_and_too_wet_after_four_hours():
    one = bed()
    one.reading("m", M, NOW, 86_000, False)
    assert one.due() == NOW + 4 * HOUR_MS
    assert words(one.reading("m", M, NOW + HOUR_MS, 83_000, False)) == []
    assert one.due() is None, "the delay wants the value beyond the limit, not inside the deadband"
    one.reading("m", M, NOW + 2 * HOUR_MS, 86_000, False)
    assert alarms(one.serve(NOW + 6 * HOUR_MS)) == [("too-wet", True)]
    assert words(one.reading("m", M, NOW + 7 * HOUR_MS, 82_999, False)) == [Dampness.COMFORT]


def test_a_warm_spot_is_told_when_another_probe_is_in_comfort():
    one = bed()
    one.reading("b", T, NOW, fahrenheit(72), False)
    one.reading("a", T, NOW, fahrenheit(87), False)
    (signal,) = [c for c in one.serve(NOW + 20 * MINUTE_MS) if isinstance(c, AlarmSignal)]
    assert signal.values.comfortable_milli == 22_222
    assert signal.probe == "a"
