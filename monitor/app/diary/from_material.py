"""Material that waits, by the graph: what rots in stock, what was harvested and went nowhere, lots without their tests."""

from collections.abc import Iterator

from monitor.app.console.measures import Measures
from monitor.app.diary.sources import Asked
from monitor.app.stock import feedstocks_by_name, rest_of_lot, rest_words, untested
from monitor.diary import Due, back_due, lot_test_due, mix_due, unscreened_due
from monitor.material import MaterialRecord, Node, NodeKind
from monitor.model.settings import YARD
from monitor.model.work_entry import is_us
from monitor.notices import clean

_BACK = ("/overs", "/middle")


def waiting_material(asked: Asked) -> Iterator[Due]:
    """Yield the material of the yard that waits for somebody."""
    record = asked.material()
    measures = Measures(is_us(asked.settings), asked.configuration.containers)
    for one in (*_rotting(asked, record, measures), *_harvests(asked, record)):
        if one is not None:
            yield one
    yield from _lots(asked, record, measures)


def _rotting(asked: Asked, record: MaterialRecord, measures: Measures) -> Iterator[Due | None]:
    feedstocks = feedstocks_by_name()
    for name, shelf in record.shelves.items():
        known = feedstocks.get(name)
        if known is None or not known.spoils:
            continue
        for one in shelf.open:
            much = "an unknown amount" if one.wet_g is None else measures.mass(one.wet_g)
            delivery = one.node.id if one.node.kind is NodeKind.DELIVERY else ""
            yield mix_due(clean(shelf.material), delivery, one.time, much, asked.now)


def _harvests(asked: Asked, record: MaterialRecord) -> Iterator[Due | None]:
    graph = record.graph
    screens = bool(graph.nodes(NodeKind.FRACTION))  # who never screens is not asked to
    for node in graph.nodes(NodeKind.HARVEST, NodeKind.FRACTION):
        into = graph.into.get(node, [])
        if not into or graph.out_of.get(node):
            continue
        place = _bin_of(record, node)
        if place not in asked.settings.bins:
            continue
        if node.kind is NodeKind.HARVEST and screens:
            yield unscreened_due(place, node.id, into[-1].time, asked.now)
        elif node.id.endswith(_BACK):
            yield back_due(place, node.id, into[-1].time, asked.now)


def _bin_of(record: MaterialRecord, node: Node) -> str:
    work = record.entries.get(record.graph.into[node][0].entry)
    return YARD if work is None else work.place


def _lots(asked: Asked, record: MaterialRecord, measures: Measures) -> Iterator[Due]:
    for lot in record.graph.nodes(NodeKind.LOT):
        into = record.graph.into.get(lot)
        if not into:
            continue
        tests = untested(record, lot, asked.configuration.lot_tests)
        rest = rest_of_lot(record, lot)
        if tests and not rest.is_gone:
            yield lot_test_due(lot.id, into[0].time, tests, rest_words(rest, measures))
