"""The yard behind a log: everything that the log alone does not say of material."""

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, field
from typing import Protocol

from monitor.material.brought import Heaps
from monitor.material.movements import Weighed
from monitor.model.amounts import Amount


class Scales(Protocol):
    """Tells the mass of an amount of a material."""

    def weigh(self, material: str, amount: Amount) -> Weighed | None:
        """Return its mass; None if nobody can say."""


@dataclass(frozen=True, slots=True)
class YardOfMaterial:
    """The yard behind a log: everything that the log alone does not say.

    Attributes:
        heaps: Which heap lay where.
        scales: The mass of amounts.
        bins: Ids of the worm bins.
        day_of: Returns the yard's own day of an instant (UTC ms), `2026-10-05`.
        begun: The day on which the bed of a bin was begun, by bin, in the form of `day_of`; as far as somebody said so.
    """

    heaps: Heaps
    scales: Scales
    bins: Collection[str]
    day_of: Callable[[int], str]
    begun: Mapping[str, str] = field(default_factory=dict)
