"""Every limit, deadband and delay as a field with its default.

A field's name ends in its unit: `_milli_c` (thousandths of a degree Celsius), `_milli_k` (a difference of them),
`_milli_pct` (thousandths of a percent) or `_ms`. The key in the configuration is the name without that ending.
Sources stand in `docs/sources.md`; values without one are common practice, no published source.
"""

from dataclasses import dataclass, field

from monitor.model.times import DAY_MS, HOUR_MS, MINUTE_MS
from monitor.model.units import celsius_milli


def _fahrenheit(degrees: float) -> int:
    return celsius_milli(degrees, "degF")


@dataclass(frozen=True, slots=True)
class Declared:
    """The declaration of a threshold beside its default.

    Attributes:
        meaning: Its meaning, one line of the reference page.
        tried: The range that tuning tries if nobody names one: once, or in °F and in °C; empty: none.
    """

    meaning: str
    tried: tuple[str, ...] = ()

    def range_in(self, temperature_unit: str) -> str:
        """Return the range that tuning tries in a yard of `degF` or `degC`; "" if it tries none."""
        return self.tried[0 if temperature_unit == "degF" else -1] if self.tried else ""


def limit(default: int, meaning: str, *, tried: str | tuple[str, ...] = ()) -> int:
    """Declare a threshold.

    Args:
        default: Its default, in the unit of its name.
        meaning: Its meaning, one line of the reference page.
        tried: The range that tuning tries if nobody names one: once, or in °F and in °C.

    Returns:
        A dataclass field that carries the declaration (`Declared`).
    """
    said = Declared(meaning, (tried,) if isinstance(tried, str) else tried)
    return field(default=default, metadata={Declared: said})


