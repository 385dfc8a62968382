"""Words stock, lots and recalls for the page; without names, whatever could name a person is left out here."""

from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace

from monitor.app.console.measures import Measures
from monitor.app.stock import (
    NAMELESS_MATERIAL,
    SOURCES,
    Given,
    LotSheet,
    age_words,
    cautions_of,
    day_words,
    earlier_words,
    entry_of,
    feedstocks_by_name,
    heat_words,
    how_much,
    kind_of_lot,
    left_words,
    lot_tree,
    parts_gone,
    risks_known,
    shelves_in_order,
    short_words,
    status_of,
    treated_words,
    unknown_shares,
    unmeasured_words,
)
from monitor.material import MaterialRecord, Node, NodeKind, Outcome, Shelf, Tally, TracedInput
from monitor.mix import Feedstock
from monitor.model.harvest_names import WORMS
from monitor.model.settings import Settings
from monitor.model.work_words import amount_said
from monitor.notices import clean
from monitor.page import (
    Arrived,
    DurationLine,
    GivenLine,
    Ingredient,
    InStock,
    LotLine,
    LotView,
    Named,
    RecalledLot,
    RecallView,
    StockView,
    TestLine,
)

LOTS_SHOWN, SOURCES_SHOWN, TRACED_SHOWN = 60, 40, 150
"""The most lots, possible lots, and things to recall that one sheet lists."""
LOTS_TRACED = 12
"""The most lots whose inputs are traced for one list: the newest of which something is left."""
_ON_THE_WAY = (NodeKind.BATCH, NodeKind.BED, NodeKind.HARVEST, NodeKind.FRACTION)
_LENGTH = 80


