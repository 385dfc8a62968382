"""The tree of what went into a lot, to be drawn: each node once with its parts, and named again without them elsewhere."""

from collections.abc import Callable, Sequence

from monitor.app.stock.lot_words import heat_words
from monitor.drawing import TreeBox, TreeKind
from monitor.material import Graph, Node, NodeKind, TracedInput

_KINDS = {
    NodeKind.DELIVERY: TreeKind.CAME_IN,
    NodeKind.UNRECORDED: TreeKind.CAME_IN,
    NodeKind.EARLIER: TreeKind.CAME_IN,
    NodeKind.BATCH: TreeKind.HEAP,
    NodeKind.BED: TreeKind.BED,
    NodeKind.LOT: TreeKind.LOT,
}
"""What is not named here is drawn like a harvest."""


def lot_tree(graph: Graph, lot: Node, inputs: Sequence[TracedInput], name_of: Callable[[Node], str]) -> TreeBox:
    """Return the tree of a lot.

    Args:
        graph: The graph.
        lot: The lot.
        inputs: All that went into it, or may have.
        name_of: Returns the words for a node.
    """
    known = {one.found.node: one for one in inputs}
    parts: dict[Node, list[Node]] = {}
    first: dict[Node, Node] = {}
    nearest = [lot]
    for node in nearest:  # the list grows while it is read
        until = known[node].found.until if node in known else None
        parts[node] = [one for one in _sources(graph, node, until) if one in known]
        for one in parts[node]:
            if one not in first:
                first[one] = node
                nearest.append(one)
    made: dict[Node, TreeBox] = {}
    for node in reversed(nearest):  # parts before what they went into
        below = tuple(
            made[one] if first[one] == node else _box(known, one, name_of, told=bool(parts[one])) for one in parts[node]
        )
        made[node] = _box(known, node, name_of, below)
    return made[lot]


def _sources(graph: Graph, node: Node, until: int | None) -> list[Node]:
    """Return the nodes from which something came into a node up to an instant, UTC ms; through shelves, which nobody sees."""
    found: dict[Node, None] = {}
    shelves: dict[Node, int] = {}
    todo: list[tuple[Node, int | None]] = [(node, until)]
    for one, last in todo:  # the list grows while it is read
        for move in graph.into.get(one, ()):
            if move.source is None or (last is not None and move.time > last):
                continue
            if move.source.kind is not NodeKind.SHELF:
                found[move.source] = None
            elif shelves.get(move.source, -1) < move.time:
                shelves[move.source] = move.time
                todo.append((move.source, move.time))
    return list(found)


def _box(
    known: dict[Node, TracedInput],
    node: Node,
    name_of: Callable[[Node], str],
    parts: tuple[TreeBox, ...] = (),
    *,
    told: bool = False,
) -> TreeBox:
    one = known.get(node)
    return TreeBox(
        _KINDS.get(node.kind, TreeKind.HARVEST),
        name_of(node),
        "" if one is None else _words(one),
        one is None or one.found.certain,
        parts,
        told,
    )


def _words(one: TracedInput) -> str:
    heat, risks = heat_words(one), ", ".join(one.risks)
    return ", ".join(words for words in (heat, f"risk: {risks}" if risks else "") if words)