RULE_GAP_MS = 2 * HOUR_MS
"""The longest gap between two readings of a probe across which a rule counts temperature as proven. A pile's own longer
`max_gap` serves its phases and alarms; a verdict across such a gap, *met only as asked*, needs an explicit request."""
RULE_HAND_GAP_MS = 26 * HOUR_MS
"""The same limit between two rounds by hand (`hand_gap`)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PileThresholds:
    """Limits that turn a pile's temperatures into phases and alarms."""

    # Phases. `hold_milli_c` serves only if the pile's rule states no hold temperature of its own.
    hold_milli_c: int = limit(
        _fahrenheit(131),
        "Hold temperature if the pile's rule states none; a pile at or above it is *holding*.",
    )
    deadband_milli_k: int = limit(
        500,
        "How far below a limit a temperature must fall before it counts as below (a difference).",
    )
    hold_dwell_ms: int = limit(
        60 * MINUTE_MS,
        "How long the coldest core probe must be at the hold temperature before the phase is *holding*.",
    )
    lost_dwell_ms: int = limit(
        60 * MINUTE_MS,
        "How long the coldest must be below it (rule unmet) before the phase falls back to *heating*.",
    )
    cooling_dwell_ms: int = limit(12 * HOUR_MS, "How long the hottest must be below it before the phase is *cooling*.")
    recovery_ms: int = limit(
        48 * HOUR_MS,
        "Longest time after a turning in which a fall of temperature does not count against the batch.",
    )
    warm_milli_c: int = limit(
        40_000,
        "Peak that a heap must have reached to count as having given up; also the start of *reheating*.",
    )
    gave_up_dwell_ms: int = limit(
        24 * HOUR_MS,
        "How long the hottest must be below `warm` before a heap that never held is *cooling*.",
    )
    no_rule_hold_ms: int = limit(72 * HOUR_MS, "With rule `none`: one hold of this length counts as enough.")
    reheat_rise_milli_k: int = limit(5_000, "Rise of the hottest probe that counts as *reheating* (a difference).")
    reheat_span_ms: int = limit(48 * HOUR_MS, "Time within which that rise must happen.")
    max_gap_ms: int = limit(
        2 * HOUR_MS,
        "Longest silence of a probe that a straight line still bridges; a longer silence is unproven. For "
        "the rule never more than 2 h.",
    )
    hand_gap_ms: int = limit(
        26 * HOUR_MS,
        "Longest time between two rounds by hand that a line bridges; a hand reading counts for as long. "
        "For the rule never more than 26 h.",
    )
    lag_ms: int = limit(
        6 * HOUR_MS,
        "How far a probe's newest reading may lag behind another's before it no longer holds the batch back. "
        "Never less than `max_gap`.",
    )
    # Ready for worms.
    ready_milli_c: int = limit(_fahrenheit(80), "*Ready for worms*: the hottest probe is at or below this.")
    ready_above_ambient_milli_k: int = limit(
        8_000,
        "Likewise: the hottest probe is at most this much above the air's mean (a difference).",
    )
    ready_ambient_floor_milli_c: int = limit(_fahrenheit(59), "The limit from the air is never lower than this.")
    ready_ambient_span_ms: int = limit(7 * DAY_MS, "Span over which the air's mean is taken.")
    ready_ambient_coverage_milli_pct: int = limit(
        75_000,
        "Share of that span that must be measured, else the air's limit is off.",
    )
    ready_dwell_ms: int = limit(72 * HOUR_MS, "How long both limits must be kept.")
    ready_pause_ms: int = limit(
        24 * HOUR_MS, "Longest total of unproven time that only pauses that wait; more restarts it."
    )
    ready_age_ms: int = limit(28 * DAY_MS, "Least age of a batch that can be ready for worms.")
    ready_after_turning_ms: int = limit(72 * HOUR_MS, "Time after a turning in which a batch is never ready for worms.")
    unready_above_milli_k: int = limit(
        1_500,
        "How far above `ready` the hottest must be to end *ready for worms* (a difference).",
    )
    unready_dwell_ms: int = limit(
        24 * HOUR_MS, "How long the hottest must stay above that before *ready for worms* ends."
    )
    # Alarms.
    stalled_ms: int = limit(
        72 * HOUR_MS,
        "Time after building or turning after which a heap below `warm` is *stalled*.",
    )
    stalled_cold_weather_ms: int = limit(7 * DAY_MS, "The same time when the air is cold.")
    stalled_cold_weather_milli_c: int = limit(5_000, "Mean of the air below which the weather counts as cold.")
    stalled_no_hold_ms: int = limit(
        7 * DAY_MS,
        "Time after building or turning after which a heap that did not reach the hold is *stalled*.",
    )
    cold_corner_dwell_ms: int = limit(
        24 * HOUR_MS,
        "How long one probe must stay cold while another is hot before *cold corner* is reported.",
    )
    turning_every_ms: int = limit(
        3 * DAY_MS,
        "Time since the last turning (or the first hold) after which *turning due* is reported.",
    )
    turning_cooled_ms: int = limit(
        12 * HOUR_MS,
        "How long the hottest must be below the hold temperature before *turning due* is reported.",
    )
    hot_milli_c: int = limit(
        _fahrenheit(160),
        "*Hot*: turn and wet within a day.",
        tried=("150..165 degF:1", "65..74 degC:0.5"),
    )
    hot_dwell_ms: int = limit(6 * HOUR_MS, "How long a probe must stay above `hot`.", tried="1..12h:1")
    too_hot_milli_c: int = limit(_fahrenheit(170), "*Too hot*: reported at once, high priority.")
    fire_milli_c: int = limit(
        _fahrenheit(180), "*Fire danger*: reported at once, highest priority, through quiet hours."
    )
    fire_confirm_milli_c: int = limit(
        65_000,
        "What the probe before, or another probe, must show for flagged readings to raise *fire danger*.",
    )
    lost_above_milli_c: int = limit(70_000, "*Hot and lost*: a probe above this that falls silent.")
    lost_within_ms: int = limit(6 * HOUR_MS, "How recently the probe must have been above `lost_above`.")
    lost_silence_ms: int = limit(30 * MINUTE_MS, "Silence after which the probe counts as lost.")
    # Lines of the digest.
    moisture_low_milli_pct: int = limit(40_000, "A line in the digest below this moisture.")
    moisture_comfort_low_milli_pct: int = limit(50_000, "Lower end of comfort.")
    moisture_comfort_high_milli_pct: int = limit(60_000, "Upper end of comfort.")
    moisture_high_milli_pct: int = limit(65_000, "A line in the digest above this moisture.")
    oxygen_low_milli_pct: int = limit(5_000, "A line in the digest below this oxygen (by volume).")
    oxygen_dwell_ms: int = limit(6 * HOUR_MS, "How long oxygen must stay below `oxygen_low`.")
    # Probes out for a turning.
    back_above_milli_k: int = limit(
        5_000,
        "How far above the air a probe must read to count as back in the heap (a difference).",
    )
    back_dwell_ms: int = limit(30 * MINUTE_MS, "How long a probe must stay `back_above` the air.")
    settle_ms: int = limit(
        60 * MINUTE_MS,
        "Time after a probe is back in which its readings are kept but not accepted.",
    )
    out_reminder_ms: int = limit(
        12 * HOUR_MS,
        "Time until the first reminder of probes still out; each further one comes after twice as long.",
    )
    suggested_mute_ms: int = limit(6 * HOUR_MS, "How long a turning that nobody logged mutes the place.")


