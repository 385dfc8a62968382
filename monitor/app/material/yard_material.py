"""Gathers the graph of material from the record: the log, the book of heaps, and what amounts weigh in this yard."""

from collections.abc import Collection, Iterable, Sequence
from datetime import UTC, datetime
from functools import lru_cache
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

from monitor.app.entries.entry_log import entry_log
from monitor.app.yard.garbage import no_search_for_cycles
from monitor.app.yard.yard_scales import bins_of, scales_of, where_heaps_lay
from monitor.app.yard.yard_view import YardView
from monitor.configuration import Configuration
from monitor.material import MaterialRecord, PlacesOfHeaps, YardOfMaterial, known_heaps, read_log
from monitor.model.settings import Settings
from monitor.model.work import Work

if TYPE_CHECKING:
    from monitor.piles import Batch


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
