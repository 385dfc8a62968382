"""The values of a picture of a mix: where it lies in moisture and C/N, its bands, and its materials."""

from dataclasses import dataclass
from typing import NamedTuple


class Stretch(NamedTuple):
    """A stretch between two values, both within it."""

    low: float
    high: float

    def holds(self, value: float) -> bool:
        """Return whether a value lies within it, as far as a picture shows it (to half of its last written digit)."""
        return self.low - 0.05 <= value <= self.high + 0.05


class Spread(NamedTuple):
    """A figure with the ends between which it may lie."""

    low: float
    value: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class MixMaterial:
    """A material.

    Attributes:
        name: As people call it.
        moisture: Water, % of wet mass.
        cn: Carbon to nitrogen by mass; None if it holds no nitrogen.
        taken: Whether some of it is in the mix.
    """

    name: str
    moisture: float
    cn: float | None
    taken: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class MixPicture:
    """A mix among its limits.

    Attributes:
        moisture: Its moisture, % of wet mass.
        cn: Its carbon to nitrogen by mass; None if nothing in it holds nitrogen.
        moisture_best, cn_best: Between which values both should lie.
        moisture_must, cn_must: Between which values both have to lie.
        materials: Its materials and those that were left out.
        width: Size across, units; at least 276.
        title, words: A name and a description in sentences; "": ours.
    """

    moisture: Spread
    cn: Spread | None
    moisture_best: Stretch
    cn_best: Stretch
    moisture_must: Stretch
    cn_must: Stretch
    materials: tuple[MixMaterial, ...] = ()
    width: int = 360
    title: str = ""
    words: str = ""
