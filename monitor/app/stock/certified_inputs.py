"""Gathers what went into a batch for its certificate, as the graph of material has it when the certificate is written.

The graph is read from the entries as they stand, so a risk that is found later and put right in the log (`log correct`) stands
on every certificate written after. Prices are no part of it.
"""

from collections.abc import Callable, Iterator
from dataclasses import replace

from monitor.certificate import Case, CaseInput
from monitor.material import HeatStatus, MaterialRecord, Node, NodeKind, inputs_of
from monitor.model.delivery_risks import risks_looked_for

_UNNAMED = Node(NodeKind.UNRECORDED, "")
"""What an entry brought without a name; the work log says as much."""


def with_inputs(case: Case, record: MaterialRecord, heat_of: Callable[[Node, int], HeatStatus]) -> Case:
    """Return a case with all that went into its batch, or may have, up to the instant that the verdict is of.

    Args:
        case: The case of a batch of the journal.
        record: The graph and the log.
        heat_of: Tells the heat status of other heaps, each under its own rule.
    """
    return replace(case, inputs=tuple(_inputs(case, record, heat_of)))


def _inputs(case: Case, record: MaterialRecord, heat_of: Callable[[Node, int], HeatStatus]) -> Iterator[CaseInput]:
    batch = Node(NodeKind.BATCH, case.batch)
    for one in inputs_of(record.graph, batch, until=case.as_of):
        node = one.node
        if node == _UNNAMED:
            continue
        delivered = record.entries.get(_entry_of(node)) if node.kind is NodeKind.DELIVERY else None
        yield CaseInput(
            kind=node.kind.value,
            id=node.id,
            what="" if delivered is None else delivered.what,
            supplier="" if delivered is None else delivered.source,
            came=None if delivered is None else delivered.time,
            until=one.until,
            certain=one.certain,
            heat_status=heat_of(node, one.until).value if node.kind is NodeKind.BATCH else None,
            risks=tuple(record.graph.risks.get(node, ())),
            looked_for="" if delivered is None else risks_looked_for(delivered.risk, delivered.by),
        )


def _entry_of(node: Node) -> int:
    return int(node.id.removeprefix("d"))
