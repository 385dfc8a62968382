"""Facts about one worm bed that a rule of duration asks for."""

from collections.abc import Sequence
from dataclasses import dataclass

from monitor.model.words import BinKind


@dataclass(frozen=True, slots=True)
class Moist:
    """A measurement of a bed's moisture, as the range in which it lies: a probe's has no width, a squeeze's has.

    Attributes:
        time: When, UTC ms.
        low_milli_pct: The lower end, thousandths of a percent of wet mass.
        high_milli_pct: The upper end.
    """

    time: int
    low_milli_pct: int
    high_milli_pct: int


@dataclass(frozen=True, slots=True)
class Layer:
    """A feeding as the layer that it makes.

    Attributes:
        time: When, UTC ms.
        mm: Its thickness, mm; None if nobody can say.
    """

    time: int
    mm: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class BedFacts:
    """One bed.

    Attributes:
        kind: The kind of its bin; None if nobody said.
        indoors: Whether it stands indoors; None if nobody said.
        moist: Measurements of its moisture, in any order.
        layers: Its feedings, in any order.
    """

    kind: BinKind | None = None
    indoors: bool | None = None
    moist: Sequence[Moist] = ()
    layers: Sequence[Layer] = ()
