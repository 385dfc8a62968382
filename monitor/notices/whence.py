"""Possible causes of a bin's heat: fresh food, the air, the sun. A message offers them; it never states the cause.

It names food only if the bin is clearly warmer than the air has been for a day, else the air; and the sun too if the bin is
warmer than the air and was not fed lately. Source: common practice, no published source.
"""

from monitor.notices.facts import Phrases


def whence(say: Phrases) -> str:
    """Return a sentence about possible causes of a bin's heat, with a blank before it; "" where none is known."""
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
