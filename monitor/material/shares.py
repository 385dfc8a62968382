"""Shares of dry matter: how much of a node came from each of its inputs, if every node was well mixed.

A bed is not mixed, so for a harvest the shares are an estimate; where any amount on the way is unknown, so is the share.

Method: the movements are gone through once, backwards in time. Whatever left a node at an instant had the composition of what
lay in it then: all that had come in, less what had gone before. So of each input no more is ever told, in all that came of it
together, than there was.
"""

import math
from collections.abc import Iterable

from monitor.material.graph import Graph
from monitor.material.movements import Movement, Node, NodeKind

_MIXES = frozenset({NodeKind.BATCH, NodeKind.BED, NodeKind.HARVEST, NodeKind.FRACTION, NodeKind.LOT})
"""Kinds of nodes into which several things go; all others are an input themselves."""


def dry_shares(graph: Graph, node: Node) -> dict[Node, float | None]:
    """Return the share (0 to 1) of a node's dry matter that came from each of its inputs, direct ones and those before.

    Args:
        graph: The graph.
        node: The node, such as a lot.

    Returns:
        The share by input; None where an amount is unknown. An input that came by way of another counts in both.
    """
    moves = _moves_about(graph, node)
    whole = sum(math.nan if one.dry_g is None else float(one.dry_g) for one in graph.into.get(node, ()))
    if not whole:
        return {}
    contents = _contents(moves)
    # For each node, how much of the whole each gram that lies in it at an instant makes up.
    per_gram = {node: 1 / whole}
    shares: dict[Node, float] = {}
    for move, content in zip(reversed(moves), reversed(contents), strict=True):
        if move.source is None:
            continue
        weight = per_gram.get(move.target, 0.0)
        if move.target in per_gram:
            part = math.nan if move.dry_g is None else move.dry_g * weight
            shares[move.source] = shares.get(move.source, 0.0) + part
        if move.source.kind in _MIXES and move.source != node:
            goes = _part_that_goes(move, content, told=move.target in per_gram)
            if goes:
                stays = per_gram.get(move.source, 0.0)
                per_gram[move.source] = goes * weight + (1 - goes) * stays
    return {one: None if math.isnan(share) else share for one, share in shares.items()}


def _part_that_goes(move: Movement, content: float, *, told: bool) -> float:
    """Return the part (0 to 1) of what lies in a node that leaves it.

    Args:
        move: The movement out of it.
        content: The dry matter in it before, g; not a number if unknown.
        told: Whether it goes to where anything is asked about; what else left by an unknown amount counts as nothing.
    """
    if move.dry_g is None or math.isnan(content):
        return math.nan if told else 0.0
    most = max(content, move.dry_g)
    return move.dry_g / most if most > 0 else 0.0


def _contents(moves: list[Movement]) -> list[float]:
    """Return for each movement, in order of time, the dry matter that lay in its source before, g; nan if unknown."""
    lies: dict[Node, float] = {}
    found = []
    for move in moves:
        dry = math.nan if move.dry_g is None else float(move.dry_g)
        before = 0.0 if move.source is None else lies.get(move.source, 0.0)
        found.append(before)
        if move.source is not None and not math.isnan(dry):
            lies[move.source] = max(0.0, before - dry) if not math.isnan(before) else before
        lies[move.target] = lies.get(move.target, 0.0) + dry
    return found


def _moves_about(graph: Graph, node: Node) -> list[Movement]:
    """Return the movements by which anything can have come into a node, and all others out of nodes on the way, in order."""
    seen, todo = {node}, [node]
    found: dict[int, Movement] = {}
    for one in todo:
        here: Iterable[Movement] = graph.into.get(one, ())
        for move in here:
            found[id(move)] = move
            if move.source is not None and move.source not in seen:
                seen.add(move.source)
                todo.append(move.source)
        if one != node and one.kind in _MIXES:
            found.update((id(move), move) for move in graph.out_of.get(one, ()))
    return sorted(found.values(), key=lambda one: (one.time, one.entry))
