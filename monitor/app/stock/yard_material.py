"""Gathers the graph of material from the record: the log, the book of heaps, and what amounts weigh in this yard."""

import gc
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime
from functools import lru_cache
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

from monitor.app.entries.entry_log import entry_log
from monitor.app.yard.yard_view import YardView
from monitor.configuration import Configuration
from monitor.material import MaterialRecord, PlacesOfHeaps, Weighed, YardOfMaterial, known_heaps, read_log
from monitor.mix import Feedstock, known_feedstocks
from monitor.model.amounts import Amount, Dimension
from monitor.model.containers import Container
from monitor.model.settings import Settings
from monitor.model.work import Work
from monitor.model.work_kinds import Where, declared

if TYPE_CHECKING:
    from monitor.piles import Batch


def where_heaps_lay(batches: "Iterable[Batch]") -> list[Any]:
    """Return where the engine's batches lay, and what became of them, as plain values, which JSON can hold."""
    return [
        [one.batch, one.built, one.parent, one.merged_into, one.ended, [[s.pile, s.start, s.end] for s in one.spans]]
        for one in batches
    ]


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
    configuration: Configuration, settings: Settings, bins: Collection[str], lay: Iterable[Sequence[Any]]
) -> YardOfMaterial:
    """Return the yard behind a log.

    Args:
        configuration: The configuration, for its containers and beds.
        settings: The settings in force.
        bins: Ids of the worm bins, also of former ones.
        lay: Where heaps lay, as `where_heaps_lay` returned it.
    """
    zone = ZoneInfo(settings.site.time_zone)
    return YardOfMaterial(
        heaps=PlacesOfHeaps(known_heaps(lay)),
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
