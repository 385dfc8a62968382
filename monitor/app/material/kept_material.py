"""The yard's material for one command: gone on from what an earlier command read of the log, or read anew.

What is kept belongs to one state of the record, to the configuration, and to the very code that read it. It is gone on with
if since then only entries were made that change nothing earlier: no older time, no correction, no import, nothing that moves a
heap. Otherwise the whole log is read.

Where heaps lay is the engine's word, and bringing an engine up takes longer than the answer. Only such entries, settings and a
new meaning of the engine change it, unless a heap may begin by readings alone: then the engine is asked.
"""

import hashlib
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import asdict, replace
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

import monitor
from monitor.app.entries.entry_log import Numbered, entry_log, later_entries
from monitor.app.entries.hand_log import hand_spots
from monitor.app.entries.work_log import Entered
from monitor.app.material.kept_file import read_kept, write_kept
from monitor.app.material.kept_works import KeptWorks, kept_places
from monitor.app.material.reread import corrected_since, first_difference, reread
from monitor.app.material.yard_material import record_of_work, yard_of_material
from monitor.app.yard.garbage import no_search_for_cycles
from monitor.app.yard.yard_scales import bins_of, where_heaps_lay
from monitor.configuration import Configuration
from monitor.journal import StateName, Store, dropped_entries, events_since, state_name
from monitor.material import KeptReading, MaterialRecord, in_order, places_in, tests_in
from monitor.model.event_shapes import wrong_shape
from monitor.model.events import EventKind
from monitor.model.settings import YARD
from monitor.model.work import Work
from monitor.model.work_kinds import Material, declared

if TYPE_CHECKING:
    from monitor.engine import Engine

_ANEW = frozenset({EventKind.SETTINGS, EventKind.SEALED})
"""Kinds of events after which the whole log is read."""
_BRING = frozenset({EventKind.WORK, EventKind.IMPORTED, EventKind.CORRECTION})
"""Kinds of events that bring entries, or change them."""
_READERS = ("material", "model", "mix", "app/material", "app/entries", "app/yard")
"""The code that reads the log: after any change of it, the log is read anew."""
_MANY = 500
"""So many entries since, and the log is read anew (our choice), so that what is kept stays near the end of the record."""
_DAMAGED = (ValueError, TypeError, KeyError, IndexError, AttributeError)
"""Faults of values that this program would not have kept."""


def read_material(store: Store, configuration: Configuration, engine: "Callable[[], Engine]") -> MaterialRecord:
    """Return the graph of a yard's material, and its stock; valid while one state of the journal is held.

    Args:
        store: The journal.
        configuration: The configuration, for its containers, beds and places.
        engine: Brings an engine up to the end of the journal, if it is needed.
    """
    with no_search_for_cycles():
        found = _tried(read_kept(store.folder), store, configuration, engine)
        if found is None:
            entries = entry_log(store, _places(configuration))
            found, _ = _read_anew(store, configuration, engine(), entries)
        return found


def read_both(
    configuration: Configuration, store: Store, engine: "Engine", entries: Sequence[Numbered], instead: Entered
) -> tuple[MaterialRecord, MaterialRecord]:
    """Return the material as it is, and as it would be if one entry were another; heaps lie where they lie in both.

    Args:
        configuration: The configuration, for its containers, beds and places.
        store: The journal; valid while one state of it is held.
        engine: An engine brought up to the end of the journal.
        entries: The whole log.
        instead: The entry as it would be; its work is None if it would be taken back.
    """
    with no_search_for_cycles():
        kept = read_kept(store.folder)
        after = _tried(kept, store, configuration, lambda: engine, instead)
        before = _tried(kept, store, configuration, lambda: engine)
        if before is None:
            before, kept = _read_anew(store, configuration, engine, entries)
            after = _tried(kept, store, configuration, lambda: engine, instead)
        if after is None:
            lay = engine.state.batches.batches.values()
            standing = _standing(_put_instead(entries, instead))
            after = record_of_work(standing, lay, configuration, configuration.settings)
        return before, after


def _tried(
    kept: dict[str, Any] | None,
    store: Store,
    configuration: Configuration,
    engine: "Callable[[], Engine]",
    instead: Entered | None = None,
) -> MaterialRecord | None:
    """Return the material as it was kept, with what is new; None if it has to be read anew, or what was kept is damaged."""
    if kept is None:
        return None
    try:
        return _gone_on(kept, store, configuration, engine, instead)
    except _DAMAGED:
        return None


def _standing(entries: Iterable[Numbered]) -> list[tuple[int, Work]]:
    return [(one.number, one.work) for one in entries if one.work is not None and not one.undone]


def _put_instead(entries: Sequence[Numbered], instead: Entered) -> list[Numbered]:
    """Return entries with another in the place of one, if it is among them."""
    named = (instead.at, instead.row)
    return [
        replace(one, entered=instead, undone=instead.work is None)
        if one.entered is not None and (one.at, one.entered.row) == named
        else one
        for one in entries
    ]