class Shown:
    """Words a yard's material.

    Args:
        settings: The settings in force.
        measures: The yard's measures.
        now: The present, UTC ms.
    """

    def __init__(self, settings: Settings, measures: Measures, now: int) -> None:
        self._settings, self._measures, self._now = settings, measures, now
        self._feedstocks = feedstocks_by_name()

    def stock(
        self, record: MaterialRecord, sheet_of: Callable[[Node, bool], LotSheet], tests: Sequence[str], *, names: bool
    ) -> StockView:
        """Return the stock and the lots.

        Args:
            record: The graph and the log.
            sheet_of: Returns the sheet of a lot; told to, with its inputs traced.
            tests: The tests that the yard asks for.
            names: Whether people may be named.
        """
        lots = record.graph.nodes(NodeKind.LOT)[::-1]
        return StockView(
            materials=tuple(
                self._material(record, one, names=names) for one in shelves_in_order(record, self._feedstocks)
            ),
            lots=tuple(self._lines(lots[:LOTS_SHOWN], sheet_of)),
            older=max(0, len(lots) - LOTS_SHOWN),
            sources=tuple(self._sources(record)) if names else (),
            traceable=tuple(self._traceable(record)) if names else (),
            tests=tuple(tests),
        )

    def lot(
        self, record: MaterialRecord, sheet: LotSheet, *, names: bool, durations: Sequence[DurationLine] = ()
    ) -> LotView:
        """Return the sheet of a lot.

        Args:
            record: The graph and the log.
            sheet: The lot.
            names: Whether people may be named.
            durations: The rules of duration that it was held against.
        """

        def name_of(node: Node) -> str:
            return self._name(record, node, names=names)

        shown = [self._ingredient(record, one, name_of, names=names) for one in sheet.inputs]
        return LotView(
            line=self._line(sheet),
            kind=kind_of_lot(sheet),
            risks=tuple(
                f"{risk}, by {', '.join(nodes)}" if names else risk for risk, nodes in sorted(sheet.risks.items())
            ),
            ingredients=tuple(shown if names else _counted(shown)),
            tests=tuple(
                TestLine(
                    test=clean(one.test, _LENGTH),
                    result=one.result,
                    when=self._day(one.time),
                    note=clean(one.note, 400) if names and one.note else "",
                )
                for one in sheet.tests
            ),
            given=tuple(self._given(one) for one in sheet.given) if names else (),
            cautions=tuple(cautions_of(sheet, self._settings, self._now)),
            tree=lot_tree(record.graph, sheet.node, sheet.inputs, name_of),
            made_ms=sheet.made.time,
            durations=tuple(durations),
            unknown=tuple(words for words in (*parts_gone(sheet, record), *unknown_shares(sheet, record)) if names),
        )

    def recall(
        self,
        record: MaterialRecord,
        nodes: Sequence[Node],
        lots: Sequence[tuple[Outcome, LotSheet]],
        others: Iterable[Outcome],
    ) -> RecallView:
        """Return the answer to a recall.

        Args:
            record: The graph and the log.
            nodes: What is asked about.
            lots: The lots that have, or may have, something of it.
            others: Everything else that came of it.
        """
        return RecallView(
            asked=", ".join(self._name(record, one, names=True) for one in nodes),
            went_into=tuple(
                self._name(record, one.node, names=True) + ("" if one.certain else " (may have some of it)")
                for one in others
                if one.node.kind in _ON_THE_WAY
            ),
            people=tuple(sorted({clean(one.work.receiver, _LENGTH) for _, sheet in lots for one in sheet.given})),
            lots=tuple(
                RecalledLot(
                    id=sheet.node.id,
                    certain=outcome.certain,
                    left=left_words(sheet, self._measures),
                    given=tuple(self._given(one) for one in sheet.given),
                )
                for outcome, sheet in lots
            ),
        )

    def _material(self, record: MaterialRecord, shelf: Shelf, *, names: bool) -> InStock:
        there = shelf.open
        warnings = [short_words(shelf, self._measures), unmeasured_words(shelf)]
        return InStock(
            name=self._material_name(shelf.material, names=names) if shelf.material else NAMELESS_MATERIAL,
            amount=how_much(shelf, self._measures),
            rots=bool(there) and (known := self._known(shelf.material)) is not None and known.spoils,
            warnings=tuple(words[:1].upper() + words[1:] for words in warnings if words),
            deliveries=tuple(
                Arrived(
                    id=one.node.id,
                    left="an amount that nobody can weigh" if one.wet_g is None else self._measures.mass(one.wet_g),
                    age=age_words(self._now - one.time),
                    supplier=self._supplier(record, one.node) if names else "",
                    risks=tuple(record.graph.risks.get(one.node, ())),
                    looked_for=self._looked_for(record, one.node, names=names),
                )
                for one in there
            ),
        )

    def _lines(self, lots: Sequence[Node], sheet_of: Callable[[Node, bool], LotSheet]) -> Iterable[LotLine]:
        """Yield a line for each lot; the inputs of the newest that are not given out are traced, since that takes a while."""
        room = LOTS_TRACED
        for one in lots:
            traced = room > 0 and status_of(sheet_of(one, False)) != "all given out"
            room -= traced
            yield self._line(sheet_of(one, traced), traced=traced)

    def _line(self, sheet: LotSheet, *, traced: bool = True) -> LotLine:
        return LotLine(
            id=sheet.node.id,
            left=left_words(sheet, self._measures),
            state=status_of(sheet),
            held=tuple(sheet.held),
            made=self._day(sheet.made.time),
            heat=treated_words(sheet) if traced else "",
            risks=tuple(sorted(sheet.risks)) if traced else (),
        )

    def _sources(self, record: MaterialRecord) -> Iterable[Named]:
        graph = record.graph
        there = [one for one in graph.nodes(*SOURCES)[::-1] if one.kind is not NodeKind.LOT]
        unknown = {one: Tally.wet([*graph.into.get(one, ()), *graph.out_of.get(one, ())]).unknown for one in there}
        for one in [one for one in there if unknown[one] or graph.wet_left(one) > 0][:SOURCES_SHOWN]:
            much = "nobody knows how much" if unknown[one] else self._measures.mass(graph.wet_left(one))
            yield Named(one.id, f"{self._name(record, one, names=True)}: {much}")

    def _traceable(self, record: MaterialRecord) -> Iterable[Named]:
        for one in record.graph.nodes(NodeKind.DELIVERY, *_ON_THE_WAY)[: -TRACED_SHOWN - 1 : -1]:
            yield Named(one.id, self._name(record, one, names=True))

    def _ingredient(
        self, record: MaterialRecord, one: TracedInput, name_of: Callable[[Node], str], *, names: bool
    ) -> Ingredient:
        node, dry = one.found.node, one.found.dry_g
        words = name_of(node)
        if names and dry:
            words += f", {self._measures.mass(dry)} dry"
        return Ingredient(
            id=node.id if names and node.kind not in (NodeKind.UNRECORDED, NodeKind.EARLIER) else "",
            words=words,
            certain=one.found.certain,
            heat=heat_words(one),
            risks=one.risks,
            looked_for=self._looked_for(record, node, names=names),
        )

    @staticmethod
    def _looked_for(record: MaterialRecord, node: Node, *, names: bool) -> str:
        """Return whether anybody was asked about risks; "" where risks are named, which stand by themselves."""
        named = record.graph.risks.get(node)
        told = "" if named else risks_known(node, record, names=names)
        return clean(told, _LENGTH) if told else ""

    def _given(self, one: Given) -> GivenLine:
        unknown = "an unknown amount" if one.wet_g is None else self._measures.mass(one.wet_g)
        return GivenLine(
            receiver=clean(one.work.receiver, _LENGTH),
            amount=amount_said(one.work) or unknown,
            price=clean(one.work.price, 40) if one.work.price else "",
            when=self._day(one.work.time),
        )

    def _name(self, record: MaterialRecord, node: Node, *, names: bool) -> str:
        if node.kind is NodeKind.DELIVERY:
            work = record.entries[entry_of(node.id)]
            what = self._material_name(work.what, names=names)
            supplier = self._supplier(record, node) if names else ""
            return f"{node.id}, {what} from {supplier}" if supplier else f"{node.id}, {what}" if names else what
        if node == Node(NodeKind.UNRECORDED, WORMS):
            return "worms that were brought"
        if node.kind is NodeKind.UNRECORDED:
            what = self._material_name(node.id, names=names) if node.id else "material"
            return f"{what}, of which no delivery is written down" if names else what
        if node.kind is NodeKind.EARLIER:
            return earlier_words(node)
        kind = "heap" if node.kind is NodeKind.BATCH else "part" if node.kind is NodeKind.FRACTION else node.kind.value
        return node.id if node.kind is NodeKind.LOT else f"{kind} {node.id}"

    def _material_name(self, name: str, *, names: bool) -> str:
        """Return a material's name; without names only one that everybody knows, since others may name a person."""
        if names or (self._known(name) is not None):
            return clean(name, 40)
        return "another material"

    def _known(self, name: str) -> Feedstock | None:
        return self._feedstocks.get(name.casefold())

    def _supplier(self, record: MaterialRecord, node: Node) -> str:
        work = record.entries.get(entry_of(node.id))
        return clean(work.source, 40) if work is not None and work.source else ""

    def _day(self, at: int) -> str:
        return day_words(at, self._settings)


def _counted(some: Iterable[Ingredient]) -> list[Ingredient]:
    """Return ingredients of which those that read alike are one, with their number."""
    return [replace(one, count=count) for one, count in Counter(some).items()]
