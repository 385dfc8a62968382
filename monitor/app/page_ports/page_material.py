"""The yard's material as the page sees it: read from the whole log, and kept until the record says something new of it.

Kept are the graph, the sheets of lots, and the heat of heaps, which takes longest. They serve until an entry, a correction,
new settings or an import come, or the engine decides something, since a late reading can change what is proven of a heap.
Other readings change nothing of it.
"""

import threading
from dataclasses import dataclass, field

from monitor.app.console.measures import Measures
from monitor.app.page_ports.material_shown import Shown
from monitor.app.stock import (
    HeatsOfHeaps,
    LotSheet,
    Making,
    doubts_of_giving,
    doubts_of_making,
    durations_of,
    figures_known,
    label_of,
    lot_id,
    lot_named,
    lot_sheet,
    material_record,
    nodes_named,
    recalled,
    source_named,
)
from monitor.app.yard.yard_view import YardView
from monitor.configuration import Configuration
from monitor.drawing import BagLabel
from monitor.journal import Store
from monitor.material import HeatStatus, MaterialRecord, Node
from monitor.model.events import EventKind
from monitor.model.work_entry import is_us
from monitor.page import ConditionLine, DurationLine, LotView, RecallView, StockView

_CHANGING = (EventKind.WORK, EventKind.CORRECTION, EventKind.IMPORTED, EventKind.SETTINGS, EventKind.SEALED)


@dataclass(slots=True)
class _Read:
    """A reading of the record at one state of it."""

    position: tuple[int | None, ...]
    until: int
    configuration: Configuration
    record: MaterialRecord
    sheets: dict[Node, LotSheet] = field(default_factory=dict)
    heats: dict[tuple[str, int], HeatStatus] = field(default_factory=dict)


class KeptMaterial:
    """The last reading of the yard's material; one for all looks, and any thread may use it."""

    def __init__(self) -> None:
        self.lock = threading.RLock()
        self._read: _Read | None = None

    def read(self, view: YardView, configuration: Configuration) -> _Read:
        """Return the material of a record, read anew only if the record says something new of it; hold the lock meanwhile.

        Args:
            view: The record.
            configuration: The configuration in force.
        """
        position = tuple(view.store.last_of(kind) for kind in _CHANGING)
        kept = self._read
        if (
            kept is None
            or kept.position != position
            or kept.configuration is not configuration
            or _decided_after(view.store, kept.until)
        ):
            until = view.store.mark().latest() or 0
            kept = self._read = _Read(position, until, configuration, material_record(view, configuration))
        return kept


def _decided_after(store: Store, at: int) -> bool:
    return next(iter(store.effects(after=at)), None) is not None


