"""The deliveries of one material that lie open together, as few steps between them and all their uses.

Deliveries that nobody ever counts as used up pile up over the years, and each use may have been of any of them. To name them
one by one for each use would make millions of movements. So shelf nodes stand between: one chain, whose head moves on as the
oldest are used up, and one that grows as others come. A use hangs on the ends of both.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any

from monitor.material.movements import Node, NodeKind
from monitor.material.shelf import OnShelf


@dataclass(frozen=True, slots=True)
class Ways:
    """The ways from open deliveries to a use.

    Attributes:
        made: (from, to) of the steps that were not there before.
        ends: The nodes that a use hangs on.
    """

    made: tuple[tuple[Node, Node], ...]
    ends: tuple[Node, ...]


@dataclass(slots=True)
class OpenTogether:
    """The shelf nodes of a material; `ways` is asked before each use."""

    material: str
    _front: list[tuple[Node, Node]] = field(default_factory=list)
    """(delivery, shelf node of it and all behind it), the oldest last."""
    _back: list[Node] = field(default_factory=list)
    """Deliveries that came since, oldest first."""
    _end: Node | None = None
    """The shelf node of all of `_back`."""
    _number: int = 0

    def kept(self, number: Callable[[Node], int]) -> list[Any]:
        """Return it as plain values, with the numbers of its nodes; `restored` is the way back."""
        front = [(number(delivery), number(shelf)) for delivery, shelf in self._front]
        end = None if self._end is None else number(self._end)
        return [self.material, front, [number(one) for one in self._back], end, self._number]

    @classmethod
    def restored(cls, kept: Sequence[Any], nodes: Sequence[Node]) -> "OpenTogether":
        """Return the shelf nodes of plain values.

        Args:
            kept: The values.
            nodes: The nodes by their numbers.
        """
        material, front, back, end, number = kept
        return cls(
            material, [(nodes[delivery], nodes[shelf]) for delivery, shelf in front], [nodes[one] for one in back],
            None if end is None else nodes[end], number,
        )  # fmt: skip

    def ways(self, open_: Sequence[OnShelf]) -> Ways:
        """Return the ways from all open deliveries, oldest first, to a use."""
        made: list[tuple[Node, Node]] = []
        while self._front and self._front[-1][0] != open_[0].node:
            self._front.pop()
        known = len(self._front) + len(self._back)
        fits = known <= len(open_) and (not self._back or open_[len(self._front)].node == self._back[0])
        fits = fits and (not known or open_[known - 1].node == (self._back[-1] if self._back else self._front[0][0]))
        if not self._front or not fits:
            self._rebuild(open_, made)
        else:
            for one in open_[known:]:
                self._grow(one.node, made)
        ends = (self._front[-1][1], *((self._end,) if self._end is not None else ()))
        return Ways(tuple(made), ends)

    def _rebuild(self, open_: Sequence[OnShelf], made: list[tuple[Node, Node]]) -> None:
        self._front, self._back, self._end = [], [], None
        behind: Node | None = None
        for one in reversed(open_):
            shelf = self._new()
            made += [(one.node, shelf), *([(behind, shelf)] if behind is not None else [])]
            self._front.append((one.node, shelf))
            behind = shelf

    def _grow(self, delivery: Node, made: list[tuple[Node, Node]]) -> None:
        shelf = self._new()
        made += [(delivery, shelf), *([(self._end, shelf)] if self._end is not None else [])]
        self._back.append(delivery)
        self._end = shelf

    def _new(self) -> Node:
        self._number += 1
        return Node(NodeKind.SHELF, f"{self.material}#{self._number}")
