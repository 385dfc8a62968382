"""Work that people logged, and corrections of it."""

from collections.abc import Mapping
from typing import Any

from monitor.bins import mute_until
from monitor.engine.batching import batch_changes, carry, rebuild
from monitor.engine.by_hand import withdraw
from monitor.engine.conditions import bed_changes, danger_signals
from monitor.engine.core import Core
from monitor.engine.heaps import advance_heaps, heap_of, rounds_prove, touch, touch_place, touch_relatives
from monitor.engine.incoming import came_in
from monitor.engine.outings import follow_outings
from monitor.engine.rework import was_met
from monitor.engine.runs import BatchRun
from monitor.engine.silence import leave, rearm
from monitor.engine.state import Logged
from monitor.engine.telling import mute
from monitor.engine.watching import follow_watch
from monitor.material import Change
from monitor.model.events import withdrawn_of
from monitor.model.readings import is_hand
from monitor.model.settings import AMBIENT
from monitor.model.work import FILLS_BIN, Work, WorkKind

_MOISTENING = (WorkKind.WATERED, WorkKind.FED)
MOISTURE_ALARMS = ("too-wet", "too-dry")
"""What is muted for a while after it."""
_STARTS = (WorkKind.BUILT, WorkKind.MOVED, WorkKind.SPLIT, WorkKind.MERGED, WorkKind.EMPTIED)


_BRING = (WorkKind.MOVED, WorkKind.SPLIT, WorkKind.MERGED)


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


def take_work(core: Core, payload: Mapping[str, Any]) -> None:
    """Take a `work` event."""
    work = work_from(payload, core.at)
    if work.kind in (WorkKind.PROBE_IN, WorkKind.PROBE_OUT):
        _carry(core, work)
    if work.to in core.settings.bins and work.kind in (WorkKind.MOVED, WorkKind.SPLIT, WorkKind.MERGED):
        fill_bin(core, work.to, work.time)
    if work.place in core.settings.bins:
        _bin_work(core, work)
    if work.place in core.settings.piles or (work.kind in _BRING and work.to in core.settings.piles):
        before = core.run_at(work.place)
        changes = core.batches.apply(work)
        if changes or work.kind not in _STARTS:
            # What could not be done, as moving a heap that is not there, is no part of any batch's record.
            core.state.works.append(Logged(core.at, work))
        batch_changes(core, changes)
        if work.kind not in _STARTS:
            if before is not None:
                _pile_work(core, before, work)
            _touch_past_places(core, work, before)
    follow_watch(core)
    advance_heaps(core)


def take_correction(core: Core, payload: Mapping[str, Any]) -> None:
    """Take a `correction`: an earlier work entry is replaced or withdrawn, and the record is worked out again.

    Where batches begin, move or end, only the time of a building can be corrected; for the rest the right work is logged.
    A reading that was taken by hand can be withdrawn: it stays in the record, flagged, and nobody goes by it any more.
    """
    if withdrawn := withdrawn_of(payload):
        for reading in withdrawn:
            # What a probe measured is never withdrawn.
            if is_hand(reading["probe"]):
                withdraw(core, reading)
        advance_heaps(core)
        return
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
        _uncarry(core, old)
        if replacement is not None and found.work.kind in (WorkKind.PROBE_IN, WorkKind.PROBE_OUT):
            _carry(core, found.work)
    for place in dict.fromkeys((old.place, old.to, found.work.place)):
        touch_place(core, place, min(times))
    follow_watch(core)
    advance_heaps(core)


def _touch_past_places(core: Core, work: Work, now_there: BatchRun | None) -> None:
    """Work that is logged late may be of a batch that lies elsewhere by now."""
    touch_relatives(core, (work.place,), work.time)
    for run in core.state.runs.values():
        if run is not now_there and any(
            pile == work.place and start <= work.time <= end for pile, start, end in core.spans_of(run)
        ):
            touch(run, work.time)


