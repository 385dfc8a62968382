"""The report of a month, a season or some days: everything that the record says of them, each figure with how it is known."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from monitor.material import MaterialRecord
from monitor.model.methane import MethaneFactor
from monitor.model.turnings import counted_firsts
from monitor.model.work import Work, WorkKind
from monitor.model.work_kinds import turned_at
from monitor.reports.heap_turns import HeapTurn
from monitor.reports.moved import (
    Gap,
    GivenOut,
    Gone,
    Watered,
    fed,
    gaps,
    given_out,
    gone,
    harvested,
    screened,
    watered,
)
from monitor.reports.report_spans import Span
from monitor.reports.report_sums import Sum
from monitor.reports.taken_in import SpreadOf, TakenIn, taken_in
from monitor.reports.unlooked_days import unlooked_days

TOLD = (WorkKind.INCIDENT, WorkKind.COMPLAINT, WorkKind.PEST, WorkKind.VISITORS, WorkKind.WEATHER)
"""The kinds of entries whose notes a report tells, in this order."""


@dataclass(frozen=True, slots=True)
class Turnings:
    """Turnings of all heaps: as they were logged, and as they count (entries less than 6 h after the first are one)."""

    logged: int
    counted: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """Everything that a report is made from.

    Attributes:
        record: The graph of material and the log behind it.
        heap_turns: The heaps that met their rule or whose rule became void, at any time.
        read_by_hand: When readings by hand were taken, UTC ms.
        answered: When people answered alarms, UTC ms.
        first: The beginning of the record, UTC ms; None: there is none.
        now: The present, UTC ms.
        heap_at: Returns the heap that lies on a place from an instant (UTC ms) on, or "".
        spread_of: Tells how far the mass of a delivery may be off.
        volume_ml: Returns the volume of a container by its id, mL; None if nobody said.
        factor: The yard's factor for methane; None: it has none, and no figure is made up.
    """

    record: MaterialRecord
    heap_turns: Sequence[HeapTurn]
    read_by_hand: Iterable[int]
    answered: Iterable[int]
    first: int | None
    now: int
    heap_at: Callable[[str, int], str]
    spread_of: SpreadOf
    volume_ml: Callable[[str], int | None]
    factor: MethaneFactor | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Report:
    """The report.

    Attributes:
        span: The time that it covers.
        now: When it was made, UTC ms; what lies later in the span is not in it.
        rows: What came in, by month, supplier and material.
        taken_in: The sum of that.
        refused: Deliveries that were sent back, in order of time.
        heap_turns: The heaps that met their rule or whose rule became void.
        turnings: The turnings.
        fed: Food of the worms.
        harvested: What was taken from the beds.
        screened: The fractions, by their names.
        given_out: What went to people.
        watered: The water that was poured.
        told: Incidents, complaints, pests, visitors and weather: the entries, by kind and then in order of time.
        unlooked: Days without any entry, reading by hand or answer.
        days_counted: Of how many days.
        gone: What was lost, as far as it was weighed.
        gaps: Where dry matter does not add up.
        factor: The yard's factor for methane, or None.
        methane_g: By that, the methane that is taken to be avoided, g; None without a factor.
    """

    span: Span
    now: int
    rows: Sequence[TakenIn]
    taken_in: TakenIn
    refused: Sequence[Work]
    heap_turns: Sequence[HeapTurn]
    turnings: Turnings
    fed: Sum
    harvested: Sum
    screened: Mapping[str, Sum]
    given_out: GivenOut
    watered: Watered
    told: Sequence[Work]
    unlooked: Sequence[date]
    days_counted: int
    gone: Sequence[Gone]
    gaps: Sequence[Gap]
    factor: MethaneFactor | None
    methane_g: int | None

    @property
    def goes_on(self) -> bool:
        """Whether the time that it covers is not over yet."""
        return self.now < self.span.end


def yard_report(kept: Kept, span: Span) -> Report:
    """Return the report of some days.

    Args:
        kept: Everything that it is made from.
        span: The time that it covers.
    """
    record = kept.record
    works = sorted((work for work in record.entries.values() if span.has(work.time)), key=lambda work: work.time)
    rows, whole = taken_in(record, span, kept.spread_of)
    seen = [*(work.time for work in record.entries.values()), *kept.read_by_hand, *kept.answered]
    first = min((one for one in (kept.first, *seen) if one is not None), default=None)
    unlooked, counted = unlooked_days(seen, span, first, kept.now)
    return Report(
        span=span,
        now=kept.now,
        rows=rows,
        taken_in=whole,
        refused=[work for work in works if work.kind is WorkKind.DELIVERY and work.refused],
        heap_turns=[one for one in kept.heap_turns if span.has(one.at)],
        turnings=_turnings(record.entries.values(), span, kept.heap_at),
        fed=fed(record, span),
        harvested=harvested(record, span),
        screened=screened(record, span),
        given_out=given_out(record, span),
        watered=watered(record, span, kept.volume_ml),
        told=[work for kind in TOLD for work in works if work.kind is kind],
        unlooked=unlooked,
        days_counted=counted,
        gone=gone(record, span),
        gaps=gaps(record, span),
        factor=kept.factor,
        methane_g=None if kept.factor is None else round(whole.mass.known_g * kept.factor.kg_per_kg),
    )


def _turnings(works: Iterable[Work], span: Span, heap_at: Callable[[str, int], str]) -> Turnings:
    """Return the turnings; a group that began before the span counts where it began."""
    by_heap: dict[str, list[int]] = {}
    for work in works:
        place = turned_at(work)
        if place is not None:
            by_heap.setdefault(heap_at(place, work.time) or place, []).append(work.time)
    return Turnings(
        logged=sum(span.has(at) for some in by_heap.values() for at in some),
        counted=sum(span.has(at) for some in by_heap.values() for at in counted_firsts(some)),
    )
