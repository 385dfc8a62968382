"""Corrections of the log: an entry is taken back or replaced, and the record is worked out again from the corrected log.

The places of heaps follow: the effect of the old entry is undone (`undone_entries`) and that of the new one applied. An entry
on which a later one rests stays as it is; the writer refuses such a correction before it gets here.
"""

from collections.abc import Mapping
from typing import Any

from monitor.engine.batches.begin_and_end import rebuild, uncarry
from monitor.engine.batches.pile_readings import advance_heaps, touch_place
from monitor.engine.bins.bin_work import rework_bed
from monitor.engine.context.core import Core
from monitor.engine.context.places import Places
from monitor.engine.context.state import Logged
from monitor.engine.hand.hand_limits import withdraw
from monitor.engine.handlers.absences import correct_absence
from monitor.engine.handlers.logged_work import log_work, touch_serving
from monitor.engine.handlers.undone_entries import in_the_way, lies_alike, unbegin, undo_heap_change
from monitor.engine.output.unwatched_places import follow_watch
from monitor.engine.probes.out_for_turning import follow_outings
from monitor.engine.probes.probes_outside import unfollow_work
from monitor.model.events import withdrawn_of
from monitor.model.readings import is_hand
from monitor.model.work import Work, WorkKind, work_from
from monitor.model.work_kinds import PROBE_WORK


def take_correction(core: Core, payload: Mapping[str, Any]) -> None:
    """Take a `correction` event: an earlier work entry is replaced or withdrawn, and the record is worked out again.

    A reading by hand can be withdrawn: it stays in the record with a flag, and no longer counts.
    """
    if withdrawn := withdrawn_of(payload):
        for reading in withdrawn:
            # A probe's reading is never withdrawn.
            if is_hand(reading["probe"]):
                withdraw(core, reading)
        advance_heaps(core)
        for place in dict.fromkeys(filter(None, (_pile_read(core, reading) for reading in withdrawn))):
            unbegin(core, place)
        advance_heaps(core)
        return
    works = (*core.state.works, *core.state.bed_works)
    named = (payload["of"], payload.get("row", 0))
    found = next((one for one in works if (one.at, one.row) == named), None)
    replacement = payload.get("work")
    if found is None:
        absent = None if replacement is None else Logged(named[0], work_from(replacement, named[0]), named[1])
        correct_absence(core, *named, absent)
        return
    right = None if replacement is None else work_from(replacement, found.work.time)
    if in_the_way(core.state, found, right) is None:
        _correct(core, found, right)
        follow_watch(core)
        advance_heaps(core)


def _pile_read(core: Places, reading: Mapping[str, Any]) -> str:
    where = core.settings.place_of_hand(str(reading["probe"]))
    return where[0] if where is not None and where[0] in core.settings.piles else ""


def _correct(core: Core, found: Logged, right: Work | None) -> None:
    old = found.work
    times = [old.time] if right is None else [old.time, right.time]
    if right is not None and lies_alike(old, right):
        found.work = right
        if old.kind is WorkKind.BUILT and right.time != old.time:
            _rebuilt(core, old, right.time)
    else:
        undo_heap_change(core, found)
        for works in (core.state.works, core.state.bed_works):
            works[:] = [one for one in works if one is not found]
        if old.kind in PROBE_WORK:
            _put_back(core, old)
        if old.kind in PROBE_WORK or old.kind is WorkKind.TURNED:
            unfollow_work(core, old)
            follow_outings(core, old.place)
        if right is not None:
            log_work(core, Logged(found.at, right, found.row))
    for place in dict.fromkeys((old.place, old.to, *(() if right is None else (right.place, right.to)))):
        touch_place(core, place, min(times))
    both = (old,) if right is None else (old, right)
    for place in dict.fromkeys(place for one in both for place in (one.place, one.to)):
        rework_bed(core, place, *both)


def _put_back(core: Core, work: Work) -> None:
    """Take back that a probe was put in or taken out."""
    before = core.place_of(work.probe)
    uncarry(core, work.probe, work.time)
    now = core.place_of(work.probe)
    if now != before:
        touch_serving(core, (before, now), work.time)


def _rebuilt(core: Core, old: Work, built: int) -> None:
    for batch in core.state.batches.batches.values():
        run = core.state.runs.get(batch.batch)
        if run is not None and batch.built == old.time and batch.spans[0].pile == old.place:
            rebuild(core, run, built)
