"""Where the heat of a bin may come from: fresh food, the air, the sun. Always a possibility, never stated as the cause.

Food is named only where the bin is clearly warmer than the air has been for a day; else the air is, and the sun beside it
where the bin is warmer than the air without having been fed. Source: common practice, no published source.
"""

from monitor.notices.facts import Phrases


def whence(say: Phrases) -> str:
    """Return a sentence about where a bin's heat may come from, with a blank before it; nothing where nothing is known."""
    known = say.settings.bins.get(say.facts.place)
    bed = say.facts.bed
    hottest = bed.hottest_milli if bed.hottest_milli is not None else say.facts.value_milli
    if known is None or hottest is None:
        return ""
    limits = known.thresholds
    fed, air = bed.fed_at, bed.air_high_milli
    recent = fed is not None and 0 <= say.facts.since - fed <= limits.fresh_food_ms
    if air is None:
        return f" Fed {say.time(fed)}: fresh food or a hot day may be the cause." if recent and fed is not None else ""
    if recent and fed is not None and hottest - air > limits.fresh_food_above_air_milli_k:
        return f" Fed {say.time(fed)}: fresh food may be the cause."
    sun = "; with the sun on it that" if hottest > air and not recent else ", which"
    return f" The air reached {say.number(air)} in 24 h{sun} may be the cause."
