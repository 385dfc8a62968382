"""Foresees which lots change if an entry is taken back or put right: the material is read with it and without, and compared.

A lot changes if something else went into it, or may have, or if its mass is another. That only the share of an input differs
is no change: each feeding that is put right would raise a question then.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from datetime import datetime
from zoneinfo import ZoneInfo

from monitor.app.entries.entry_log import Numbered
from monitor.app.entries.work_log import Entered
from monitor.app.yard.yard_scales import bins_of, where_heaps_lay
from monitor.engine import Engine, YardSizes, mass_words
from monitor.journal import Store
from monitor.material import (
    MaterialRecord,
    Node,
    NodeKind,
    PlacesOfHeaps,
    Tally,
    YardOfMaterial,
    inputs_of,
    known_heaps,
    lots_with,
    read_log,
)
from monitor.model.mix_parts import parts_of
from monitor.model.work import Work, WorkKind
from monitor.model.work_entry import is_us
from monitor.model.work_kinds import declared
from monitor.notices import clean, join_names

_TOLD = 3
"""So many lots, and so many of what a lot gains or loses, are named; of more only how many."""
_NAMED = (NodeKind.DELIVERY, NodeKind.BATCH, NodeKind.BED, NodeKind.HARVEST, NodeKind.FRACTION, NodeKind.LOT)
_COMPARED = 6
"""So many of the newest lots are compared, since each is traced twice while the writer waits; of more only how many."""
_LITTLE = 0.05
"""A mass that differs by less than this share counts as the same (ours; weighings differ by it)."""


ReadsBoth = Callable[[Store, Engine, Sequence[Numbered], Entered], tuple[MaterialRecord, MaterialRecord]]
"""Returns the material of a journal as it is and as it would be if an entry of the log were another."""


def lots_changed(
    engine: Engine,
    entries: Sequence[Numbered],
    found: Numbered,
    right: Work | None,
    sizes: YardSizes,
    store: Store | None = None,
    reads_both: ReadsBoth | None = None,
) -> list[str]:
    """Return a sentence for the lots that change alike, the first few of them.

    Args:
        engine: The engine, for where heaps lay.
        entries: The whole log.
        found: The entry; a piece of work.
        right: The work it would become; None: it is taken back.
        sizes: The sizes of the yard.
        store: The record, if there is one.
        reads_both: Reads it both ways; None: the log is read twice.
    """
    standing = [(one.number, one.work) for one in entries if one.work is not None and not one.undone]
    if not any(work.kind is WorkKind.LOT for _, work in standing) or not _moves(found.work, right):
        return []
    if reads_both is not None and store is not None and found.entered is not None:
        before, after = reads_both(store, engine, entries, replace(found.entered, work=right))
    else:
        before = _record(engine, standing, sizes)
        rest = [(number, work) for number, work in standing if number != found.number]
        after = _record(engine, [*rest, (found.number, right)] if right is not None else rest, sizes)
    return list(_told(engine, found, before, after))


def _moves(old: Work | None, right: Work | None) -> bool:
    """Return whether an entry, or what it would become, moves material, and anything of that differs that can change a lot."""
    if old is None:
        return False
    kinds = [declared(one.kind) for one in (old, right) if one is not None]
    brings = all(row.fills or row.stocks for row in kinds)
    if right is not None and _said(old, amounts=not brings) == _said(right, amounts=not brings):
        return False
    weighs = (WorkKind.HARVESTED, WorkKind.SCREENED, WorkKind.EMPTIED, WorkKind.COVERED)
    return brings or any(row.goes_somewhere or row.kind in weighs for row in kinds)


def _said(work: Work, *, amounts: bool) -> tuple[object, ...]:
    """Return all that an entry says of what went where; risks, people and remarks are no part of it.

    Args:
        work: The entry.
        amounts: Whether amounts count; how much of a material came in changes shares alone.
    """
    names = tuple(part.name.casefold() for part in parts_of(work.parts))
    where = (work.kind, work.time, work.place, work.to, work.batch, work.what, names, bool(work.refused))
    much = (work.parts, work.amount, work.measure, work.unit, work.moisture, work.fines, work.middle, work.overs)
    return where + (much if amounts else ())


def _record(engine: Engine, standing: list[tuple[int, Work]], sizes: YardSizes) -> MaterialRecord:
    settings = engine.state.settings
    zone = ZoneInfo(settings.site.time_zone)
    yard = YardOfMaterial(
        heaps=PlacesOfHeaps(known_heaps(where_heaps_lay(engine.state.batches.batches.values()))),
        scales=sizes.scales,
        bins=bins_of(settings, (work for _, work in standing)),
        day_of=lambda at: datetime.fromtimestamp(at / 1000, zone).date().isoformat(),
    )
    return read_log(standing, yard)


def _told(engine: Engine, found: Numbered, before: MaterialRecord, after: MaterialRecord) -> Iterator[str]:
    """Yield a sentence for all lots that change alike."""
    us = is_us(engine.state.settings)
    alike: dict[str, list[str]] = {}
    touched = _touched(found.number, before, after)
    for lot in touched[:_COMPARED]:
        if change := _change(lot, before, after, us=us):
            alike.setdefault(change, []).append(lot.id)
    for change, lots in alike.items():
        yield f"{_names(lots)} {change}."
    if alike and (more := len(touched) - _COMPARED) > 0:
        yield f"{more} older lot{'s' if more > 1 else ''} may change as well."


def _change(lot: Node, before: MaterialRecord, after: MaterialRecord, *, us: bool) -> str:
    if lot not in after.graph.into:
        return "would be of nothing that is in the record"
    old, new = _inputs(before, lot), _inputs(after, lot)
    had, has = set(old), set(new)
    gone, come = [one for one in old if one not in has], [one for one in new if one not in had]
    if come:
        lost = f", and no longer {_names(gone)}" if gone else ""
        return f"would have, for sure or perhaps, {_names(come)} in it{lost}"
    if gone:
        return f"would no longer have {_names(gone)} in it"
    masses = Tally.wet(before.graph.into[lot]), Tally.wet(after.graph.into[lot])
    if not _differs(*masses):
        return ""
    was, is_ = ("an unknown mass" if one.unknown else mass_words(one.known_g, us=us) for one in masses)
    return f"would weigh {is_} instead of {was}"


def _touched(number: int, before: MaterialRecord, after: MaterialRecord) -> list[Node]:
    """Return the lots that come of what an entry moved, before or after, the newest first; not one that it makes itself."""
    lots: dict[Node, None] = {}
    for record in (before, after):
        ends = {
            node: None
            for move in record.graph.movements
            if move.entry == number
            for node in (move.target, move.source)
            if node is not None
        }
        for node in ends:
            lots |= {outcome.node: None for outcome, _ in lots_with(record.graph, node)}
    own = after.entries.get(number) or before.entries.get(number)
    found = [lot for lot in lots if lot in before.graph.into and (own is None or own.lot != lot.id)]
    return sorted(found, key=lambda lot: before.graph.into[lot][0].time, reverse=True)


def _inputs(record: MaterialRecord, lot: Node) -> list[str]:
    return [one.node.id for one in inputs_of(record.graph, lot) if one.node.kind in _NAMED]


def _differs(old: Tally, new: Tally) -> bool:
    return bool(old.unknown) != bool(new.unknown) or abs(old.known_g - new.known_g) > _LITTLE * max(old.known_g, 1)


def _names(ids: Sequence[str]) -> str:
    shown = [clean(one, 60) for one in ids[:_TOLD]]
    return join_names([*shown, f"{len(ids) - _TOLD} more"] if len(ids) > _TOLD else shown)
