"""Shares of dry matter: how much of a node came from each of its inputs, if every node was well mixed.

A bed is not mixed, so for a harvest the shares are an estimate; where any amount on the way is unknown, so is the share.

Method: the movements are gone through once, backwards in time. Whatever left a node at an instant had its composition of that
instant, so what each earlier movement into it has contributed is its part of all that had come in until then.
"""

import math
from bisect import bisect_left
from collections.abc import Iterable
from itertools import accumulate

from monitor.material.graph import Graph
from monitor.material.movements import Movement, Node


def dry_shares(graph: Graph, node: Node) -> dict[Node, float | None]:
    """Return the share (0 to 1) of a node's dry matter that came from each of its inputs, direct ones and those before.

    Args:
        graph: The graph.
        node: The node, such as a lot.

    Returns:
        The share by input; None where an amount is unknown. An input that came by way of another counts in both.
    """
    upstream = _upstream(graph, node)
    order = {id(one): at for at, one in enumerate(upstream)}
    inflows = {target: _Inflow(moves, order) for target, moves in _by_target(upstream).items()}
    whole = inflows[node].total(len(upstream)) if node in inflows else 0.0
    if not whole:
        return {}
    # For each node, how much of the whole each gram that came into it so far makes up.
    per_gram = {node: 1 / whole}
    shares: dict[Node, float] = {}
    for at in range(len(upstream) - 1, -1, -1):
        move = upstream[at]
        weight = per_gram.get(move.target)
        if weight is None or move.source is None:
            continue  # it came too late to be in
        part = math.nan if move.dry_g is None else move.dry_g * weight
        shares[move.source] = shares.get(move.source, 0.0) + part
        if move.source in inflows:
            total = inflows[move.source].total(at)
            per_gram[move.source] = per_gram.get(move.source, 0.0) + (part / total if total else 0.0)
    return {one: None if math.isnan(share) else share for one, share in shares.items()}


class _Inflow:
    """The dry matter that came into a node until some movement."""

    def __init__(self, moves: list[Movement], order: dict[int, int]) -> None:
        self._at = [order[id(one)] for one in moves]
        self._sums = [0.0, *accumulate(math.nan if one.dry_g is None else float(one.dry_g) for one in moves)]

    def total(self, before: int) -> float:
        """Return the dry matter that came in by movements before one, g; not a number if an amount is unknown."""
        return self._sums[bisect_left(self._at, before)]


def _upstream(graph: Graph, node: Node) -> list[Movement]:
    """Return the movements by which anything can have come into a node, in order of time."""
    seen, todo = {node}, [node]
    found: list[Movement] = []
    for one in todo:
        for move in graph.into.get(one, ()):
            found.append(move)
            if move.source is not None and move.source not in seen:
                seen.add(move.source)
                todo.append(move.source)
    return sorted(found, key=lambda one: (one.time, one.entry))


def _by_target(moves: Iterable[Movement]) -> dict[Node, list[Movement]]:
    found: dict[Node, list[Movement]] = {}
    for one in moves:
        found.setdefault(one.target, []).append(one)
    return found