def _bin_work(core: Core, work: Work) -> None:
    state = core.bed(work.place).state
    if work.kind is WorkKind.EMPTIED and (state.fed_at or 0) <= work.time:
        empty_bin(core, work.place, work.time)
        return
    if work.kind in FILLS_BIN:
        fill_bin(core, work.place, work.time)
    if work.kind is WorkKind.FED:
        state.fed_at = max(state.fed_at or 0, work.time)
    if work.kind in _MOISTENING:
        wanted = work.time + core.settings.bins[work.place].thresholds.moisture_mute_ms
        until = mute_until(state.mutes, core.at, wanted)
        if until > core.at:
            mute(core, work.place, until, MOISTURE_ALARMS)


def empty_bin(core: Core, place: str, time: int) -> None:
    """Take in that a bin was emptied: until something is put into it its probes alone are watched."""
    bed = core.bed(place)
    bed.state.emptied_at, bed.state.fed_at = time, None
    bed_changes(core, place, bed.empty(core.at))
    core.routes.clear()


def fill_bin(core: Core, place: str, time: int) -> None:
    """Take in that something was put into a bin (at `time`, UTC ms): it is empty no longer."""
    state = core.bed(place).state
    if state.emptied_at is not None and time >= state.emptied_at:
        state.emptied_at = None
        core.routes.clear()


def _carry(core: Core, work: Work) -> None:
    """Follow a probe to where it was put."""
    if work.probe not in core.settings.probes:
        return
    before = core.place_of(work.probe)
    known = work.place in (AMBIENT, *core.settings.piles, *core.settings.bins)
    if work.kind is WorkKind.PROBE_IN and known and core.place_at(work.probe, work.time) != work.place:
        carry(core, work.probe, work.time, work.place)
        _touch_serving(core, (before, work.place), work.time)
    rearm(core, work.probe, anew=True)


def _uncarry(core: Core, work: Work) -> None:
    core.marks.clear()
    before = core.place_of(work.probe)
    core.state.carried[:] = [c for c in core.state.carried if (c.time, c.probe) != (work.time, work.probe)]
    now = core.place_of(work.probe)
    if now != before:
        leave(core, work.probe, before)
        core.conditioner.move(work.probe, now)
        core.routes.clear()
        rearm(core, work.probe, anew=True)
        _touch_serving(core, (before, now), work.time)


def _touch_serving(core: Core, places: tuple[str, ...], time: int) -> None:
    for run in core.state.runs.values():
        if AMBIENT in places or any(pile in places for pile, _, _ in core.spans_of(run)):
            touch(run, time)
    touch_relatives(core, places, time)


def _pile_work(core: Core, run: BatchRun, work: Work) -> None:
    logged_later = any(one.work.place == work.place and one.work.time > work.time for one in core.state.works)
    if run.touched is not None or logged_later:
        touch(run, work.time)
        return
    heap, fine = heap_of(core, run), True
    cores = core.cores_of(work.place)
    if work.kind is WorkKind.TURNED:
        fine = heap.turned(cores, work.time)
        if not cores:
            # What was read by hand before it is no longer waited for.
            core.danger(work.place).pause()
            danger_signals(core, work.place, core.danger(work.place), [])
    elif work.kind is WorkKind.ADDED:
        fine = _added(core, run, work)
    elif work.kind is WorkKind.PROBE_IN and work.probe in cores:
        fine = heap.came_in(work.probe, work.time)
    elif work.kind is WorkKind.PROBE_OUT and core.place_at(work.probe, work.time) == work.place:
        fine = work.probe in cores and heap.went_out(work.probe, work.time)
    if run.round_first is not None and rounds_prove(core, run) is not heap.rounds_serve:
        fine = False
    if not fine:
        touch(run, work.time)
    follow_outings(core, work.place)
    core.stepped[run.batch] = True


def _added(core: Core, run: BatchRun, work: Work) -> bool:
    came = came_in(core, run.batch, work, own=True) if work.time > run.built else None
    change = Change.NONE if came is None else came.change(was_met(core, run))
    if change is Change.ANEW:
        return heap_of(core, run).added(work.time)
    return change is Change.NONE or heap_of(core, run).joined(work.time)


def _rebuilt(core: Core, old: Work, built: int) -> None:
    for batch in core.state.batches.batches.values():
        run = core.state.runs.get(batch.batch)
        if run is not None and batch.built == old.time and batch.spans[0].pile == old.place:
            rebuild(core, run, built)
