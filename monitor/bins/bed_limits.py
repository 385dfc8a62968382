"""The limits of a bed: the values at which excursions begin and end, and their delays; one statement serves all readings."""

from monitor.bins.state import BinState
from monitor.model.alarm_kinds import Alarm
from monitor.model.bounds import Limit, Side, falling, rising
from monitor.model.thresholds import BinThresholds
from monitor.model.units import Quantity


def heat_limits(state: BinState, limits: BinThresholds) -> tuple[Limit, ...]:
    """Return the limits of the temperature in the order in which a reading is compared with them."""
    band, every, one = limits.deadband_milli_k, limits.danger_all_milli_c, limits.danger_any_milli_c
    hot, frost = limits.overheating_milli_c, limits.freezing_milli_c
    near = max(limits.near_freezing_milli_c, frost)
    all_beyond = rising(every + 1, every - band, limits.danger_all_dwell_ms, Side.EVERY, Side.LAST_EVERY)
    dwell = limits.overheating_dwell_ms
    return (
        Limit(Alarm.WORMS_IN_DANGER, state.danger_all, all_beyond, every, by="all"),
        Limit(Alarm.WORMS_IN_DANGER, state.danger_any, rising(one + 1, one - band, 0), one, by="any"),
        Limit(Alarm.OVERHEATING, state.overheating, rising(hot, hot - band, dwell), hot),
        # The worse limit comes first, so that the lesser one knows whether it has anything to add.
        Limit(Alarm.FREEZING, state.freezing, falling(frost, frost + band, 0), frost, stage=1),
        Limit(Alarm.FREEZING, state.near_freezing, falling(near, near + band, 0), near),
    )


def damp_limits(state: BinState, limits: BinThresholds) -> tuple[Limit, ...]:
    """Return the limits of the moisture in the order in which a reading is compared with them."""
    band, wet, dry = limits.moisture_deadband_milli_pct, limits.too_wet_milli_pct, limits.too_dry_milli_pct
    damp = Quantity.MOISTURE
    return (
        Limit(Alarm.TOO_WET, state.too_wet, rising(wet + 1, wet - band, limits.too_wet_dwell_ms), wet, damp),
        Limit(Alarm.TOO_DRY, state.too_dry, falling(dry - 1, dry + band, limits.too_dry_dwell_ms), dry, damp),
    )