def _read_anew(
    store: Store, configuration: Configuration, engine: "Engine", entries: Sequence[Numbered]
) -> tuple[MaterialRecord, dict[str, Any]]:
    """Read the whole log, and keep the reading; return both."""
    settings = configuration.settings
    ordered = in_order(_standing(entries))
    bins = sorted(bins_of(settings, (work for _, work in ordered)))
    lay = where_heaps_lay(engine.state.batches.batches.values())
    reading = KeptReading.of(ordered, yard_of_material(configuration, settings, bins, lay))
    dropped = dropped_entries(store)
    tests = {lot: [number for number, _ in some] for lot, some in tests_in(ordered).items()}
    places = places_in(ordered)
    numbered = {one.number: one for one in entries}
    kept = {
        "for": _made_for(configuration, dropped),
        "state": asdict(state_name(store)),
        "count": len(entries) + sum(dropped.values()),
        "last": ordered[-1][1].time if ordered else None,
        "bins": bins,
        "lay": lay,
        "never": _never_heaped(engine),
        "firm": _is_firm(engine),
        "works": kept_places(numbered[number] for number, _ in ordered),
        "tests": tests,
        "done_at": places,
        "reading": reading.kept(),
    }
    write_kept(store.folder, kept)
    works = dict(ordered)
    lots = {lot: [works[one] for one in some] for lot, some in tests.items()}
    return MaterialRecord(reading.graph, reading.shelves, works, lots, places), kept


def _gone_on(
    kept: Mapping[str, Any],
    store: Store,
    configuration: Configuration,
    engine: "Callable[[], Engine]",
    instead: Entered | None,
) -> MaterialRecord | None:
    """Return the material as it was kept, with the entries since; None if it has to be read anew.

    Args:
        kept: What was kept.
        store: The journal.
        configuration: The configuration in force.
        engine: Brings an engine up to the end of the journal, if it is needed.
        instead: An entry that counts as another than it is, or None.
    """
    if kept["for"] != _made_for(configuration, dropped_entries(store)):
        return None
    state = StateName(**kept["state"])
    events = events_since(store, state)
    if events is None or any(one.kind in _ANEW for one in events):
        return None
    events = [one for one in events if one.kind in _BRING and not wrong_shape(one.kind, one.payload)]
    entries = later_entries(store, events, _places(configuration), state.until, kept["count"]) if events else []
    entries = [one for one in entries if one.entered is not None]
    later = in_order((one.number, one.work) for one in entries if one.work is not None)
    if len(later) > _MANY:
        return None
    plain = instead is None and all(one.kind is EventKind.WORK for one in events)
    plain = plain and _change_nothing_earlier(later, kept, configuration)
    lay = kept["lay"]
    if not plain or not kept["firm"] or any(hand_spots(store, pile) for pile in kept["never"]):
        lay = where_heaps_lay(engine().state.batches.batches.values())
    if not plain or lay != kept["lay"]:
        changed = corrected_since(store, events)
        if instead is not None:
            changed = [*(one for one in changed if (one.at, one.row) != (instead.at, instead.row)), instead]
            entries = _put_instead(entries, instead)
        yard = yard_of_material(configuration, configuration.settings, kept["bins"], lay)
        known = {*_places(configuration), "", YARD}
        return reread(store, kept, yard, (changed, entries), first_difference(kept["lay"], lay), known)
    yard = yard_of_material(configuration, configuration.settings, kept["bins"], kept["lay"])
    reading = KeptReading.restored(kept["reading"], yard, goes_on=bool(later))
    reading.take(later)
    works = KeptWorks(store, kept["works"], dict(later))
    tests = {lot: [works[one] for one in some] for lot, some in kept["tests"].items()}
    for lot, some in tests_in(later).items():
        tests.setdefault(lot, []).extend(work for _, work in some)
    places = kept["done_at"]
    for place, numbers in places_in(later).items():
        places.setdefault(place, []).extend(numbers)
    return MaterialRecord(reading.graph, reading.shelves, works, tests, places)


def _change_nothing_earlier(
    later: Sequence[tuple[int, Work]], kept: Mapping[str, Any], configuration: Configuration
) -> bool:
    """Return whether entries, in order, can be read on after those that were kept."""
    works = [work for _, work in later]
    return (
        (kept["last"] is None or not works or works[0].time >= kept["last"])
        and all(declared(work.kind).material is Material.NOTHING and not declared(work.kind).probe for work in works)
        and set(bins_of(configuration.settings, works)) <= set(kept["bins"])
    )


def _places(configuration: Configuration) -> Collection[str]:
    return [*configuration.settings.piles, *configuration.settings.bins]


def _never_heaped(engine: "Engine") -> list[str]:
    """Return the piles on which no heap ever lay: a reading begins one there."""
    state = engine.state
    return [pile for pile in state.settings.piles if pile not in state.batches.settled]


def _is_firm(engine: "Engine") -> bool:
    """Return whether readings of probes can neither begin a heap nor let one begin earlier."""
    by_reading = any(run.by_reading for run in engine.state.runs.values())
    return not by_reading and not any(engine.core.cores_of(pile) for pile in _never_heaped(engine))


def _made_for(configuration: Configuration, dropped: Mapping[int, int]) -> str:
    """Return a hash over what a reading depends on beside the record: the configuration, dropped days, and the code."""
    settings = configuration.settings
    found = hashlib.sha256()
    beside = (
        list(settings.piles), list(settings.bins), settings.site.time_zone, configuration.containers,
        configuration.beds, sorted(dropped.items()), monitor.__version__,
    )  # fmt: skip
    found.update(repr(beside).encode())
    found.update(_code())
    return found.hexdigest()


@cache
def _code() -> bytes:
    """Return a hash over the code that reads the log, as it was when this process first asked."""
    found = hashlib.sha256()
    here = Path(monitor.__file__).parent
    for folder in _READERS:
        for path in sorted((here / folder).glob("*.*")):
            found.update(path.read_bytes() if path.is_file() else b"")
    return found.digest()
