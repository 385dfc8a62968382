"""A bin's conditions and alarms at, just under and just over each limit and delay."""

import pytest

from monitor.bins import AlarmSignal, Bed, BinState, ConditionChange
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


def test_freezing_at_its_limit_and_not_before():
    assert alarms(bed().reading("t", T, NOW, fahrenheit(39) + 1, False)) == []
    assert alarms(bed().reading("t", T, NOW, fahrenheit(39), False)) == [("freezing", True)]


@pytest.mark.parametrize(
    ("milli", "word"),
    [(59_999, Dampness.TOO_DRY), (60_000, Dampness.COMFORT), (85_000, Dampness.COMFORT), (85_001, Dampness.TOO_WET)],
)
def test_moisture_word_at_each_limit(milli, word):
    assert words(bed().reading("m", M, NOW, milli, False)) == [word]


def test_moisture_deadband_and_alarm_after_twelve_hours():
    one = bed()
    one.reading("m", M, NOW, 86_000, False)
    assert one.due() == NOW + 12 * HOUR_MS
    assert words(one.reading("m", M, NOW + HOUR_MS, 83_000, False)) == []
    assert one.due() is None, "the delay wants the value beyond the limit, not inside the deadband"
    one.reading("m", M, NOW + 2 * HOUR_MS, 86_000, False)
    assert alarms(one.serve(NOW + 14 * HOUR_MS)) == [("too-wet", True)]
    assert words(one.reading("m", M, NOW + 15 * HOUR_MS, 82_999, False)) == [Dampness.COMFORT]


def test_a_warm_spot_is_told_when_another_probe_is_in_comfort():
    one = bed()
    one.reading("b", T, NOW, fahrenheit(72), False)
    one.reading("a", T, NOW, fahrenheit(87), False)
    (signal,) = [c for c in one.serve(NOW + 20 * MINUTE_MS) if isinstance(c, AlarmSignal)]
    assert signal.values["other"] == 22.222
    assert signal.probe == "a"
