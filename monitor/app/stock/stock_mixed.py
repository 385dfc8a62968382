"""The stock as part of a mix that is asked for: what rots goes in whole, the rest as needed."""

from collections.abc import Iterable, Sequence

from monitor.app.mixing import Asked
from monitor.app.stock.stock_offered import InStock
from monitor.mix import Offer, Part


def with_stock(asked: Asked, stock: Sequence[InStock]) -> tuple[Asked, tuple[str, ...]]:
    """Return a mix that is asked for, with what is in stock beside what was named.

    Args:
        asked: The mix; what it names counts as it was named.
        stock: What is in stock, what spoils first in front.

    Returns:
        The mix, and the names of what was left out: nobody knows the figures of it, or how much there is.
    """
    known = {name.casefold(): one for name, one in asked.known.items()}
    named = {one.material.name.casefold() for one in asked.whole} | {
        one.material.name.casefold() for one in asked.offers
    }
    parts, offers, left_out = list[Part](), list[Offer](), list[str]()
    for one in _unnamed(stock, named):
        material = known.get(one.material.casefold())
        if material is None or one.wet_g is None:
            left_out.append(one.material)
        elif one.spoils:
            parts.append(Part(material, one.wet_g))
        else:
            offers.append(Offer(material, one.wet_g))
    return Asked((*asked.whole, *parts), (*asked.offers, *offers), asked.known), tuple(left_out)


def _unnamed(stock: Iterable[InStock], named: set[str]) -> Iterable[InStock]:
    return (one for one in stock if one.material.casefold() not in named and one.wet_g != 0)
