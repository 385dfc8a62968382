"""Every limit, deadband and delay of the design as a field with its default.

A field's name ends in its unit: `_milli_c` (thousandths of a degree Celsius), `_milli_k` (a difference of them),
`_milli_pct` (thousandths of a percent) or `_ms`. The key in the configuration is the name without that ending.
Sources stand in `docs/sources.md`; values without one are common practice, no published source.
"""

from dataclasses import dataclass

from monitor.model.times import DAY_MS, HOUR_MS, MINUTE_MS
from monitor.model.units import celsius_milli


def _fahrenheit(degrees: float) -> int:
    return celsius_milli(degrees, "degF")


RULE_GAP_MS = 2 * HOUR_MS
"""The longest gap between two readings of a probe across which a rule takes temperature for proven. A pile's own longer
`max_gap` serves its phases and alarms; only who asks for it on paper gets a verdict across it, *met only as asked*."""
RULE_HAND_GAP_MS = 26 * HOUR_MS
"""The same between two rounds by hand (`hand_gap`)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PileThresholds:
    """What turns a pile's temperatures into phases and alarms."""

    # Phases. `hold_milli_c` serves only where the pile's rule states no hold temperature of its own.
    hold_milli_c: int = _fahrenheit(131)
    deadband_milli_k: int = 500
    hold_dwell_ms: int = 60 * MINUTE_MS
    lost_dwell_ms: int = 60 * MINUTE_MS
    cooling_dwell_ms: int = 12 * HOUR_MS
    recovery_ms: int = 48 * HOUR_MS
    warm_milli_c: int = 40_000
    gave_up_dwell_ms: int = 24 * HOUR_MS
    no_rule_hold_ms: int = 72 * HOUR_MS
    reheat_rise_milli_k: int = 5_000
    reheat_span_ms: int = 48 * HOUR_MS
    max_gap_ms: int = 2 * HOUR_MS
    hand_gap_ms: int = 26 * HOUR_MS
    lag_ms: int = 6 * HOUR_MS
    # Ready for worms.
    ready_milli_c: int = _fahrenheit(80)
    ready_above_ambient_milli_k: int = 8_000
    ready_ambient_floor_milli_c: int = _fahrenheit(59)
    ready_ambient_span_ms: int = 7 * DAY_MS
    ready_ambient_coverage_milli_pct: int = 75_000
    ready_dwell_ms: int = 72 * HOUR_MS
    ready_pause_ms: int = 24 * HOUR_MS
    ready_age_ms: int = 28 * DAY_MS
    ready_after_turning_ms: int = 72 * HOUR_MS
    unready_above_milli_k: int = 1_500
    unready_dwell_ms: int = 24 * HOUR_MS
    # Alarms.
    stalled_ms: int = 72 * HOUR_MS
    stalled_cold_weather_ms: int = 7 * DAY_MS
    stalled_cold_weather_milli_c: int = 5_000
    stalled_no_hold_ms: int = 7 * DAY_MS
    cold_corner_dwell_ms: int = 24 * HOUR_MS
    turning_every_ms: int = 3 * DAY_MS
    turning_cooled_ms: int = 12 * HOUR_MS
    hot_milli_c: int = _fahrenheit(160)
    hot_dwell_ms: int = 6 * HOUR_MS
    too_hot_milli_c: int = _fahrenheit(170)
    fire_milli_c: int = _fahrenheit(180)
    fire_confirm_milli_c: int = 65_000
    lost_above_milli_c: int = 70_000
    lost_within_ms: int = 6 * HOUR_MS
    lost_silence_ms: int = 30 * MINUTE_MS
    # Lines of the digest.
    moisture_low_milli_pct: int = 40_000
    moisture_comfort_low_milli_pct: int = 50_000
    moisture_comfort_high_milli_pct: int = 60_000
    moisture_high_milli_pct: int = 65_000
    oxygen_low_milli_pct: int = 5_000
    oxygen_dwell_ms: int = 6 * HOUR_MS
    # Probes out for a turning.
    back_above_milli_k: int = 5_000
    back_dwell_ms: int = 30 * MINUTE_MS
    settle_ms: int = 60 * MINUTE_MS
    out_reminder_ms: int = 12 * HOUR_MS
    suggested_mute_ms: int = 6 * HOUR_MS


@dataclass(frozen=True, slots=True, kw_only=True)
class BinThresholds:
    """What turns a bin's temperature and moisture into conditions and alarms."""

    cold_milli_c: int = _fahrenheit(50)
    cool_milli_c: int = _fahrenheit(60)
    warm_milli_c: int = _fahrenheit(80)
    overheating_milli_c: int = _fahrenheit(85)
    overheating_dwell_ms: int = 20 * MINUTE_MS
    danger_all_milli_c: int = _fahrenheit(90)
    danger_all_dwell_ms: int = 15 * MINUTE_MS
    danger_any_milli_c: int = _fahrenheit(95)
    near_freezing_milli_c: int = _fahrenheit(43)
    freezing_milli_c: int = _fahrenheit(39)
    deadband_milli_k: int = 500
    too_dry_milli_pct: int = 60_000
    aim_low_milli_pct: int = 70_000
    aim_high_milli_pct: int = 80_000
    too_wet_milli_pct: int = 85_000
    moisture_deadband_milli_pct: int = 2_000
    too_wet_dwell_ms: int = 4 * HOUR_MS
    too_dry_dwell_ms: int = 12 * HOUR_MS
    moisture_mute_ms: int = 12 * HOUR_MS
    fresh_food_ms: int = 2 * DAY_MS
    fresh_food_above_air_milli_k: int = 5_000
    hand_gap_ms: int = 7 * DAY_MS
    hand_gap_summer_ms: int = 3 * DAY_MS


@dataclass(frozen=True, slots=True, kw_only=True)
class ProbeThresholds:
    """What is believed of a probe, and when it counts as silent."""

    gross_low_milli_c: int = -40_000
    gross_high_milli_c: int = 100_000
    spike_step_milli_k: int = 5_000
    spike_span_ms: int = 30 * MINUTE_MS
    power_up_apart_milli_k: int = 10_000
    flat_suspect_ms: int = 24 * HOUR_MS
    flat_fail_ms: int = 48 * HOUR_MS
    flat_resolution_milli_k: int = 125
    flat_moved_milli_k: int = 1_000
    ambient_span_ms: int = 24 * HOUR_MS
    ambient_swing_milli: int = 800
    """Share of ambient's swing, in thousandths."""
    ambient_mean_milli_k: int = 2_000
    ambient_warmer_milli_k: int = 10_000
    silent_spacings: int = 3
    silent_min_ms: int = 1 * HOUR_MS
    silent_min_calm_ms: int = 6 * HOUR_MS
    ahead_ms: int = 5 * MINUTE_MS
    late_ms: int = 5 * MINUTE_MS
    hand_late_ms: int = 12 * HOUR_MS
    hand_apart_milli_k: int = 5_000
