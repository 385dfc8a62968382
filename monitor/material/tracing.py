"""Looks up and down the graph: all that went into a node, and all that came of one.

Only what was there before counts: food that was laid onto a bed after a harvest is not in the harvest, and what was taken
from a heap before the dung came has none of it.
"""

from collections.abc import Iterator
from dataclasses import dataclass

from monitor.material.graph import Graph, Tally
from monitor.material.movements import Movement, Node, NodeKind
from monitor.material.shares import dry_shares


@dataclass(frozen=True, slots=True)
class Input:
    """Something that went into a node, or may have.

    Attributes:
        node: What went in.
        certain: Whether it surely did.
        until: Up to when it counts, UTC ms: what came into it later is not in.
        dry_g: How much dry matter of the whole came from it, g, if all was well mixed on the way; None if an amount is unknown.
    """

    node: Node
    certain: bool
    until: int
    dry_g: int | None


@dataclass(frozen=True, slots=True)
class Outcome:
    """Something that came of a node, or may have.

    Attributes:
        node: What came of it.
        certain: Whether it surely has some of it.
        since: From when on it counts, UTC ms.
    """

    node: Node
    certain: bool
    since: int


def inputs_of(graph: Graph, node: Node, *, with_shares: bool = False, until: int | None = None) -> list[Input]:
    """Return all that went into a node, however indirectly, nearest first.

    Args:
        graph: The graph.
        node: The node, such as a lot.
        with_shares: Whether to work out how much came from each.
        until: What came into it later (UTC ms) does not count; None: everything.
    """
    into = Tally.dry(graph.into.get(node, ()))
    shares = dry_shares(graph, node) if with_shares and not into.unknown else {}
    dry = {one: None if share is None else round(share * into.known_g) for one, share in shares.items()}
    found: dict[Node, Input] = {}
    reached: dict[tuple[Node, bool], int] = {}
    todo: list[tuple[Node, int | None, bool]] = [(node, until, True)]
    for one, last, certain in todo:  # the list grows while it is read
        for move in graph.into.get(one, ()):
            if move.source is None or (last is not None and move.time > last):
                continue
            # Whatever lies in the part of a bed is only possible, the bed itself is certain.
            sure = certain and move.certain
            known = found.get(move.source)
            found[move.source] = Input(
                move.source, sure or (known is not None and known.certain),
                max(move.time, known.until if known is not None else move.time), dry.get(move.source),
            )  # fmt: skip
            deeper = sure and not move.in_part
            if reached.get((move.source, deeper), -1) < move.time:
                reached[move.source, deeper] = move.time
                todo.append((move.source, move.time, deeper))
    return [found[one] for one in found if one != node and one.kind is not NodeKind.SHELF]


def outcomes_of(graph: Graph, node: Node, since: int | None = None) -> list[Outcome]:
    """Return all that came of a node, however indirectly, nearest first.

    Args:
        graph: The graph.
        node: The node, such as a bad delivery.
        since: Only what left it from then on (UTC ms) counts; None: everything.
    """
    found: dict[Node, Outcome] = {}
    reached: dict[tuple[Node, bool], int] = {}
    todo: list[tuple[Node, int | None, bool, bool]] = [(node, since, True, True)]
    for one, begin, certain, whole in todo:
        for move in graph.out_of.get(one, ()):
            shelved = move.target.kind is NodeKind.SHELF  # what counts is when something left the shelf
            if begin is not None and move.time < begin and not shelved:
                continue
            # A part of a bed surely has something of the bed, and only possibly what went into the bed.
            sure = certain and move.certain and (whole or not move.in_part)
            known = found.get(move.target)
            found[move.target] = Outcome(
                move.target, sure or (known is not None and known.certain),
                min(move.time, known.since if known is not None else move.time),
            )  # fmt: skip
            before = reached.get((move.target, sure))
            if before is None or move.time < before:
                reached[move.target, sure] = move.time
                later = move.time if begin is None or not shelved else max(begin, move.time)
                todo.append((move.target, later, sure, False))
    return [found[one] for one in found if one != node and one.kind is not NodeKind.SHELF]


def risks_of(graph: Graph, node: Node) -> dict[str, list[Node]]:
    """Return the risks that stick to a node, each with the deliveries from which it has them."""
    found: dict[str, list[Node]] = {}
    for one in (node, *(got.node for got in inputs_of(graph, node))):
        for risk in graph.risks.get(one, ()):
            found.setdefault(risk, []).append(one)
    return found


def lots_with(graph: Graph, node: Node, since: int | None = None) -> Iterator[tuple[Outcome, list[Movement]]]:
    """Yield each lot that has, or may have, something of a node, with what was given of it to whom.

    Args:
        graph: The graph.
        node: The node; a lot is its own first outcome.
        since: Only what left the node from then on (UTC ms) counts.
    """
    own = [Outcome(node, certain=True, since=0)] if node.kind is NodeKind.LOT else []
    for one in (*own, *outcomes_of(graph, node, since)):
        if one.node.kind is NodeKind.LOT:
            yield one, [move for move in graph.out_of.get(one.node, ()) if move.target.kind is NodeKind.GIVEN]
