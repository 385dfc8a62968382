"""Lots: what may be said of the heat of all that went into one, what holds it back, and what is left of it.

The words of a label follow from the record and from no hand (yard-work §10): *heat treated* is said of what was proven
hot for long enough and of nothing else, and food that came later is named as not treated.
"""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum

from monitor.material.graph import Graph
from monitor.material.heat_status import HeatStatus
from monitor.material.movements import BEFORE_THE_LOG, Movement, Node, NodeKind
from monitor.material.tracing import Input, inputs_of

HeatOf = Callable[[Node, int], HeatStatus]
"""Returns the heat status of a heap at an instant (UTC ms), under its own rule."""


_UNNAMED = Node(NodeKind.UNRECORDED, "")


class Treated(StrEnum):
    """The words that a label may use on heat; stored and shown, so never renamed."""

    ALL = "all inputs"
    BEDDING = "bedding"
    SINCE = "since the record began"
    """All inputs by the record are; of what lay in the bed before it nobody knows."""
    PART = "a part"
    NOTHING = "nothing"
    UNKNOWN = "unknown"
    """Nothing is recorded of what went in."""


@dataclass(frozen=True, slots=True)
class TracedInput:
    """An input of a lot with what is known of it.

    Attributes:
        found: The input.
        heat: The heat status of a heap when it went in; None for what has none of its own (a bed, a harvest).
        risks: The risks named with a delivery.
        shielded: Whether it only came by way of a heap that met its rule afterwards.
        food: Whether it came into a bed as food.
    """

    found: Input
    heat: HeatStatus | None
    risks: tuple[str, ...]
    shielded: bool
    food: bool


def trace_lot(
    graph: Graph, lot: Node, heat_of: HeatOf, is_food: Callable[[int], bool], *, whole: bool = True
) -> list[TracedInput]:
    """Return all that went into a lot, or may have, with heat and risks.

    Args:
        graph: The graph.
        lot: The lot.
        heat_of: Tells the heat status of heaps.
        is_food: Whether the entry of a number fed worms.
        whole: Whether to know how much came from each, and what came as food even where that changes no word on heat.

    Returns:
        The inputs, nearest first.
    """
    found = inputs_of(graph, lot, with_shares=whole)
    heats = {one.node: heat_of(one.node, one.until) for one in found if one.node.kind is NodeKind.BATCH}
    shields = {node for node, heat in heats.items() if heat is HeatStatus.MET}
    bare = _reached_without(graph, lot, shields)
    fed = _only_as_food(graph, [one.node for one in found], bare - shields, is_food) if whole or shields else set()
    return [
        TracedInput(
            one,
            heats[one.node] if one.node in heats else _own_heat(one.node),
            graph.risks.get(one.node, ()),
            shielded=one.node not in bare,
            food=one.node in fed,
        )
        for one in found
    ]


def treated(inputs: Iterable[TracedInput]) -> tuple[Treated, list[str]]:
    """Return the word that a label may use on heat, with the ids of the heaps whose records allow it.

    Args:
        inputs: All inputs of the lot.
    """
    told = [one for one in inputs if one.heat is not None and not one.shielded]
    met = sorted(one.found.node.id for one in told if one.heat is HeatStatus.MET)
    raw = [one for one in told if one.heat is not HeatStatus.MET]
    if all(one.found.node == _UNNAMED or one.found.node.kind is NodeKind.EARLIER for one in told):
        return Treated.UNKNOWN, []
    if not met:
        return Treated.NOTHING, []
    if not raw:
        return Treated.ALL, met
    if all(one.found.node.kind is NodeKind.EARLIER for one in raw):
        return Treated.SINCE, met
    return (Treated.BEDDING if all(one.food for one in raw) else Treated.PART), met


def held_back(wanted: Iterable[str], results: Mapping[str, bool]) -> list[str]:
    """Return why a lot is held back: the tests that the site asks for and that are not in, or not passed.

    Args:
        wanted: The names of the tests.
        results: By a test's name in small letters, whether the newest one was passed.
    """
    reasons = []
    for test in wanted:
        passed = results.get(test.casefold())
        if passed is None:
            reasons.append(f"{test} is not in")
        elif not passed:
            reasons.append(f"{test} was not passed")
    extra = [test for test, passed in results.items() if not passed and test not in {one.casefold() for one in wanted}]
    return [*reasons, *(f"{test} was not passed" for test in extra)]


def _own_heat(node: Node) -> HeatStatus | None:
    return HeatStatus.RAW if node.kind in (NodeKind.DELIVERY, NodeKind.UNRECORDED, NodeKind.EARLIER) else None


def _reached_without(graph: Graph, lot: Node, shields: set[Node]) -> set[Node]:
    """Return the nodes from which material came into a lot by a way that no heap that met its rule lies on, and those heaps."""
    reached: dict[Node, int] = {}
    todo: list[tuple[Node, int | None]] = [(lot, None)]
    for node, until in todo:
        if node in shields:
            continue
        for move in _before(graph, node, until):
            if move.source is not None and reached.get(move.source, -1) < move.time:
                reached[move.source] = move.time
                todo.append((move.source, move.time))
    return set(reached)


def _only_as_food(graph: Graph, nodes: list[Node], ways_on: set[Node], is_food: Callable[[int], bool]) -> set[Node]:
    """Return the nodes of which all that went into some others fed worms, also what went there by way of a shelf."""
    known: dict[Node, tuple[bool, bool]] = {}  # whether any of it went there, and whether only as food
    for node in nodes:
        todo = [node]
        while todo:  # not by recursion: shelves of many deliveries are long chains
            one = todo[-1]
            if one in known:
                todo.pop()
                continue
            fate, waiting = _fate(graph.out_of.get(one, ()), ways_on, known, is_food)
            if waiting:
                todo += waiting
            else:
                known[todo.pop()] = fate
    return {node for node in nodes if known[node] == (True, True)}


def _fate(
    moves: Iterable[Movement],
    ways_on: set[Node],
    known: Mapping[Node, tuple[bool, bool]],
    is_food: Callable[[int], bool],
) -> tuple[tuple[bool, bool], list[Node]]:
    """Return whether any of some moves went there and whether only as food, and the shelves that must be known first."""
    went, waiting = False, []
    for move in moves:
        if move.target.kind is NodeKind.SHELF:
            if move.target not in known:
                waiting.append(move.target)
                continue
            goes, food = known[move.target]
        else:
            goes = move.target in ways_on
            food = goes and move.entry != BEFORE_THE_LOG and is_food(move.entry)
        if goes and not food:
            return (True, False), []  # nothing that comes after can make it food alone
        went = went or goes
    return (went, True), waiting


def _before(graph: Graph, node: Node, until: int | None) -> Iterable[Movement]:
    return (move for move in graph.into.get(node, ()) if until is None or move.time <= until)
