"""The stock as a mix can use it: how much of each material is there, and what to know before it goes in."""

from dataclasses import dataclass

from monitor.app.stock.stock_words import shelves_in_order
from monitor.material import MaterialRecord, Shelf
from monitor.mix import Feedstock


@dataclass(frozen=True, slots=True)
class InStock:
    """A material that is there.

    Attributes:
        material: Its name, as it was written down first.
        wet_g: How much there is, g; None if nobody can say.
        estimated: Whether some of it was not weighed, or was used without an amount.
        spoils: Whether it rots while it waits.
        risks: What its deliveries may bring along.
    """

    material: str
    wet_g: int | None
    estimated: bool
    spoils: bool
    risks: tuple[str, ...]


def stock_for_mixing(record: MaterialRecord, feedstocks: dict[str, Feedstock]) -> list[InStock]:
    """Return the materials that are there, what spoils first in front.

    Args:
        record: The graph and the stock.
        feedstocks: The known feedstocks, by their names in small letters.
    """
    return [_in_stock(shelf, record, feedstocks) for shelf in shelves_in_order(record, feedstocks) if shelf.open]


def _in_stock(shelf: Shelf, record: MaterialRecord, feedstocks: dict[str, Feedstock]) -> InStock:
    there, known = shelf.open, feedstocks.get(shelf.material.casefold())
    masses = [one.wet_g for one in there if one.wet_g is not None]
    risks = dict.fromkeys(risk for one in there for risk in record.graph.risks.get(one.node, ()))
    return InStock(
        material=shelf.material,
        wet_g=sum(masses) if masses else None,
        estimated=len(masses) < len(there) or shelf.unmeasured > 0 or not all(one.measured for one in there),
        spoils=known is not None and known.spoils,
        risks=tuple(risks),
    )
