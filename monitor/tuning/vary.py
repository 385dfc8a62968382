"""The settings to try: thresholds of one place, each over a range, all together as a grid or as drawn sets.

Rules:
1. A *set* is a tuple of values, one for each `Vary`, in their order; integers in the unit of the threshold's field.
2. The grid goes through every combination, the last threshold fastest. It is used if it has no more sets than asked for.
3. Drawn sets fill the ranges evenly and depend on the seed alone: points of Halton's sequence, shifted by a random amount in
   each direction, and moved to the nearest step of the range. No set comes twice.

Source: J. H. Halton 1960, Numerische Mathematik 2, 84-90 (the sequence); the random shift is that of Cranley and Patterson
1976. From memory; that points fill the square evenly is a test.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import product
from random import Random

from monitor.model.settings import Settings
from monitor.model.thresholds import BinThresholds, PileThresholds

Set = tuple[int, ...]
"""A value for each threshold that is varied, in their order."""

PRIMES = (2, 3, 5, 7, 11, 13, 17, 19)
MOST_VARIED = len(PRIMES)
"""Most thresholds that can be varied at once; with more, no number of sets would say anything."""

BINS, PILES = "bins", "piles"


@dataclass(frozen=True, slots=True, kw_only=True)
class Vary:
    """One threshold and the values it may take.

    Attributes:
        section: `bins` or `piles`.
        place: The bin or pile.
        field: The field of `BinThresholds` or `PileThresholds`.
        values: Rising, in the field's own unit.
    """

    section: str
    place: str
    field: str
    values: tuple[int, ...]

    def __post_init__(self) -> None:
        """Refuse values that make no sense; `app` has reported them to people before."""
        if not self.values or list(self.values) != sorted(set(self.values)):
            raise ValueError(f"{self.field}: the values must rise, and there must be one")


def today(settings: Settings, varies: Sequence[Vary]) -> Set:
    """Return the values in force.

    Raises:
        KeyError: There is no such place.
    """
    return tuple(int(getattr(_thresholds(settings, vary), vary.field)) for vary in varies)


def applied(settings: Settings, varies: Sequence[Vary], values: Set) -> Settings:
    """Put a set into settings.

    Args:
        settings: Stay as they are.
        varies: The thresholds that are varied; a place that the settings lack is left out.
        values: One value for each.

    Returns:
        The new settings.
    """
    for vary, value in zip(varies, values, strict=True):
        if vary.section == BINS and vary.place in settings.bins:
            bed = settings.bins[vary.place]
            bed = replace(bed, thresholds=replace(bed.thresholds, **{vary.field: value}))
            settings = replace(settings, bins={**settings.bins, vary.place: bed})
        elif vary.section == PILES and vary.place in settings.piles:
            pile = settings.piles[vary.place]
            pile = replace(pile, thresholds=replace(pile.thresholds, **{vary.field: value}))
            settings = replace(settings, piles={**settings.piles, vary.place: pile})
    return settings


def _thresholds(settings: Settings, vary: Vary) -> BinThresholds | PileThresholds:
    if vary.section == BINS:
        return settings.bins[vary.place].thresholds
    return settings.piles[vary.place].thresholds


def size(varies: Sequence[Vary]) -> int:
    """Return the number of sets in the whole grid."""
    count = 1
    for vary in varies:
        count *= len(vary.values)
    return count


def grid(varies: Sequence[Vary]) -> list[Set]:
    """Return every combination."""
    return list(product(*(vary.values for vary in varies)))


def drawn(varies: Sequence[Vary], wanted: int, seed: int) -> list[Set]:
    """Draw different sets that fill the ranges evenly.

    Args:
        varies: The thresholds that are varied.
        wanted: Number of sets.
        seed: Decides the random shift.

    Returns:
        At most `wanted` sets; fewer if the grid is hardly larger.

    Raises:
        ValueError: More than `MOST_VARIED` thresholds are varied.
    """
    if len(varies) > MOST_VARIED:
        raise ValueError(f"{len(varies)} thresholds are varied; {MOST_VARIED} is the most")
    rng = Random(seed)
    shifts = [rng.random() for _ in varies]
    found: dict[Set, None] = {}
    # Stop after many points: near the size of the grid most points fall on steps taken before.
    for number in range(1, 50 * wanted + 1):
        point = tuple(
            vary.values[int((_halton(number, base) + shift) % 1.0 * len(vary.values))]
            for vary, base, shift in zip(varies, PRIMES, shifts, strict=False)
        )
        found[point] = None
        if len(found) == wanted:
            break
    return list(found)


def sets_of(varies: Sequence[Vary], wanted: int, seed: int) -> list[Set]:
    """Choose the sets to try.

    Args:
        varies: The thresholds that are varied.
        wanted: Most sets to try.
        seed: Decides which sets are drawn.

    Returns:
        The grid if it has at most `wanted` sets, else drawn sets.
    """
    return grid(varies) if size(varies) <= wanted else drawn(varies, wanted, seed)


def _halton(number: int, base: int) -> float:
    value, share = 0.0, 1.0
    while number:
        share /= base
        number, digit = divmod(number, base)
        value += share * digit
    return value
