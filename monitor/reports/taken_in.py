"""Deliveries summed up, by month, supplier and material.

Names that differ only in capitals and spaces are one; the one written down first is shown. A delivery that was sent back
did not come in.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

from monitor.material import MaterialRecord, Movement, NodeKind
from monitor.model.work import Work
from monitor.reports.report_spans import Span
from monitor.reports.report_sums import Doubt, Spread, Sum, doubt_of, sum_of

SpreadOf = Callable[[Work], Spread | None]
"""Tells how far a delivery's mass may be off; None where it was not counted in containers that were weighed."""


@dataclass(frozen=True, slots=True)
class TakenIn:
    """A material that came in from one supplier in one month.

    Attributes:
        month: The yard's own month, `2026-10`.
        supplier: Who brought it, "" if nobody wrote that down.
        material: What it was.
        mass: How much it was.
        doubt: How far that may be off.
    """

    month: str
    supplier: str
    material: str
    mass: Sum
    doubt: Doubt


@dataclass(slots=True)
class _Row:
    supplier: str
    material: str
    moves: list[Movement] = field(default_factory=list)
    spreads: list[Spread] = field(default_factory=list)


def taken_in(record: MaterialRecord, span: Span, spread_of: SpreadOf) -> tuple[list[TakenIn], TakenIn]:
    """Return all that came in, by month, supplier and material, and the sum of it.

    Args:
        record: The graph and the log.
        span: The time.
        spread_of: Tells how far a delivery may be off.

    Returns:
        The rows in order of month, supplier and material, and one for all of them, which names none of these.
    """
    rows: dict[tuple[str, str, str], _Row] = {}
    for move, work in _deliveries(record, span):
        key = (span.month_of(move.time), _plain(work.source), _plain(work.what))
        row = rows.setdefault(key, _Row(work.source.strip(), work.what.strip()))
        row.moves.append(move)
        if move.wet_g is not None and (spread := spread_of(work)) is not None:
            row.spreads.append(spread)
    found = [
        TakenIn(key[0], row.supplier, row.material, sum_of(row.moves), doubt_of(row.spreads))
        for key, row in sorted(rows.items())
    ]
    # Containers of one kind are off together across suppliers too, so the rows' errors cannot simply be added up.
    moves = [move for row in rows.values() for move in row.moves]
    spreads = [spread for row in rows.values() for spread in row.spreads]
    return found, TakenIn("", "", "", sum_of(moves), doubt_of(spreads))


def _deliveries(record: MaterialRecord, span: Span) -> Iterator[tuple[Movement, Work]]:
    for node in record.graph.nodes(NodeKind.DELIVERY):
        for move in record.graph.into.get(node, ()):
            if span.has(move.time):
                yield move, record.entries[move.entry]


def _plain(name: str) -> str:
    return " ".join(name.casefold().split())
