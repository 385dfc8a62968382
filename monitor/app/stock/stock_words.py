"""The yard's stock in words and as JSON: what is there, what spoils first, and what the record does not add up to."""

from collections.abc import Iterator
from typing import Any

from monitor.app.console.measures import Measures
from monitor.material import MaterialRecord, Node, NodeKind, Shelf
from monitor.mix import Feedstock
from monitor.model.delivery_risks import risk_clause
from monitor.model.harvest_names import WORMS
from monitor.model.times import DAY_MS, show_time

NAMELESS_MATERIAL = "material without a name"
"""The word for all that was used and of which nobody said what it was."""


def shelves_in_order(record: MaterialRecord, feedstocks: dict[str, Feedstock]) -> list[Shelf]:
    """Return the materials that ever came in or are short, what spoils first in front, then by the age of the oldest delivery.

    Args:
        record: The graph and the stock.
        feedstocks: The known feedstocks, by their names in small letters.
    """

    def order(shelf: Shelf) -> tuple[bool, bool, int]:
        known = feedstocks.get(shelf.material.casefold())
        there = shelf.open
        return not there, known is None or not known.spoils, there[0].time if there else 0

    # Worms are brought to a bed from anywhere, and are in stock only if somebody logged them as a delivery.
    shown = (
        one for one in record.shelves.values() if one.received or (one.short_g and one.material.casefold() != WORMS)
    )
    return sorted(shown, key=order)


def stock_lines(
    record: MaterialRecord, feedstocks: dict[str, Feedstock], measures: Measures, now: int
) -> Iterator[str]:
    """Yield the lines that answer `stock`.

    Args:
        record: The graph and the stock.
        feedstocks: The known feedstocks, by their names in small letters.
        measures: The yard's measures.
        now: The present, UTC ms.
    """
    shelves = shelves_in_order(record, feedstocks)
    if not shelves:
        yield (
            'Nothing is in stock by the record. Write down what comes in: heaptender log delivery "stable litter" '
            '"2 barrows" --from "the stable".'
        )
        return
    for shelf in shelves:
        known = feedstocks.get(shelf.material.casefold())
        spoils = ", use it first: it rots" if known is not None and known.spoils and shelf.open else ""
        yield f"{shelf.material or NAMELESS_MATERIAL}: {how_much(shelf, measures)}{spoils}"
        for one in shelf.open:
            mass = "an amount that nobody can weigh" if one.wet_g is None else measures.mass(one.wet_g)
            work = record.entries.get(entry_of(one.node.id))
            whom = f" from {work.source}" if work is not None and work.source else ""
            risk = "" if work is None else f", {risk_clause(work.risk, work.by)}"
            yield f"    {one.node.id}: {mass}{whom}, {age_words(now - one.time)}{risk}"
        if short := short_words(shelf, measures):
            yield f"    {short}, or count what is there (heaptender log counted)."
        if unmeasured := unmeasured_words(shelf):
            yield f"    {unmeasured}"


def stock_json(record: MaterialRecord, feedstocks: dict[str, Feedstock]) -> list[dict[str, Any]]:
    """Return the stock as plain JSON, masses in kg.

    Args:
        record: The graph and the stock.
        feedstocks: The known feedstocks, by their names in small letters.
    """
    return [
        {
            "material": shelf.material,
            "measured_kg": _share(shelf, measured=True),
            "estimated_kg": _share(shelf, measured=False),
            "delivered": shelf.received > 0,
            "short_kg": shelf.short_g / 1000,
            "uses_without_amount": shelf.unmeasured,
            "spoils": (known := feedstocks.get(shelf.material.casefold())) is not None and known.spoils,
            "deliveries": [
                {
                    "id": one.node.id,
                    "time": show_time(one.time),
                    "left_kg": None if one.wet_g is None else one.wet_g / 1000,
                    "measured": one.measured,
                    "risks": list(record.graph.risks.get(one.node, ())),
                    **risks_asked(record, one.node),
                }
                for one in shelf.open
            ],
        }
        for shelf in shelves_in_order(record, feedstocks)
    ]


def risks_asked(record: MaterialRecord, node: Node) -> dict[str, Any]:
    """Return whether anybody was asked about the risks of a delivery, and who said so, for JSON; empty for any other node."""
    work = record.entries.get(entry_of(node.id)) if node.kind is NodeKind.DELIVERY else None
    return {} if work is None else {"risks_asked": bool(work.risk), "risks_said_by": work.by}


def _share(shelf: Shelf, *, measured: bool) -> float:
    return sum(one.wet_g or 0 for one in shelf.open if one.measured is measured) / 1000


def short_words(shelf: Shelf, measures: Measures) -> str:
    """Return words where more of a material was used than came in, with the way to mend it; "" if nothing is wrong.

    A material of which no delivery was ever logged, such as a kitchen's scraps, is no stock that could be short.
    """
    if not shelf.short_g or not shelf.received:
        return ""
    return f"{measures.mass(shelf.short_g)} more was used than came in by the record: write down the missing delivery"


def unmeasured_words(shelf: Shelf) -> str:
    """Return how often a material was used without an amount since it was counted; "" if never, or if none ever came in."""
    if not shelf.unmeasured or not shelf.received:
        return ""
    times = "once" if shelf.unmeasured == 1 else f"{shelf.unmeasured} times"
    return f"used {times} without an amount since it was last counted, so there is less than this"


def how_much(shelf: Shelf, measures: Measures) -> str:
    """Return how much of a material is there, weighed and estimated apart."""
    there = shelf.open
    if not there and not shelf.received:
        used = f"{measures.mass(shelf.short_g)} used, " if shelf.short_g else ""
        return f"{used}never logged as a delivery"
    if not there:
        return "none left"
    weighed = sum(one.wet_g or 0 for one in there if one.measured)
    guessed = sum(one.wet_g or 0 for one in there if not one.measured)
    if not weighed and not guessed:
        return "some, nobody can say how much"
    if not guessed:
        return measures.mass(weighed)
    if not weighed:
        return f"about {measures.mass(guessed)}, estimated"
    return f"{measures.mass(weighed + guessed)}, of which {measures.mass(guessed)} is estimated"


def entry_of(id_: str) -> int:
    """Return the number of the entry that a delivery is called by, 0 if it is none."""
    return int(id_[1:]) if id_[1:].isdigit() else 0


def age_words(age: int) -> str:
    """Return an age (ms) in words: `today`, `3 days old`."""
    days = age // DAY_MS
    return "today" if days <= 0 else f"{days} day{'s' if days > 1 else ''} old"