class RecordMaterial:
    """Fills `monitor.page.Material`; valid inside the look whose record it reads."""

    def __init__(self, view: YardView, configuration: Configuration, now: int, kept: KeptMaterial) -> None:
        """Show the material of a record.

        Args:
            view: The record.
            configuration: The configuration in force.
            now: The daemon's time, UTC ms.
            kept: What was read before.
        """
        self._view, self._configuration, self._now, self._kept = view, configuration, now, kept
        settings = configuration.settings
        self._measures = Measures(is_us(settings), configuration.containers)
        self._shown = Shown(settings, self._measures, now)

    def stock(self, *, names: bool) -> StockView:
        """Return the stock and the lots; without `names` nobody is named."""
        with self._kept.lock:
            read = self._read()
            return self._shown.stock(
                read.record,
                lambda lot, traced: self._sheet(read, lot, traced=traced),
                self._configuration.lot_tests,
                names=names,
            )

    def lot(self, lot: str, *, names: bool) -> LotView:
        """Return the sheet of a lot.

        Args:
            lot: Its id.
            names: Whether people may be named; False: nobody is.

        Raises:
            MisuseError: There is no such lot; the sentence says which are.
        """
        with self._kept.lock:
            read = self._read()
            sheet = self._sheet(read, lot_named(read.record, lot))
            # For information, and the reasons name entries and people: so for keepers alone.
            durations = self._durations(read, sheet) if names else []
            return self._shown.lot(read.record, sheet, names=names, durations=durations)

    def recall(self, what: str) -> RecallView:
        """Return the lots that have something of a delivery, heap, bed, harvest or bin, and who got it.

        Raises:
            MisuseError: Nothing has that name.
        """
        with self._kept.lock:
            read = self._read()
            nodes = nodes_named(read.record, what, self._configuration.settings)
            lots, others = recalled(read.record, nodes, None)
            found = [(one, self._sheet(read, one.node, traced=False)) for one in lots]
            return self._shown.recall(read.record, nodes, found, others)

    def doubts(self, lot: str, amount: str, receiver: str, at: int) -> str:
        """Return the doubts about giving some of a lot out, as a question; "" if there are none.

        Args:
            lot: The lot.
            amount: The amount, as typed.
            receiver: Who got it.
            at: When it was given, UTC ms.

        Raises:
            MisuseError: There is no such lot, or the amount cannot be understood.
        """
        with self._kept.lock:
            read = self._read()
            sheet = self._sheet(read, lot_named(read.record, lot))
            return doubts_of_giving(sheet, amount, receiver, at, self._configuration, self._measures)

    def doubts_of_making(self, source: str, amount: str, moisture: str, at: int) -> str:
        """Return the doubts about making a lot, as a question; "" if there are none.

        Args:
            source: A harvest, a fraction or a heap.
            amount: How much of it, as typed; "": all that is left.
            moisture: Its moisture, as typed, or "".
            at: When it is made, UTC ms.

        Raises:
            MisuseError: The source cannot become a lot, or the amount or the moisture cannot be understood.
        """
        with self._kept.lock:
            read = self._read()
            node = source_named(read.record, source, self._configuration.settings)
            making = Making([node], at, amount, moisture)
            heats = self._heats(read)
            return doubts_of_making(read.record, making, heats.missing, self._configuration, self._measures)

    def new_lot(self, source: str, at: int) -> tuple[str, str]:
        """Return the source of a new lot, as the record names it, and the id that the lot gets.

        Args:
            source: A harvest, a fraction or a heap.
            at: When it is made, UTC ms.

        Raises:
            MisuseError: The source cannot become a lot.
        """
        with self._kept.lock:
            record, settings = self._read().record, self._configuration.settings
            node = source_named(record, source, settings)
            return node.id, lot_id(record, [node], at, settings)

    def label(self, lot: str) -> BagLabel:
        """Return the label of a lot's bags, without a code.

        Raises:
            MisuseError: There is no such lot.
        """
        with self._kept.lock:
            read = self._read()
            sheet = self._sheet(read, lot_named(read.record, lot))
            return label_of(sheet, self._configuration.settings, self._measures, self._now)

    def _durations(self, read: _Read, sheet: LotSheet) -> list[DurationLine]:
        found = durations_of(sheet, read.record, self._view, self._configuration)
        return [
            DurationLine(
                rule=one.rule.id,
                known=figures_known(one, self._configuration),
                answer=one.answer.value,
                conditions=tuple(
                    ConditionLine(finding.key, finding.answer.value, finding.why) for finding in one.findings
                ),
            )
            for one in found
        ]

    def _read(self) -> _Read:
        return self._kept.read(self._view, self._configuration)

    def _heats(self, read: _Read) -> HeatsOfHeaps:
        return HeatsOfHeaps(lambda: self._view, self._configuration, self._now, read.heats)

    def _sheet(self, read: _Read, lot: Node, *, traced: bool = True) -> LotSheet:
        """Return the sheet of a lot; one kept for later looks has its inputs, which are read of this look's record."""
        kept = read.sheets.get(lot)
        if kept is None:
            kept = lot_sheet(read.record, lot, self._heats(read), self._configuration.lot_tests)
            if traced and kept.inputs is not None:
                read.sheets[lot] = kept
        return kept
