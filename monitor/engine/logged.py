"""Work that people logged, and corrections of it."""

from collections.abc import Mapping
from typing import Any

from monitor.engine.batching import batch_changes
from monitor.engine.conditions import bed_changes
from monitor.engine.core import Core
from monitor.engine.heaps import advance_heaps, heap_of, touch, touch_place
from monitor.engine.runs import BatchRun
from monitor.engine.silence import rearm
from monitor.engine.state import Carried, Logged
from monitor.engine.telling import tell_moves, tell_once
from monitor.model.words import Priority
from monitor.model.work import Work, WorkKind
from monitor.notices import Facts
from monitor.piles import reminder_at

_MOISTENING = (WorkKind.WATERED, WorkKind.FED)
_STARTS = (WorkKind.BUILT, WorkKind.MOVED, WorkKind.SPLIT, WorkKind.MERGED, WorkKind.EMPTIED)


def work_from(payload: Mapping[str, Any], at: int) -> Work:
    """Return the work of a payload; what it does not say is empty, and its time is now.

    Raises:
        ValueError: The kind is none.
    """
    fields = {key: value for key, value in payload.items() if value is not None}
    fields["kind"] = WorkKind(fields["kind"])
    fields.setdefault("time", at)
    fields.setdefault("place", "")
    return Work(**fields)


def take_work(core: Core, payload: Mapping[str, Any], *, silently: bool = False) -> None:
    """Take a `work` event."""
    work = work_from(payload, core.at)
    if work.place in core.settings.bins:
        _bin_work(core, work)
        return
    if work.kind in (WorkKind.PROBE_IN, WorkKind.PROBE_OUT):
        _carry(core, work)
    if work.place not in core.settings.piles:
        return
    core.state.works.append(Logged(core.at, work))
    before = core.run_at(work.place)
    changes = core.batches.apply(work)
    batch_changes(core, changes)
    if work.kind not in _STARTS and before is not None:
        _pile_work(core, before, work)
    remind(core, work.place)
    advance_heaps(core, silently=silently)


def take_correction(core: Core, payload: Mapping[str, Any]) -> None:
    """Take a `correction`: an earlier work entry is replaced or withdrawn, and the record is worked out again.

    Where batches begin, move or end, only the time of a building can be corrected; for the rest the right work is logged.
    """
    found = next((one for one in core.state.works if one.at == payload["of"]), None)
    if found is None:
        return
    old = found.work
    replacement = payload.get("work")
    if replacement is None:
        core.state.works.remove(found)
        times = [old.time]
    else:
        found.work = work_from(replacement, old.time)
        times = [old.time, found.work.time]
    if old.kind is WorkKind.BUILT and replacement is not None and found.work.kind is WorkKind.BUILT:
        _rebuilt(core, old, found.work.time)
    if old.kind in (WorkKind.PROBE_IN, WorkKind.PROBE_OUT):
        core.state.carried[:] = [c for c in core.state.carried if (c.time, c.probe) != (old.time, old.probe)]
        if replacement is not None:
            _carry(core, found.work)
    touch_place(core, old.place, min(times))
    remind(core, old.place)
    advance_heaps(core)


def serve_reminder(core: Core, place: str) -> None:
    """Remind people of probes that have been out for long, once an outing."""
    run = core.run_at(place)
    if run is None:
        return
    thresholds = core.thresholds_of(run)
    out: list[int] = []
    for probe in core.cores_of(place):
        outing = core.state.outings.get(probe)
        due = reminder_at(outing, thresholds) if outing is not None else None
        if outing is not None and outing.out is not None and due is not None and due <= core.at:
            outing.reminded = True
            out.append(outing.out)
    if out:
        facts = Facts(place=place, since=min(out), now=core.at, extra={"limit_ms": thresholds.out_reminder_ms})
        tell_once(core, "probes-out", facts, key=f"{place}/probes-out", priority=Priority.LOW)
    remind(core, place)


def remind(core: Core, place: str) -> None:
    """Keep the agenda in step with the probes of a pile that are out."""
    run = core.run_at(place)
    if run is None:
        core.wait(place, "out", None)
        return
    thresholds = core.thresholds_of(run)
    outings = [core.state.outings[p] for p in core.cores_of(place) if p in core.state.outings]
    dues = [due for outing in outings if (due := reminder_at(outing, thresholds)) is not None]
    core.wait(place, "out", min(dues, default=None))


def _bin_work(core: Core, work: Work) -> None:
    state = core.bed(work.place).state
    if work.kind is WorkKind.FED:
        state.fed_at = max(state.fed_at or 0, work.time)
    if work.kind in _MOISTENING:
        until = work.time + core.settings.bins[work.place].thresholds.moisture_mute_ms
        if until > core.at:
            tell_moves(core, core.alarms.mute(core.at, work.place, until, ("too-wet", "too-dry")))
    if work.kind in (WorkKind.PROBE_IN, WorkKind.PROBE_OUT):
        _carry(core, work)


def _carry(core: Core, work: Work) -> None:
    """Follow a probe to where it was put."""
    if work.probe not in core.settings.probes:
        return
    before = core.place_of(work.probe)
    to = work.place if work.kind is WorkKind.PROBE_IN else before
    if to != before:
        core.state.carried.append(Carried(work.time, work.probe, to))
        core.state.carried.sort(key=lambda carried: carried.time)
        core.conditioner.move(work.probe, to)
        core.routes.clear()
        if before in core.settings.bins:
            bed_changes(core, before, core.bed(before).forget(work.probe, core.at))
        for run in core.state.runs.values():
            if core.pile_of(run) in (before, to):
                touch(core, run, work.time)
    rearm(core, work.probe, anew=True)


def _pile_work(core: Core, run: BatchRun, work: Work) -> None:
    if run.touched is not None:
        touch(core, run, work.time)
        return
    heap, fine = heap_of(core, run), True
    cores = core.cores_of(work.place)
    if work.kind is WorkKind.TURNED:
        fine = heap.turned(cores, work.time)
    elif work.kind is WorkKind.ADDED:
        fine = heap.added(work.time)
    elif work.kind is WorkKind.PROBE_IN and work.probe in cores:
        fine = heap.came_in(work.probe, work.time)
    elif work.kind is WorkKind.PROBE_OUT and work.probe in cores:
        fine = heap.went_out(work.probe, work.time)
    if not fine:
        touch(core, run, work.time)
    core.stepped[run.batch] = True


def _rebuilt(core: Core, old: Work, built: int) -> None:
    for batch in core.state.batches.batches.values():
        if batch.built == old.time and batch.spans and batch.spans[0].pile == old.place:
            batch.built = batch.spans[0].start = built
            run = core.state.runs.get(batch.batch)
            if run is not None:
                run.built = built
                touch(core, run, built)
