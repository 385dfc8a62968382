"""Gathers the graph of material from the record: the log, the book of heaps, and what amounts weigh in this yard."""

import gc
from bisect import bisect_right
from collections.abc import Collection, Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime
from functools import lru_cache
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from monitor.app.entries.entry_log import entry_log
from monitor.app.yard.yard_view import YardView
from monitor.configuration import Configuration
from monitor.material import MaterialRecord, Weighed, YardOfMaterial, read_log
from monitor.mix import Feedstock, known_feedstocks
from monitor.model.amounts import Amount, Dimension
from monitor.model.containers import Container
from monitor.model.settings import Settings
from monitor.model.work import Work
from monitor.model.work_kinds import Where, declared

if TYPE_CHECKING:
    from monitor.piles import Batch


Lay = tuple[str, int, int | None, str]
"""A pile, from when and (not including; None: it lies there) until when, UTC ms, a batch lay on it, and the batch."""


def where_heaps_lay(batches: "Iterable[Batch]") -> list[Lay]:
    """Return where the engine's batches lay."""
    return [(span.pile, span.start, span.end, batch.batch) for batch in batches for span in batch.spans]


class BookOfHeaps:
    """Tells which heap lay where."""

    def __init__(self, lay: Iterable[Lay]) -> None:
        spans: dict[str, list[tuple[int, float, str]]] = {}
        for pile, start, end, batch in lay:
            spans.setdefault(pile, []).append((start, float("inf") if end is None else end, batch))
        self._spans = {pile: sorted(some) for pile, some in spans.items()}

    def left(self, place: str, time: int) -> str:
        """Return the batch that lay on a place right up to an instant (UTC ms), or ""."""
        spans = self._spans.get(place, [])
        at = bisect_right(spans, time, key=lambda span: span[0]) - 1
        # If one left and another came at this instant, the one that left is meant.
        for start, end, batch in reversed(spans[max(0, at - 1) : at + 1]):
            if start < time <= end:
                return batch
        return self.lying(place, time)

    def lying(self, place: str, time: int) -> str:
        """Return the batch that lies on a place from an instant (UTC ms) on, or ""."""
        spans = self._spans.get(place, [])
        at = bisect_right(spans, time, key=lambda span: span[0]) - 1
        return spans[at][2] if at >= 0 and spans[at][0] <= time < spans[at][1] else ""


@dataclass(frozen=True, slots=True)
class YardScales:
    """Tells the mass of amounts by the yard's own weighings, else by volume and loose density."""

    feedstocks: Mapping[str, Feedstock]
    containers: Mapping[str, Container] = field(default_factory=dict)

    def weigh(self, material: str, amount: Amount) -> Weighed | None:
        """Return the mass of an amount; None if nobody can say.

        Args:
            material: Its name; capitals do not matter.
            amount: The amount.
        """
        known = self.feedstocks.get(" ".join(material.casefold().split()))
        density = None if known is None or known.density is None else known.density.typical
        wet, measured = self._wet(material, amount, density)
        if wet is None:
            return None
        return Weighed(wet, None if known is None else round(wet * known.dry_share), measured)

    def _wet(self, material: str, amount: Amount, density: float | None) -> tuple[int | None, bool]:
        if amount.dimension is Dimension.MASS:
            return amount.base, True
        if amount.dimension is Dimension.VOLUME and amount.base is not None and density is not None:
            return round(amount.base * density / 1000), False
        if amount.dimension is Dimension.CONTAINERS and amount.unit in self.containers:
            held = self.containers[amount.unit].content(material, float(amount.count), density)
            if held is not None:
                return round(held.mass_g), held.weighed > 0
        return None, False


def material_record(view: YardView, configuration: Configuration) -> MaterialRecord:
    """Return the graph of a yard's material, and its stock.

    Args:
        view: The record.
        configuration: The configuration, for its containers and bins.
    """
    settings = configuration.settings
    with no_search_for_cycles():
        entries = entry_log(view.store, [*settings.piles, *settings.bins])
        standing = [(one.number, one.work) for one in entries if one.work is not None and not one.undone]
        return record_of_work(standing, view.engine.state.batches.batches.values(), configuration, settings)


@contextmanager
def no_search_for_cycles() -> Iterator[None]:
    """Pause the garbage collector: hundreds of thousands of small parts without a cycle would be searched again and again."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()


def record_of_work(
    standing: list[tuple[int, Work]], batches: "Iterable[Batch]", configuration: Configuration, settings: Settings
) -> MaterialRecord:
    """Return the graph and the stock of some entries.

    Args:
        standing: (number, work) of the entries that stand.
        batches: The heaps.
        configuration: The configuration, for its containers.
        settings: The settings in force.
    """
    bins = bins_of(settings, (work for _, work in standing))
    return read_log(standing, yard_of_material(configuration, settings, bins, where_heaps_lay(batches)))


def yard_of_material(
    configuration: Configuration, settings: Settings, bins: Collection[str], lay: Iterable[Lay]
) -> YardOfMaterial:
    """Return the yard behind a log.

    Args:
        configuration: The configuration, for its containers and beds.
        settings: The settings in force.
        bins: Ids of the worm bins, also of former ones.
        lay: Where heaps lay.
    """
    zone = ZoneInfo(settings.site.time_zone)
    return YardOfMaterial(
        heaps=BookOfHeaps(lay),
        scales=scales_of(configuration),
        bins=bins,
        day_of=lru_cache(4096)(lambda at: datetime.fromtimestamp(at / 1000, zone).date().isoformat()),
        begun=begun_days(configuration),
    )


def begun_days(configuration: Configuration) -> dict[str, str]:
    """Return the day on which the bed of each bin was begun, `2026-05-01`, as far as the configuration says so."""
    begun = ((name, bed.begun) for name, bed in configuration.beds.items())
    # A day of the configuration is kept as its midnight in UTC, whatever the yard's zone is.
    return {name: datetime.fromtimestamp(at / 1000, UTC).date().isoformat() for name, at in begun if at is not None}


def feedstocks_by_name() -> dict[str, Feedstock]:
    """Return the known feedstocks by their names in small letters."""
    return {name.casefold(): one for name, one in known_feedstocks().items()}


def scales_of(configuration: Configuration) -> YardScales:
    """Return the scales of a yard, which tell the mass of amounts."""
    return YardScales(feedstocks_by_name(), configuration.containers)


def bins_of(settings: Settings, works: Iterable[Work]) -> Collection[str]:
    """Return the ids of the worm bins, also of former ones: only bins are fed and harvested."""
    found = set(settings.bins)
    for work in works:
        if declared(work.kind).where is Where.BIN and work.place not in settings.piles:
            found.add(work.place)
    return found
