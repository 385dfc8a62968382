"""Flags of single probes: error codes, gross range, spike, power-up value, hand readings."""

import pytest

from monitor.conditioning import Conditioner, ConditioningState, condition, condition_bare
from monitor.model.flags import Flag, FlagReason
from monitor.model.readings import Reading
from monitor.model.settings import Calibration, Pile, Probe, Settings
from monitor.model.thresholds import ProbeThresholds
from monitor.model.times import HOUR_MS, MINUTE_MS
from monitor.model.units import Quantity
from monitor.model.words import Basis, Role

START = 1_772_355_600_000
CORE = Probe(place="p1", role=Role.CORE, address="a")
SETTINGS = Settings(piles={"p1": Pile(name="Bay 1")}, probes={"a": CORE})


def series(*values, step=10 * MINUTE_MS, probe="a", unit="Cel", start=START):
    return [Reading(start + i * step, probe, round(v * 10**6), unit) for i, v in enumerate(values) if v is not None]


def flags(readings, settings=SETTINGS):
    return [int(v.flag) for v in condition(readings, None, settings)]


def reasons(readings, settings=SETTINGS):
    return [v.reason for v in condition(readings, None, settings) if v.flag != Flag.PASS]


def test_a_small_step_is_final_at_once():
    live = Conditioner(ConditioningState(), SETTINGS)
    for reading in series(20, 25, 20, 15.0):
        (verdict,) = live.step(reading)
        assert (verdict.time, verdict.flag) == (reading.time, Flag.PASS)
    assert live.due() is None


def test_a_larger_step_waits_and_fails_when_denied():
    live = Conditioner(ConditioningState(), SETTINGS)
    first, high, back = series(20, 60, 20.5)
    live.step(first)
    assert live.step(high) == ()
    assert live.due() == high.time + 30 * MINUTE_MS + 1
    fails, passes = live.step(back)
    assert (fails.time, fails.flag, fails.reason) == (high.time, Flag.FAIL, FlagReason.SPIKE)
    assert (passes.time, passes.flag) == (back.time, Flag.PASS)
    assert live.due() is None


@pytest.mark.parametrize(
    ("values", "expected"),
    [
        ((20, 30, 25), [1, 1, 1]),  # agrees within exactly half the step: both pass
        ((20, 30, 24.999), [1, 4, 1]),
        ((20, 30, 35), [1, 1, 1]),
        ((20, 30, 35.001), [1, 4, 1]),
        ((20, 60, 80, 80), [1, 1, 1, 1]),  # "both pass", though the second step is large, too
        ((60, 66, 72.5, 80, 86), [1, 4, 4, 1, 1]),
        ((20, 25.001), [1, 1]),  # the record ends: nothing denies it
    ],
)
def test_spike_table(values, expected):
    assert flags(series(*values)) == expected


def test_a_pending_reading_passes_when_nothing_comes_in_thirty_minutes():
    live = Conditioner(ConditioningState(), SETTINGS)
    first, high = series(20, 60)
    live.step(first)
    live.step(high)
    assert live.expire(high.time + 30 * MINUTE_MS) == ()
    (verdict,) = live.expire(high.time + 30 * MINUTE_MS + 1)
    assert (verdict.time, verdict.flag) == (high.time, Flag.PASS)
    assert live.expire(high.time + HOUR_MS) == ()
    # an answer that was under way comes too late for it: the engine runs the record again
    assert live.late_for_others("a", high.time + 30 * MINUTE_MS)
    assert not live.late_for_others("a", high.time + 30 * MINUTE_MS + 1)


def test_an_answer_at_exactly_thirty_minutes_counts():
    assert flags(series(20, 60, None, None, 20)) == [1, 4, 1]
    assert flags(series(20, 60, None, None, None, 20)) == [1, 1, 1]


def test_readings_over_thirty_minutes_apart_are_no_spike():
    assert flags(series(20, 60, 20, 60, step=31 * MINUTE_MS)) == [1, 1, 1, 1]


def test_an_error_code_neither_confirms_nor_denies():
    assert flags(series(70, 80, -127, 81)) == [1, 1, 4, 1]
    assert flags(series(20, 60, -127, 20)) == [1, 4, 4, 1]
    assert flags(series(20, 60, 140, 20)) == [1, 4, 4, 1]


def test_accepted_verdicts_come_in_order_and_failed_ones_may_overtake():
    live = Conditioner(ConditioningState(), SETTINGS)
    given = [verdict for reading in series(70, 80, -127, 81) for verdict in live.step(reading)]
    assert [(v.milli, int(v.flag)) for v in given] == [(70_000, 1), (-127_000, 4), (80_000, 1), (81_000, 1)]


@pytest.mark.parametrize(("value", "unit"), [(-127, "Cel"), (-196.6, "[degF]"), (146.15, "K")])
def test_disconnected_code_in_any_unit(value, unit):
    readings = series(value, unit=unit)
    assert reasons(readings) == [FlagReason.ERROR_CODE]
    assert [int(v.flag) for v in condition_bare(readings)] == [4]


def test_error_codes_are_raw_values():
    moved = Settings(
        probes={"a": Probe(place="p1", role=Role.CORE, address="a", calibrations=(Calibration(points=((0, 500),)),))}
    )
    assert reasons(series(-127), moved) == [FlagReason.ERROR_CODE]
    assert reasons(series(20, None, None, None, 85, 20), moved) == [FlagReason.POWER_UP]


