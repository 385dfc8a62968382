"""The graph of material: what went from where to where, how much of it is left, and what does not add up.

Source: yard-work §5. Dry matter is conserved; a gap of more than 15 % between what went in and what came out is shown.
What a heap loses to the air (a third to a half of its dry matter while it is hot, common practice, no published source)
is measured where it is weighed and stated nowhere else.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field

from monitor.material.left import Left
from monitor.material.movements import Movement, Node, NodeKind

GAP_PERCENT = 15
"""A difference between what went in and what came out of a node that is shown."""

NAMELESS = frozenset({NodeKind.UNRECORDED, NodeKind.EARLIER, NodeKind.SHELF, NodeKind.GIVEN, NodeKind.GONE})
"""Kinds of nodes that nobody can name in an entry."""


@dataclass(frozen=True, slots=True)
class Tally:
    """A sum of masses.

    Attributes:
        measured_g: What was weighed, g.
        estimated_g: What was estimated, g.
        unknown: How many amounts nobody knows.
    """

    measured_g: int = 0
    estimated_g: int = 0
    unknown: int = 0

    @property
    def known_g(self) -> int:
        """All that is known, weighed or estimated, g."""
        return self.measured_g + self.estimated_g

    @classmethod
    def wet(cls, movements: Iterable[Movement]) -> "Tally":
        """Return the mass of movements as it lay."""
        return cls._of((one.wet_g, one.measured) for one in movements)

    @classmethod
    def dry(cls, movements: Iterable[Movement]) -> "Tally":
        """Return the dry matter of movements."""
        return cls._of((one.dry_g, one.measured) for one in movements)

    @classmethod
    def _of(cls, masses: Iterable[tuple[int | None, bool]]) -> "Tally":
        measured = estimated = unknown = 0
        for grams, weighed in masses:
            if grams is None:
                unknown += 1
            elif weighed:
                measured += grams
            else:
                estimated += grams
        return cls(measured, estimated, unknown)


@dataclass(slots=True)
class Graph:
    """All movements of material of a yard.

    Attributes:
        into: The movements into each node, in order of time.
        out_of: The movements out of each node, in order of time.
        risks: The risks that were named with a delivery, by its node.
    """

    into: dict[Node, list[Movement]] = field(default_factory=dict)
    out_of: dict[Node, list[Movement]] = field(default_factory=dict)
    risks: dict[Node, tuple[str, ...]] = field(default_factory=dict)

    def add(self, movement: Movement) -> None:
        """Add a movement; they come in order of time."""
        self.into.setdefault(movement.target, []).append(movement)
        if movement.source is not None:
            self.out_of.setdefault(movement.source, []).append(movement)

    @property
    def movements(self) -> Iterator[Movement]:
        """All movements, by the node that they went into."""
        for some in self.into.values():
            yield from some

    def nodes(self, *kinds: NodeKind) -> list[Node]:
        """Return the nodes of some kinds, in the order in which they came to be; all if none is named."""
        found = dict.fromkeys((*self.into, *self.out_of))
        return [node for node in found if not kinds or node.kind in kinds]

    def named(self, id_: str) -> Node | None:
        """Return the node of an id, or None; what is unrecorded, given or gone has no name of its own."""
        found = (Node(kind, id_) for kind in NodeKind if kind not in NAMELESS)
        return next((node for node in found if node in self.into or node in self.out_of), None)

    def dry_left(self, node: Node) -> int:
        """Return the dry matter that came into a node and has not left it, as far as it is known, g; below 0 if more left."""
        come, gone = self.into.get(node, ()), self.out_of.get(node, ())
        return Tally.dry(come).known_g - Tally.dry(gone).known_g

    def left(self, node: Node) -> Left:
        """Return the rest of a node: dry matter, and the mass by the moisture at its last weighing."""
        come = (one for one in self.into.get(node, ()) if one.source is None or one.source.kind is not NodeKind.EARLIER)
        return Left.after(come, self.out_of.get(node, ()))

    def wet_left(self, node: Node) -> int:
        """Return the mass that is left of a node by the moisture at its last weighing, as far as it is known, g."""
        return self.left(node).wet_g

    def gap_percent(self, node: Node) -> float | None:
        """Return how much more (or, below 0, less) dry matter came in than left; None if it is 15 % or less or not known.

        It is asked of nodes that are used up, such as a harvest that was screened.
        """
        out = self.out_of.get(node, ())
        come, gone = Tally.dry(self.into.get(node, ())), Tally.dry([*out, *self._beyond(out)])
        if come.unknown or gone.unknown or not come.known_g or not gone.known_g:
            return None
        gap = 100 * (come.known_g - gone.known_g) / come.known_g
        return gap if abs(gap) > GAP_PERCENT else None

    def _beyond(self, out: Iterable[Movement]) -> Iterator[Movement]:
        """Yield the dry matter by which movements out of a node had more than was left of it, by the same entries."""
        for move in out:
            yield from (one for one in self.into[move.target] if one.source is None and one.entry == move.entry)


def graph_of(movements: Iterable[Movement], risks: Mapping[Node, tuple[str, ...]] | None = None) -> Graph:
    """Return the graph of some movements, which come in order of time.

    Args:
        movements: The movements.
        risks: The risks of deliveries.

    Returns:
        The graph.
    """
    graph = Graph(risks=dict(risks or {}))
    for one in movements:
        graph.add(one)
    return graph
