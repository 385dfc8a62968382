"""A reading of the log as plain values, from which it can be gone on with as if it had never stopped.

Nodes are numbered in the order in which they come up, and movements are columns.
"""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import partial
from typing import Any, Self

from monitor.material.left import Left
from monitor.material.log_order import first_emptied, harvested_whole
from monitor.material.log_reading import LogReading
from monitor.material.movements import Movement, Node, NodeKind, is_earlier
from monitor.material.open_together import OpenTogether
from monitor.material.shelf import OnShelf, Shelf
from monitor.material.yard_of_material import YardOfMaterial
from monitor.model.work import Work

_KINDS = tuple(NodeKind)


_BACK = (200, 3000)
"""How many entries before the end a reading can be gone back to (our choice): most slips are put right soon."""


@dataclass(slots=True)
class KeptReading(LogReading):
    """A reading that can be kept.

    Attributes:
        numbers: The numbers of its nodes, as they are kept.
        earlier: Its earlier states, as plain values: how much of what only grows there was, and all that changes.
    """

    numbers: dict[Node, int] = field(default_factory=dict)
    earlier: list[dict[str, Any]] = field(default_factory=list)

    @classmethod
    def of(cls, ordered: Sequence[tuple[int, Work]], yard: YardOfMaterial) -> Self:
        """Read a whole log.

        Args:
            ordered: (number, work) of every entry that stands, in order (`in_order`).
            yard: The yard behind the log.
        """
        reading = cls(yard, harvested_whole(ordered), first_emptied(ordered))
        done = 0
        for end in sorted({max(0, len(ordered) - back) for back in _BACK}):
            reading.take(ordered[done:end])
            done = end
            until = ordered[end - 1][1].time if end else None
            reading.earlier.append({"entries": end, "until": until, **reading._state()})
        reading.take(ordered[done:])
        return reading

    def _number(self, node: Node) -> int:
        return self.numbers.setdefault(node, len(self.numbers))

    def _state(self) -> dict[str, Any]:
        """Return all that changes while entries are read, and how much there is of what only grows."""
        number = self._number
        return {
            "grown": [len(one) for one in (self.moves, self._shelf_of, self._nodes, self._left, self.graph.risks)],
            "shelves": [[name, *_plain_shelf(shelf, self.numbers)] for name, shelf in self.shelves.items()],
            "pools": [[name, *pool.kept(number)] for name, pool in self._pools.items()],
            "beds": [(place, number(bed)) for place, bed in self._beds.items()],
            "harvests": [(place, number(harvest)) for place, harvest in self._harvests.items()],
        }

    def kept(self) -> dict[str, Any]:
        """Return the reading as plain values, which JSON can hold."""
        number, numbers = self._number, self.numbers
        shelves = list(self.shelves.values())
        at = {id(shelf): position for position, shelf in enumerate(shelves)}
        return {
            "moves": _columns(self.moves, numbers),
            **self._state(),
            "earlier": self.earlier,
            "shelf_of": [(number(node), at[id(shelf)]) for node, shelf in self._shelf_of.items()],
            "named": [(name, number(node)) for name, node in self._nodes.items()],
            "left": [
                (number(node), one.wet_g, one.dry_g, one.unclear, one.undried, one.boundless)
                for node, one in self._left.items()
            ],
            "risks": [(number(node), risks) for node, risks in self.graph.risks.items()],
            "first_emptied": self.emptied,
            "nodes": [[_KINDS.index(one.kind) for one in numbers], [one.id for one in numbers]],
        }  # fmt: skip

    @classmethod
    def gone_back(
        cls, kept: dict[str, Any], earlier: dict[str, Any], yard: YardOfMaterial, tail: Sequence[tuple[int, Work]]
    ) -> Self:
        """Return a reading as it was some entries before its end, and read other entries from there on.

        Args:
            kept: Its plain values.
            earlier: Its earlier state, one of those in `kept`.
            yard: The yard behind the log.
            tail: (number, work) of every entry that stands after that state, in order.
        """
        moves, shelf_of, named, left, risks = earlier["grown"]
        cut = {
            **kept,
            **earlier,
            "moves": [column[:moves] for column in kept["moves"]],
            "shelf_of": kept["shelf_of"][:shelf_of],
            "named": kept["named"][:named],
            "left": kept["left"][:left],
            "risks": kept["risks"][:risks],
        }
        reading = cls.restored(cut, yard, goes_on=True)
        touched = {one for end in (_SOURCE, _TARGET) for one in kept["moves"][end][moves:] if one is not None}
        reading.weigh_again({Node(_KINDS[kept["nodes"][0][one]], kept["nodes"][1][one]) for one in touched})
        until = earlier["until"]
        reading.emptied = {place: at for place, at in reading.emptied.items() if until is not None and at <= until}
        for place, at in first_emptied(tail).items():
            reading.emptied.setdefault(place, at)
        reading.whole = harvested_whole(tail)
        reading.take(tail)
        return reading

    def weigh_again(self, touched: set[Node]) -> None:
        """Work out anew what is left of some nodes, by the movements that were read so far."""
        again = [node for node in self._left if node in touched]
        order = {id(move): place for place, move in enumerate(self.moves)} if again else {}
        for node in again:
            ends = [(order[id(move)], 0, move, False) for move in self.graph.into.get(node, ())]
            ends += [(order[id(move)], 1, move, True) for move in self.graph.out_of.get(node, ())]
            left: Left | None = None
            for _, _, move, goes in sorted(ends, key=lambda one: one[:2]):
                if is_earlier(move):
                    continue
                left = self._begun_at(node, move) if left is None else left
                (left.take_out if goes else left.take_in)(move)
            assert left is not None
            self._left[node] = left

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