@dataclass(frozen=True, slots=True, kw_only=True)
class BinThresholds:
    """Limits that turn a bin's temperature and moisture into conditions and alarms."""

    cold_milli_c: int = limit(_fahrenheit(50), "*Cold* below this, by the coldest bedding probe.")
    cool_milli_c: int = limit(_fahrenheit(60), "*Cool* below this: the lower end of comfort.")
    warm_milli_c: int = limit(_fahrenheit(80), "*Warm* above this: the upper end of comfort.")
    overheating_milli_c: int = limit(
        _fahrenheit(85),
        "*Overheating* at or above this, by the hottest bedding probe.",
        tried=("78..90 degF:1", "26..32 degC:0.5"),
    )
    overheating_dwell_ms: int = limit(
        20 * MINUTE_MS, "How long a probe must stay there before it is reported.", tried="0..60m:10"
    )
    danger_all_milli_c: int = limit(_fahrenheit(90), "*Worms in danger*: even the coolest bedding probe is above this.")
    danger_all_dwell_ms: int = limit(15 * MINUTE_MS, "How long the coolest must stay above `danger_all`.")
    danger_any_milli_c: int = limit(_fahrenheit(95), "*Worms in danger*: any bedding probe is above this.")
    near_freezing_milli_c: int = limit(
        _fahrenheit(43),
        "*Freezing*, medium: the coldest bedding probe is at or below this.",
        tried=("40..48 degF:1", "4..9 degC:0.5"),
    )
    freezing_milli_c: int = limit(
        _fahrenheit(39),
        "*Freezing*, high: at or below this; reported through quiet hours until midnight.",
    )
    deadband_milli_k: int = limit(500, "How far a temperature must come back before a condition ends (a difference).")
    too_dry_milli_pct: int = limit(
        60_000,
        "*Too dry* below this share of wet mass, by the driest probe.",
        tried="56..68 %:1",
    )
    aim_low_milli_pct: int = limit(70_000, "Lower end of the moisture to aim for.")
    aim_high_milli_pct: int = limit(80_000, "Upper end of the moisture to aim for.")
    too_wet_milli_pct: int = limit(
        85_000,
        "*Too wet* above this share of wet mass, by the wettest probe.",
        tried="80..88 %:1",
    )
    moisture_deadband_milli_pct: int = limit(2_000, "How far moisture must come back before a condition ends.")
    too_wet_dwell_ms: int = limit(
        4 * HOUR_MS, "How long moisture must stay above `too_wet` before it is reported.", tried="1..12h:1"
    )
    too_dry_dwell_ms: int = limit(
        12 * HOUR_MS, "How long moisture must stay below `too_dry` before it is reported.", tried="1..12h:1"
    )
    moisture_mute_ms: int = limit(
        12 * HOUR_MS,
        "Time after watering or feeding in which moisture is not reported; at most 12 h in any 24.",
    )
    fresh_food_ms: int = limit(
        2 * DAY_MS,
        "Time after a feeding in which a thermal alarm may say that fresh food may be the cause.",
    )
    fresh_food_above_air_milli_k: int = limit(
        5_000,
        "It says so only this far above the air's highest of the last 24 h (a difference).",
    )
    hand_gap_ms: int = limit(7 * DAY_MS, "How long a hand reading counts before the bin is *unknown*.")
    hand_gap_summer_ms: int = limit(3 * DAY_MS, "The same in the summer months of the site.")


