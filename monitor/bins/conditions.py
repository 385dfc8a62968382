"""A bin's two conditions, thermal and moisture, as ladders: the first rung that holds is the word.

1. The warm side is judged at the hottest bedding probe, the cold side at the coldest; too wet at the wettest, too dry
   at the driest. One word an axis, the worst: overheating, cold, warm, cool, comfort.
2. A word is entered at its limit and left only past its deadband.
3. `unknown` while all probes of the axis are silent or were never heard.
"""

from typing import NamedTuple

from monitor.model.bounds import HIGHEST, LOWEST, Side, Sides, Span
from monitor.model.thresholds import BinThresholds
from monitor.model.words import Dampness, Thermal

Word = Thermal | Dampness


class Ladder(NamedTuple):
    """Words, the worst first, each with the span in which it holds; `last` holds if none of them does."""

    rungs: tuple[tuple[Word, Span], ...]
    last: Word

    def word(self, sides: Sides) -> Word:
        """Return the word for the probes' numbers."""
        for word, span in self.rungs:
            if span.has(sides):
                return word
        return self.last

    def keeps(self, word: Word | None) -> list[Span] | None:
        """Return the spans in which a word is the one that holds; None if it never is."""
        found: list[Span] = []
        for rung, span in self.rungs:
            if rung is word:
                return [*found, span]
            found.append(span.rest())
        return found if word is self.last else None


def heat_ladder(limits: BinThresholds, before: Thermal | None, overheating: bool) -> Ladder:
    """Return the ladder of the thermal condition.

    Args:
        limits: The bin's thresholds.
        before: The condition until now.
        overheating: Whether the overheating excursion (limit, delay, deadband) is on.
    """
    if overheating:
        return Ladder((), Thermal.OVERHEATING)
    past = limits.deadband_milli_k + 1
    cold = limits.cold_milli_c + past * (before is Thermal.COLD)
    warm = limits.warm_milli_c - past * (before in (Thermal.WARM, Thermal.OVERHEATING))
    cool = limits.cool_milli_c + past * (before in (Thermal.COOL, Thermal.COLD))
    return Ladder(
        ((Thermal.COLD, _below(cold)), (Thermal.WARM, _above(warm)), (Thermal.COOL, _below(cool))), Thermal.COMFORT
    )


def damp_ladder(limits: BinThresholds, before: Dampness | None) -> Ladder:
    """Return the ladder of the moisture condition.

    Where one spot is too wet and another too dry, the word is the one until now, else too wet.

    Args:
        limits: The bin's thresholds.
        before: The condition until now.
    """
    past = limits.moisture_deadband_milli_pct + 1
    wet = (Dampness.TOO_WET, _above(limits.too_wet_milli_pct - past * (before is Dampness.TOO_WET)))
    dry = (Dampness.TOO_DRY, _below(limits.too_dry_milli_pct + past * (before is Dampness.TOO_DRY)))
    return Ladder((dry, wet) if before is Dampness.TOO_DRY else (wet, dry), Dampness.COMFORT)


def _above(limit: int) -> Span:
    return Span(Side.HIGH, limit + 1, HIGHEST)


def _below(limit: int) -> Span:
    return Span(Side.LOW, LOWEST, limit - 1)
