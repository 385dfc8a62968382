"""The growth of a bed's stock: a rule of thumb, which says how rough it is.

Source: common practice, no published source.
"""

import math
from dataclasses import dataclass

DOUBLING_DAYS = (60, 90)
"""The days in which a well-kept stock doubles, at best and usually."""


@dataclass(frozen=True, slots=True)
class DaysToGrow:
    """The days in which a stock may grow to a weight."""

    soonest: int
    latest: int


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
    doublings = math.log2(max(1.0, need_g / have_g))
    return DaysToGrow(*(round(doublings * days) for days in DOUBLING_DAYS))
