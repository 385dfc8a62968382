"""Finds what people name of the graph of material, and names new lots."""

import re
from collections.abc import Sequence
from datetime import datetime
from zoneinfo import ZoneInfo

from monitor.app.entries.naming import place_meant
from monitor.material import MaterialRecord, Node, NodeKind, Outcome, outcomes_of
from monitor.model.errors import MisuseError
from monitor.model.settings import Settings

SOURCES = (NodeKind.HARVEST, NodeKind.FRACTION, NodeKind.BATCH, NodeKind.LOT)
"""What can become a lot."""


def source_named(record: MaterialRecord, name: str, settings: Settings) -> Node:
    """Return the harvest, fraction, heap or lot of an id; a pile means its newest heap.

    Args:
        record: The graph and the log.
        name: The id, or a pile.
        settings: The settings in force, for the names of places.

    Raises:
        MisuseError: There is none, or it cannot become a lot; the message names the newest that can.
    """
    found = record.graph.named(name.strip())
    if found is None:
        heaps = _of_place(record, place_meant(settings, name.strip()), NodeKind.BATCH)
        found = heaps[-1] if heaps else None
    if found is not None and found.kind in SOURCES:
        return found
    newest = [one.id for one in record.graph.nodes(*SOURCES) if one.kind is not NodeKind.LOT][-3:]
    if found is not None:
        wrong = f"{found.id} is a {found.kind.value}, which becomes no lot by itself"
    else:
        wrong = f'There is no harvest or heap "{name}"'
    right = f"the newest are {', '.join(reversed(newest))}" if newest else "a harvest is written down first"
    raise MisuseError(f"{wrong}; {right}.")


def nodes_named(record: MaterialRecord, name: str, settings: Settings) -> list[Node]:
    """Return the nodes that a name means: that of an id, or all beds of a bin, or all heaps that were built on a pile.

    Args:
        record: The graph and the log.
        name: The id of a delivery, heap, bed, harvest or lot, or a place.
        settings: The settings in force, for the names of places.

    Raises:
        MisuseError: Nothing has that name.
    """
    found = record.graph.named(name.strip())
    if found is not None:
        return [found]
    of_place = _of_place(record, place_meant(settings, name.strip()), NodeKind.BED, NodeKind.BATCH)
    if of_place:
        return of_place
    raise MisuseError(
        f'Nothing in the record is called "{name}"; name a delivery (d14), a heap, a bin, a harvest (h31) or a lot: '
        "`heaptender log list` and `heaptender stock` show them."
    )


def recalled(record: MaterialRecord, nodes: Sequence[Node], since: int | None) -> tuple[list[Outcome], list[Outcome]]:
    """Return the lots that have something of some nodes, and everything else that came of them.

    Args:
        record: The graph and the log.
        nodes: The nodes.
        since: Only what left them from then on (UTC ms) counts.
    """
    lots: dict[Node, Outcome] = {}
    others: dict[Node, Outcome] = {}
    for node in nodes:
        own = [Outcome(node, certain=True, since=0)] if node.kind is NodeKind.LOT else []
        for one in (*own, *outcomes_of(record.graph, node, since)):
            found = lots if one.node.kind is NodeKind.LOT else others
            found[one.node] = _surer(found.get(one.node), one)
    return list(lots.values()), list(others.values())


def lot_id(record: MaterialRecord, sources: Sequence[Node], at: int, settings: Settings) -> str:
    """Return a new lot's id: its place and the yard's own day, and a number where that is taken.

    Args:
        record: The graph and the log.
        sources: What it is made of.
        at: When it is made, UTC ms.
        settings: The settings in force, for the time zone.
    """
    places = {_place_of(record, one) for one in sources}
    place = places.pop() if len(places) == 1 else "yard"
    day = datetime.fromtimestamp(at / 1000, ZoneInfo(settings.site.time_zone)).date().isoformat()
    taken = {work.lot.casefold() for work in record.entries.values()}
    id_, count = f"lot-{place}-{day}", 1
    while id_.casefold() in taken:
        count += 1
        id_ = f"lot-{place}-{day}-{count}"
    return id_


def _of_place(record: MaterialRecord, place: str, *kinds: NodeKind) -> list[Node]:
    """Return the beds and heaps that began on a place; their ids are the place, the day, and perhaps a number."""
    day = re.compile(re.escape(place) + r"-[0-9]{4}-[0-9]{2}-[0-9]{2}(-[0-9]+)?")
    return [one for one in record.graph.nodes(*kinds) if day.fullmatch(one.id)]


def _surer(known: Outcome | None, found: Outcome) -> Outcome:
    if known is None:
        return found
    return Outcome(found.node, known.certain or found.certain, min(known.since, found.since))


def _place_of(record: MaterialRecord, node: Node) -> str:
    """Return the place that a node came from: a harvest's bin, or the pile where a heap was built."""
    into = record.graph.into.get(node, ())
    if node.kind in (NodeKind.HARVEST, NodeKind.FRACTION) and into:
        return record.entries[into[0].entry].place
    return node.id.rsplit("-", 3)[0] if node.kind is NodeKind.BATCH else "yard"
