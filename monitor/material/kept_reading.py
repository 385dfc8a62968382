"""A reading of the log as plain values, from which it can be gone on with as if it had never stopped.

Nodes are numbered in the order in which they come up, and movements are columns.
"""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any, Self

from monitor.material.left import Left
from monitor.material.log_order import first_emptied, harvested_whole
from monitor.material.log_reading import LogReading
from monitor.material.movements import Movement, Node, NodeKind
from monitor.material.open_together import OpenTogether
from monitor.material.shelf import OnShelf, Shelf
from monitor.material.yard_of_material import YardOfMaterial
from monitor.model.work import Work

_KINDS = tuple(NodeKind)


@dataclass(slots=True)
class KeptReading(LogReading):
    """A reading that can be kept."""

    @classmethod
    def of(cls, ordered: Sequence[tuple[int, Work]], yard: YardOfMaterial) -> Self:
        """Read a whole log.

        Args:
            ordered: (number, work) of every entry that stands, in order (`in_order`).
            yard: The yard behind the log.
        """
        reading = cls(yard, harvested_whole(ordered), first_emptied(ordered))
        reading.take(ordered)
        return reading

    def kept(self) -> dict[str, Any]:
        """Return the reading as plain values, which JSON can hold."""
        numbers: dict[Node, int] = {}

        def number(node: Node) -> int:
            return numbers.setdefault(node, len(numbers))

        shelves = list(self.shelves.values())
        at = {id(shelf): position for position, shelf in enumerate(shelves)}
        return {
            "moves": _columns(self.moves, numbers),
            "shelves": [[name, *_plain_shelf(shelf, numbers)] for name, shelf in self.shelves.items()],
            "shelf_of": [(number(node), at[id(shelf)]) for node, shelf in self._shelf_of.items()],
            "pools": [[name, *pool.kept(number)] for name, pool in self._pools.items()],
            "beds": [(place, number(bed)) for place, bed in self._beds.items()],
            "named": [(name, number(node)) for name, node in self._nodes.items()],
            "left": [
                (number(node), one.wet_g, one.dry_g, one.unclear, one.undried, one.boundless)
                for node, one in self._left.items()
            ],
            "harvests": [(place, number(harvest)) for place, harvest in self._harvests.items()],
            "risks": [(number(node), risks) for node, risks in self.graph.risks.items()],
            "first_emptied": self.emptied,
            "nodes": [[_KINDS.index(one.kind) for one in numbers], [one.id for one in numbers]],
        }  # fmt: skip

    @classmethod
    def restored(cls, kept: dict[str, Any], yard: YardOfMaterial, *, goes_on: bool) -> Self:
        """Return a reading that was kept.

        Args:
            kept: Its plain values.
            yard: The yard behind the log.
            goes_on: Whether entries are to be read on; if not, only graph and stock are right.
        """
        nodes = [Node(_KINDS[kind], id_) for kind, id_ in zip(*kept["nodes"], strict=True)]
        reading = cls(yard, set(), dict(kept["first_emptied"]))
        reading.shelves = {name: _shelf(plain, nodes) for name, *plain in kept["shelves"]}
        reading.graph.risks = {nodes[node]: tuple(risks) for node, risks in kept["risks"]}
        reading.moves = _moves(kept["moves"], nodes)
        reading.graph.into = _by_node(kept["moves"][_TARGET], reading.moves, nodes)
        reading.graph.out_of = _by_node(kept["moves"][_SOURCE], reading.moves, nodes)
        if not goes_on:
            return reading
        reading._nodes = {name: nodes[node] for name, node in kept["named"]}
        reading._left = {nodes[node]: Left(*left) for node, *left in kept["left"]}
        shelves = list(reading.shelves.values())
        reading._shelf_of = {nodes[node]: shelves[shelf] for node, shelf in kept["shelf_of"]}
        reading._pools = {name: OpenTogether.restored(pool, nodes) for name, *pool in kept["pools"]}
        reading._beds = {place: nodes[bed] for place, bed in kept["beds"]}
        reading._harvests = {place: nodes[harvest] for place, harvest in kept["harvests"]}
        return reading


def _columns(moves: Sequence[Movement], numbers: dict[Node, int]) -> list[Any]:
    if not moves:
        return [[]] * _COLUMNS
    time, entry, source, target, wet, dry, measured, certain, in_part = zip(*moves, strict=True)
    numbered = numbers.setdefault
    return [
        time, entry,
        [None if node is None else numbered(node, len(numbers)) for node in source],
        [numbered(node, len(numbers)) for node in target],
        wet, dry,
        [m | c << 1 | p << 2 for m, c, p in zip(measured, certain, in_part, strict=True)],
    ]  # fmt: skip


_COLUMNS, _SOURCE, _TARGET = 7, 2, 3
_FLAGS = tuple((bool(one & 1), bool(one & 2), bool(one & 4)) for one in range(8))


def _moves(columns: Sequence[Sequence[Any]], nodes: Sequence[Node]) -> list[Movement]:
    time, entry, source, target, wet, dry, flags = columns
    measured, certain, in_part = zip(*(_FLAGS[one] for one in flags), strict=True) if flags else ((), (), ())
    rows = zip(
        time, entry, [None if one is None else nodes[one] for one in source], [nodes[one] for one in target], wet, dry,
        measured, certain, in_part, strict=True,
    )  # fmt: skip
    # The tuples are made without a call of Python's own for each: there are hundreds of thousands of them.
    return list(map(partial(tuple.__new__, Movement), rows))


def _by_node(
    ends: Sequence[int | None], moves: Sequence[Movement], nodes: Sequence[Node]
) -> dict[Node, list[Movement]]:
    """Return the movements of each node, by the number of the node that each has at one end."""
    found = defaultdict[int, list[Movement]](list)
    for end, move in zip(ends, moves, strict=True):
        if end is not None:
            found[end].append(move)
    return {nodes[end]: some for end, some in found.items()}


def _plain_shelf(shelf: Shelf, numbers: dict[Node, int]) -> list[Any]:
    there = [
        (numbers.setdefault(one.node, len(numbers)), one.time, one.wet_g, one.dry_g, one.measured) for one in shelf.open
    ]
    return [shelf.material, shelf.received, shelf.short_g, shelf.unmeasured, there]


def _shelf(plain: Sequence[Any], nodes: Sequence[Node]) -> Shelf:
    material, received, short_g, unmeasured, there = plain
    return Shelf(material, [OnShelf(nodes[node], *rest) for node, *rest in there], received, short_g, unmeasured)