@dataclass(frozen=True, slots=True, kw_only=True)
class ProbeThresholds:
    """Limits within which a probe is believed, and the times after which it counts as silent."""

    gross_low_milli_c: int = limit(-40_000, "Below this a reading fails.")
    gross_high_milli_c: int = limit(100_000, "Above this a reading fails.")
    spike_step_milli_k: int = limit(
        5_000,
        "A larger step than this waits for the next reading to confirm it (a difference).",
    )
    spike_span_ms: int = limit(30 * MINUTE_MS, "Two readings further apart than this are not compared.")
    power_up_apart_milli_k: int = limit(
        10_000,
        "How far 85 °C must be from its neighbours to be a power-up value (a difference).",
    )
    flat_suspect_ms: int = limit(24 * HOUR_MS, "An unchanged raw value is suspect after this.")
    flat_fail_ms: int = limit(48 * HOUR_MS, "An unchanged raw value fails after this.")
    flat_resolution_milli_k: int = limit(
        125,
        "Coarsest resolution at which an unchanged value means anything (a difference).",
    )
    flat_moved_milli_k: int = limit(1_000, "How far another probe must have moved meanwhile (a difference).")
    ambient_span_ms: int = limit(24 * HOUR_MS, "Span over which a probe is compared with the air.")
    ambient_swing_milli: int = limit(800, "A probe that swings by this share of the air's swing may follow the air.")
    """Share of ambient's swing, in thousandths."""
    ambient_mean_milli_k: int = limit(
        2_000, "A probe follows the air only if its mean is this near to the air's (a difference)."
    )
    ambient_warmer_milli_k: int = limit(
        10_000, "A probe follows the air only if another core probe is this much warmer (a difference)."
    )
    silent_spacings: int = limit(3, "A probe is silent after this many of its usual spacings (a plain number).")
    silent_min_ms: int = limit(1 * HOUR_MS, "Never sooner than this: bins, and piles whose rule is running.")
    silent_min_calm_ms: int = limit(6 * HOUR_MS, "Never sooner than this: other piles.")
    ahead_ms: int = limit(5 * MINUTE_MS, "A reading further ahead of the clock than this is set aside.")
    late_ms: int = limit(5 * MINUTE_MS, "A reading older than this on arrival starts no waiting time.")
    hand_late_ms: int = limit(12 * HOUR_MS, "The same for a reading taken by hand, which people write down later.")
    hand_apart_milli_k: int = limit(
        5_000,
        "A hand reading further than this from every probe of the place asks for a look (a difference).",
    )


Thresholds = PileThresholds | BinThresholds | ProbeThresholds

ORDER: dict[type[Thresholds], tuple[tuple[str, str, str], ...]] = {
    PileThresholds: (
        ("warm_milli_c", "<", "hold_milli_c"),
        ("ready_milli_c", "<", "hold_milli_c"),
        ("ready_ambient_floor_milli_c", "<=", "ready_milli_c"),
        ("hold_milli_c", "<", "hot_milli_c"),
        ("hot_milli_c", "<", "too_hot_milli_c"),
        ("too_hot_milli_c", "<", "fire_milli_c"),
        ("fire_confirm_milli_c", "<", "fire_milli_c"),
        ("lost_above_milli_c", "<", "fire_milli_c"),
        ("moisture_low_milli_pct", "<=", "moisture_comfort_low_milli_pct"),
        ("moisture_comfort_low_milli_pct", "<", "moisture_comfort_high_milli_pct"),
        ("moisture_comfort_high_milli_pct", "<=", "moisture_high_milli_pct"),
        # Else a probe is absent within a silence that a line still bridges, and what comes of it hangs on who reads first.
        ("max_gap_ms", "<=", "lag_ms"),
    ),
    BinThresholds: (
        ("freezing_milli_c", "<", "cold_milli_c"),
        ("cold_milli_c", "<", "cool_milli_c"),
        ("cool_milli_c", "<", "warm_milli_c"),
        ("warm_milli_c", "<", "overheating_milli_c"),
        ("overheating_milli_c", "<=", "danger_all_milli_c"),
        ("danger_all_milli_c", "<=", "danger_any_milli_c"),
        ("too_dry_milli_pct", "<", "too_wet_milli_pct"),
        ("too_dry_milli_pct", "<=", "aim_low_milli_pct"),
        ("aim_low_milli_pct", "<", "aim_high_milli_pct"),
        ("aim_high_milli_pct", "<=", "too_wet_milli_pct"),
    ),
    ProbeThresholds: (
        ("gross_low_milli_c", "<", "gross_high_milli_c"),
        ("flat_suspect_ms", "<", "flat_fail_ms"),
    ),
}
"""Limits that must stand in this order, or the words for them would contradict each other; common practice."""
