"""Sums of masses, with the share that was weighed, and how far they may be off where full containers were weighed.

A container's content is the mean of the full ones that were weighed, so all containers of one kind and material are off by
the same amount, in the same direction: their error is the standard error of the mean times their number. Different kinds of
containers are off independently of each other, so their errors add as squares do.

Source: GUM (JCGM 100:2008), 4.2.3 (standard deviation of the mean) and 5.2.2 (correlated inputs add linearly); from memory.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass

from monitor.material import Movement


@dataclass(frozen=True, slots=True)
class Sum:
    """A sum of masses.

    Attributes:
        entries: How many entries it is the sum of.
        measured_g: What was weighed, g.
        estimated_g: What was estimated by volume and density, g.
        without: How many of the entries have a part that nobody can weigh.
        dry_g: The dry matter of what is known, g.
        undried: How many of the entries have a part whose dry matter nobody knows.
    """

    entries: int = 0
    measured_g: int = 0
    estimated_g: int = 0
    without: int = 0
    dry_g: int = 0
    undried: int = 0

    @property
    def known_g(self) -> int:
        """All that is known, weighed or estimated, g."""
        return self.measured_g + self.estimated_g

    @property
    def measured_share(self) -> float | None:
        """The share of the known mass that was weighed, 0 to 1; None if nothing is known."""
        return self.measured_g / self.known_g if self.known_g else None


@dataclass(frozen=True, slots=True)
class Spread:
    """The error of the mass of one entry in containers.

    Attributes:
        container: The kind of container and its material: entries that share it are off together.
        error_g: The standard error of the mean times the number of containers, g; None if it was weighed once, so that
            nobody knows.
    """

    container: str
    error_g: float | None


@dataclass(frozen=True, slots=True)
class Doubt:
    """The error of a sum.

    Attributes:
        error_g: Its standard error, g; 0 where no full containers were weighed twice.
        once: How many of its entries are in containers of which a single full one was weighed.
    """

    error_g: float = 0.0
    once: int = 0


def sum_of(movements: Iterable[Movement]) -> Sum:
    """Return the sum of some movements; those of one entry count as one entry."""
    entries, without, undried = set[int](), set[int](), set[int]()
    measured = estimated = dry = 0
    for one in movements:
        entries.add(one.entry)
        if one.wet_g is None:
            without.add(one.entry)
        elif one.measured:
            measured += one.wet_g
        else:
            estimated += one.wet_g
        if one.dry_g is None:
            undried.add(one.entry)
        else:
            dry += one.dry_g
    return Sum(len(entries), measured, estimated, len(without), dry, len(undried))


def doubt_of(spreads: Iterable[Spread]) -> Doubt:
    """Return how far the sum of some entries in containers may be off."""
    together: dict[str, float] = {}
    once = 0
    for one in spreads:
        if one.error_g is None:
            once += 1
        else:
            together[one.container] = together.get(one.container, 0.0) + one.error_g
    return Doubt(math.hypot(*together.values()), once)
