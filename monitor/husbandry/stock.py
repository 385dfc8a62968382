"""The stock of a bed: counted, weighed or sampled, and how long it takes to grow; each says how rough it is.

1. A sample is the worms under one square foot of the bed, weighed. Three of them give the stock: their mean times the surface;
   the lightest and the heaviest give the spread.
2. 1,000 grown worms weigh about 1 lb; 800 to 1,500 may make one.
3. A well-kept stock doubles in 60 to 90 days. Above 3 lb/ft² a bed is full: more worms need another bed.
4. A harvest takes worms along. If they lay evenly in the bed, they would be in it by its share of the depth; as most stay near
   the food, that is the most it can be.

Source: common practice, no published source; the bound of 4 is ours.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from statistics import fmean

from monitor.model.amounts import UNITS

DOUBLING_DAYS = (60, 90)
"""The days in which a well-kept stock doubles, at best and usually."""
CORE_MM2 = float(UNITS["ft2"].factor or 0)
CORES = 3
"""How many samples one should take."""
PER_LB = (1500, 1000, 800)
"""How many grown worms make a pound: small ones, usual ones, large ones."""
_LB_G = UNITS["lb"].factor or Fraction(0)
MOST_G_MM2 = 3 * float(_LB_G) / CORE_MM2


@dataclass(frozen=True, slots=True)
class DaysToGrow:
    """The days in which a stock may grow to a weight."""

    soonest: int
    latest: int


@dataclass(frozen=True, slots=True)
class Weight:
    """A weight in grams with its bounds, by a rule of thumb or by a spread."""

    least: float
    usual: float
    most: float


def days_to_grow(have_g: int, need_g: int) -> DaysToGrow:
    """Return how long a stock takes to grow: it doubles in 60 to 90 days.

    Args:
        have_g: The weight of the worms now, above 0.
        need_g: The weight that is wanted.

    Returns:
        The days; 0 where there are enough.

    Raises:
        ValueError: There are no worms.
    """
    if have_g <= 0:
        raise ValueError("without worms no stock grows")
    doublings = max(0.0, math.log2(need_g / have_g)) if need_g > 0 else 0.0
    return DaysToGrow(*(round(doublings * days) for days in DOUBLING_DAYS))


def weight_of(count: int) -> Weight:
    """Return the weight of a number of grown worms."""
    return Weight(*(count * float(_LB_G) / number for number in PER_LB))


def stock_by_cores(cores_g: Sequence[float], surface_mm2: float) -> Weight:
    """Return the stock of a bed by the worms under some square feet of it.

    Args:
        cores_g: The worms under each square foot, in grams; at least one.
        surface_mm2: The surface of the bed in square millimetres.
    """
    times = surface_mm2 / CORE_MM2
    return Weight(min(cores_g) * times, fmean(cores_g) * times, max(cores_g) * times)


def most_in_harvest(stock_g: float, layer_mm: float, depth_mm: float) -> float:
    """Return the most worms that a harvested layer can have taken along, in grams, were they evenly spread.

    Args:
        stock_g: The stock before, in grams.
        layer_mm: The harvested layer.
        depth_mm: The depth of the bed before.
    """
    return stock_g * min(1.0, layer_mm / depth_mm) if depth_mm > 0 else stock_g
