"""Gathers a season: the heaps that lay in it, each with its course, and the year of each bin."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass

from monitor.app.seasons.bin_days import BinDays
from monitor.app.seasons.kept_heats import HeapHeats, HeatLook
from monitor.app.yard.yard_scales import feedstocks_by_name
from monitor.app.yard.yard_view import YardView
from monitor.configuration import Configuration
from monitor.material import MaterialRecord, Movement, Node, NodeKind, PlacesOfHeaps
from monitor.mix import Part, figures_of
from monitor.model.alarm_kinds import Alarm
from monitor.model.mix_parts import parts_said
from monitor.model.natural_order import natural
from monitor.model.turnings import counted_firsts
from monitor.model.units import Quantity
from monitor.model.work import Work, WorkKind
from monitor.model.work_kinds import declared, turned_at
from monitor.piles import Batch
from monitor.reports import BinYear, HeapCourse, Span, bin_year, sum_of, time_in_alarm, water_of

HEAT_AND_FROST = (Alarm.OVERHEATING, Alarm.WORMS_IN_DANGER, Alarm.FREEZING)


@dataclass(frozen=True, slots=True)
class Season:
    """Some months of a yard.

    Attributes:
        span: The months.
        now: The instant of the look, UTC ms.
        heaps: The heaps that lay in them, those built last in front.
        bins: The bins, in the order asked for.
    """

    span: Span
    now: int
    heaps: Sequence[HeapCourse]
    bins: Sequence[BinYear]


def heaps_of(view: YardView, span: Span, places: Collection[str]) -> list[str]:
    """Return the heaps that lay on some places in a time, those built last in front.

    Args:
        view: The record.
        span: The time.
        places: The places.
    """
    found = [
        one
        for one in view.engine.state.batches.batches.values()
        if any(
            stay.pile in places and stay.start < span.end and (stay.end is None or stay.end > span.start)
            for stay in one.spans
        )
    ]
    return [one.batch for one in sorted(found, key=lambda one: (-one.built, natural(one.batch)))]


class Gathering:
    """Gathers seasons of one record; valid while one state of it is held."""

    def __init__(
        self,
        view: YardView,
        configuration: Configuration,
        record: MaterialRecord,
        look: HeatLook,
        kept: tuple[HeapHeats, BinDays] | None = None,
    ) -> None:
        """Look at a record.

        Args:
            view: The record.
            configuration: The configuration in force.
            record: The graph of material and the log.
            look: The look: the present, and its time for working on heaps.
            kept: The heaps and days worked out before; None: there are none.
        """
        self._view, self._configuration, self._record = view, configuration, record
        self._look, self._now = look, look.now
        self._heats, self._days = kept or (HeapHeats(), BinDays())
        self._places = PlacesOfHeaps(view.engine.state.batches.batches)

    def season(self, span: Span, heaps: Sequence[str], bins: Sequence[str]) -> Season:
        """Return some months with some heaps and bins.

        Args:
            span: The months, from the first day of one to the last of another.
            heaps: The heaps.
            bins: The bins.
        """
        return Season(span, self._now, [self.heap(one) for one in heaps], [self._bin(one, span) for one in bins])

    def heap(self, batch: str) -> HeapCourse:
        """Return the course of a heap."""
        known = self._view.engine.state.batches.batches[batch]
        works = self._works(known)
        node = Node(NodeKind.BATCH, batch)
        into = [one for one in self._record.graph.into.get(node, ()) if one.wet_g != 0]
        out = [one for one in self._record.graph.out_of.get(node, ()) if one.target.kind is not NodeKind.GONE]
        built = [one for one in works if one.kind is WorkKind.BUILT and one.time == known.built]
        watered = [one for one in works if one.kind is WorkKind.WATERED]
        return HeapCourse(
            batch=batch,
            place=known.spans[-1].pile,
            built=known.built,
            ended=known.ended,
            rule=known.rule,
            heat=self._heats.of(self._view, self._configuration, batch, works, self._look),
            made_of="; ".join(dict.fromkeys(filter(None, map(_made_of, built)))),
            carbon=self._carbon([one for one in into if one.time == known.built]),
            turned=counted_firsts(self._turnings(known, works)),
            watered_at=[one.time for one in watered],
            added_at=[one.time for one in works if declared(one.kind).brings and one.kind is not WorkKind.BUILT],
            water=water_of((*built, *watered), self._volume_ml),
            start=sum_of(one for one in into if one.time == known.built),
            end=sum_of(out),
            became=list(dict.fromkeys(one.target for one in out)),
            merged_into=known.merged_into,
        )

    def _works(self, batch: Batch) -> list[Work]:
        """Return the entries that concern a heap, in order of time."""
        numbers = {
            number for stay in batch.spans for number in self._record.done_at.get(stay.pile, ())
        }  # a move stands at the place that it began from
        works = [self._record.entries[number] for number in sorted(numbers)]
        ended = self._now if batch.ended is None else batch.ended
        return sorted((one for one in works if batch.built <= one.time <= ended), key=lambda one: one.time)

    def _turnings(self, batch: Batch, works: Sequence[Work]) -> list[int]:
        return [
            one.time
            for one in works
            if (place := turned_at(one)) is not None and self._places.lying(place, one.time) == batch.batch
        ]

    def _carbon(self, built: Sequence[Movement]) -> float | None:
        """Return the C/N of what was thrown together; None if a mass or a material is not known."""
        known, parts = feedstocks_by_name(), []
        for move in built:
            feedstock = known.get(self._material(move.source).casefold())
            if feedstock is None or move.wet_g is None:
                return None
            parts.append(Part(feedstock, move.wet_g))
        if not parts:
            return None
        carbon = figures_of(parts).cn
        return None if carbon is None else carbon.typical

    def _material(self, source: Node | None) -> str:
        if source is None or source.kind is NodeKind.UNRECORDED:
            return "" if source is None else source.id
        if source.kind is not NodeKind.DELIVERY:
            return ""
        delivered = self._record.entries.get(int(source.id.removeprefix("d")))
        return "" if delivered is None else delivered.what

    def _volume_ml(self, unit: str) -> int | None:
        held = self._configuration.containers.get(unit)
        return None if held is None else held.volume_ml

    def _bin(self, place: str, span: Span) -> BinYear:
        effects = self._view.store.effects(place=place)
        return bin_year(
            place,
            self._view.engine.state.settings.bins[place].thresholds,
            span,
            self._record,
            self._days.of(self._view, place, Quantity.TEMPERATURE, span, self._now),
            self._days.of(self._view, place, Quantity.MOISTURE, span, self._now),
            time_in_alarm(effects, place, HEAT_AND_FROST, self._now),
        )


def _made_of(work: Work) -> str:
    parts, note = parts_said(work.parts), work.note.strip()
    return f"{parts} ({note})" if parts and note else parts or note or work.what
