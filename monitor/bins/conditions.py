"""A bin's two conditions, thermal and moisture, as pure functions of what its probes say now.

1. The warm side is judged at the hottest bedding probe, the cold side at the coldest; too wet at the wettest, too dry
   at the driest. One word an axis, the worst: overheating, cold, warm, cool, comfort.
2. A word is entered at its limit and left only past its deadband.
3. `unknown` while all probes of the axis are silent or were never heard.
"""

from collections.abc import Iterable

from monitor.model.thresholds import BinThresholds
from monitor.model.words import Dampness, Thermal


def thermal_word(values: Iterable[int], before: Thermal, overheating: bool, limits: BinThresholds) -> Thermal:
    """Return the thermal condition.

    Args:
        values: Newest temperatures of the bedding probes that are not silent, thousandths of a degree Celsius.
        before: The condition until now.
        overheating: Whether the overheating excursion (limit, delay, deadband) is on.
        limits: The bin's thresholds.
    """
    known = list(values)
    if not known:
        return Thermal.UNKNOWN
    hottest, coldest = max(known), min(known)
    band = limits.deadband_milli_k
    if overheating:
        return Thermal.OVERHEATING
    if _below(coldest, limits.cold_milli_c, band, before is Thermal.COLD):
        return Thermal.COLD
    if _above(hottest, limits.warm_milli_c, band, before in (Thermal.WARM, Thermal.OVERHEATING)):
        return Thermal.WARM
    if _below(coldest, limits.cool_milli_c, band, before in (Thermal.COOL, Thermal.COLD)):
        return Thermal.COOL
    return Thermal.COMFORT


def moisture_word(values: Iterable[int], before: Dampness, limits: BinThresholds) -> Dampness:
    """Return the moisture condition.

    Where one spot is too wet and another too dry, the word is the one until now, else too wet.

    Args:
        values: Newest moistures of the probes that are not silent and comparable, thousandths of a percent of wet mass.
        before: The condition until now.
        limits: The bin's thresholds.
    """
    known = list(values)
    if not known:
        return Dampness.UNKNOWN
    band = limits.moisture_deadband_milli_pct
    wet = _above(max(known), limits.too_wet_milli_pct, band, before is Dampness.TOO_WET)
    dry = _below(min(known), limits.too_dry_milli_pct, band, before is Dampness.TOO_DRY)
    if wet and dry:
        return before if before is Dampness.TOO_DRY else Dampness.TOO_WET
    if wet:
        return Dampness.TOO_WET
    return Dampness.TOO_DRY if dry else Dampness.COMFORT


def _above(value: int, limit: int, band: int, was: bool) -> bool:
    return value >= limit - band if was else value > limit


def _below(value: int, limit: int, band: int, was: bool) -> bool:
    return value <= limit + band if was else value < limit
