"""Gathers everything that a report is made from: the log, the graph of material, decisions on heaps, answers, containers."""

from itertools import islice

from monitor.app.entries.entry_log import entry_log
from monitor.app.material.yard_material import record_of_work
from monitor.app.reporting.proven_later import proven_later
from monitor.app.yard.yard_view import YardView
from monitor.configuration import Configuration
from monitor.engine import Engine
from monitor.journal import Store
from monitor.material import PlacesOfHeaps
from monitor.model.amounts import Dimension, known_amount
from monitor.model.events import EventKind
from monitor.model.work import Work
from monitor.reports import Kept, Report, Span, Spread, heap_turns, yard_report

_BEGINNING = (EventKind.STARTED, EventKind.SETTINGS, EventKind.WORK, EventKind.IMPORTED)


def report_of(engine: Engine, store: Store, configuration: Configuration, span: Span, now: int) -> Report:
    """Return the report of some days.

    Args:
        engine: An engine at the end of the record; asking it changes nothing.
        store: The journal.
        configuration: The configuration, for containers and the factor for methane.
        span: The days.
        now: The present, UTC ms.
    """
    settings = configuration.settings
    entries = [one for one in entry_log(store, [*settings.piles, *settings.bins]) if not one.undone]
    standing = [(one.number, one.work) for one in entries if one.work is not None]
    batches = engine.state.batches.batches
    # A decision on the time of the report was made in it or later.
    turns = heap_turns(store.effects(span.start - 1))
    view = YardView(engine, store, None, None, None, [])
    later = proven_later(view, configuration, entries, {one.batch for one in turns}, span, now)
    kept = Kept(
        record=record_of_work(standing, batches.values(), configuration, settings),
        heap_turns=sorted([*turns, *later], key=lambda one: (one.at, one.batch)),
        read_by_hand=[read.time for one in entries for _, read in one.readings],
        answered=[event.at for event in store.events_of(EventKind.ANSWER)],
        first=next((event.at for event in islice(store.events_of(*_BEGINNING), 1)), None),
        now=now,
        heap_at=PlacesOfHeaps(batches).lying,
        spread_of=_Spreads(configuration),
        volume_ml=lambda unit: held.volume_ml if (held := configuration.containers.get(unit)) is not None else None,
        factor=configuration.methane,
    )
    return yard_report(kept, span)


class _Spreads:
    """Tells how far a delivery in full containers may be off, by the spread of those that were weighed."""

    def __init__(self, configuration: Configuration) -> None:
        self._containers = configuration.containers

    def __call__(self, work: Work) -> Spread | None:
        """Return how far the mass of a delivery may be off; None where it is in no container that was weighed."""
        amount = known_amount(work.amount, work.measure, work.unit)
        if amount is None or amount.dimension is not Dimension.CONTAINERS or amount.unit not in self._containers:
            return None
        held = self._containers[amount.unit].content(work.what, float(amount.count), None)
        if held is None or not held.weighed:
            return None
        return Spread(f"{amount.unit}/{work.what.casefold()}", held.error_g)