@pytest.mark.parametrize(
    ("values", "expected"),
    [
        ((85, 20, 20), [4, 1, 1]),  # first ever
        ((85, 76, 76), [1, 1, 1]),  # within 10 °C of the reading after
        ((20, None, None, None, 85, 20), [1, 4, 1]),  # after silence
        ((80, None, None, None, 85, 20), [1, 1, 1]),  # within 10 °C of the reading before (and 40 min apart: no spike)
        ((20, None, None, None, 85, 84), [1, 1, 1]),
        (
            (20, None, None, None, 85.0625, 20),
            [1, 1, 1],
        ),  # not the code, no spike after silence
        ((80, 85, 80), [1, 1, 1]),  # no silence: a legal reading
        ((20, 85, 20), [1, 4, 1]),
        ((55, 85, 85, 55.5), [1, 3, 4, 1]),  # however many come in a row: two codes do not bear each other out
        ((55, 85, 85, 85, 85, 55.5, 56), [1, 3, 3, 3, 4, 1, 1]),
        ((55, 85, 85, 84, 83), [1, 3, 1, 1, 1]),  # believed once another value is near it
        ((79, 85, 85, 84), [1, 1, 1, 1]),  # a heap that climbs there is no code
        ((20, -127, 85, 20), [1, 4, 4, 1]),  # the sensor was gone, so it has powered up anew
        ((20, None, None, None, 85, -127, 20), [1, 4, 4, 1]),
        ((85,), [3]),  # unanswered: suspect
    ],
)
def test_power_up_value(values, expected):
    assert flags(series(*values)) == expected


def test_power_up_value_of_a_node_that_reports_each_hour():
    assert flags(series(20, 85, 20, step=HOUR_MS)) == [1, 4, 1]
    assert flags(series(20, 85, 20, step=3 * HOUR_MS)) == [1, 3, 1]
    assert flags(series(55, 85, 85, 55.5, step=HOUR_MS)) == [1, 3, 4, 1]


def test_power_up_waits_two_hours_and_is_then_suspect():
    live = Conditioner(ConditioningState(), SETTINGS)
    (reading,) = series(85)
    assert live.step(reading) == ()
    assert live.due() == START + 2 * HOUR_MS + 1
    (verdict,) = live.expire(START + 2 * HOUR_MS + 1)
    assert (verdict.flag, verdict.reason) == (Flag.SUSPECT, FlagReason.POWER_UP)


def test_gross_range_ends_pass_and_is_held_after_calibration():
    assert flags(series(-40, -40.001, 100, 100.001, step=HOUR_MS)) == [1, 4, 1, 4]
    low = Settings(
        probes={"a": Probe(place="p1", role=Role.CORE, address="a", calibrations=(Calibration(points=((0, -1000),)),))}
    )
    assert flags(series(100.5, 101.5, step=HOUR_MS), low) == [1, 4]


def test_hand_readings_are_not_evaluated_and_never_spikes():
    by_hand = series(20, 70, 20, 85, 120, probe="hand:p1")
    verdicts = condition(by_hand, None, SETTINGS)
    assert [int(v.flag) for v in verdicts] == [2, 2, 2, 2, 4]
    assert {v.reason for v in verdicts[:4]} == {FlagReason.HAND}


def test_hand_readings_never_stand_still():
    same = series(*[20] * 600, probe="hand:p1")
    assert set(flags(same)) == {2}


@pytest.mark.parametrize(
    ("quantity", "unit", "good", "bad"),
    [
        (Quantity.MOISTURE, "%", 100, 100.001),
        (Quantity.OXYGEN, "%", 0, -0.001),
        (Quantity.BATTERY, "V", 3.3, 61),
        (Quantity.SIGNAL, "dBm", -120, 60),
    ],
)
def test_other_quantities_get_physical_limits_only(quantity, unit, good, bad):
    other = Settings(probes={"a": Probe(place="p1", role=Role.CORE, address="a", quantity=quantity)})
    readings = series(good, bad, good, unit=unit)
    assert flags(readings, other) == [1, 4, 1]
    assert reasons(readings, other) == [FlagReason.GROSS_RANGE]


def test_moisture_without_conversion_is_kept_and_not_evaluated():
    raw = Settings(
        probes={"a": Probe(place="b1", role=Role.BEDDING, address="a", quantity=Quantity.MOISTURE, basis=Basis.RAW)}
    )
    (verdict,) = condition(series(512, unit="1"), None, raw)
    assert (verdict.milli, verdict.flag) == (512_000, Flag.NOT_EVALUATED)


def test_bare_recordings_get_error_codes_and_gross_range_only():
    verdicts = condition_bare(series(20, 60, 20, -127, 140, None, None, None, None, 85, 20))
    assert [int(v.flag) for v in verdicts] == [2, 2, 2, 4, 4, 4, 2]
    assert {v.flag for v in condition_bare(series(*[20] * 600))} == {Flag.NOT_EVALUATED}


def test_a_unit_that_does_not_fit_gets_no_verdict():
    assert condition(series(20, unit="V"), None, SETTINGS) == []
    assert flags(
        [*series(20), *series(50, unit="%", start=START + 1), *series(68, unit="[degF]", start=START + 2)]
    ) == [1, 1]


def test_only_wanted_series_are_returned():
    both = sorted([*series(20, 20), *series(20, 20, probe="hand:p1")])
    assert {v.probe for v in condition(both, {"a"}, SETTINGS)} == {"a"}


def test_limits_come_from_the_settings():
    wide = Settings(probes={"a": CORE}, probe_thresholds=ProbeThresholds(spike_step_milli_k=50_000))
    assert flags(series(20, 60, 20), wide) == [1, 1, 1]
