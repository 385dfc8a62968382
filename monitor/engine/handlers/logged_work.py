"""Work that people logged."""

from collections.abc import Mapping
from typing import Any

from monitor.engine.batches.begin_and_end import batch_changes, carry, rebuild
from monitor.engine.batches.moved_danger import carry_danger
from monitor.engine.batches.pile_readings import advance_heaps, heap_of, rounds_prove, touch, touch_relatives
from monitor.engine.batches.recompute import was_met
from monitor.engine.bins.bin_work import fill_bin, remember, take_bin_work
from monitor.engine.context.batch_runs import BatchRun
from monitor.engine.context.core import Core
from monitor.engine.context.state import Logged
from monitor.engine.handlers.absences import take_absence
from monitor.engine.output.place_conditions import danger_signals
from monitor.engine.output.unwatched_places import follow_watch
from monitor.engine.probes.out_for_turning import follow_outings
from monitor.engine.probes.probes_outside import follow_work
from monitor.engine.probes.silence_alarms import rearm
from monitor.material import Change, came_in, worst_change
from monitor.model.settings import AMBIENT
from monitor.model.work import Work, WorkKind, work_from
from monitor.model.work_kinds import GOING, HEAP_CHANGES, PROBE_WORK, declared


def take_work(core: Core, payload: Mapping[str, Any], row: int = 0) -> None:
    """Take a `work` event, or a piece of work of an import.

    Args:
        core: The engine's ports.
        payload: The work.
        row: Its number within the event, which names it together with the event.
    """
    log_work(core, Logged(core.at, work_from(payload, core.at), row))
    follow_watch(core)
    advance_heaps(core)


def log_work(core: Core, logged: Logged) -> None:
    """Apply a piece of work; the caller advances the heaps afterwards (`advance_heaps`)."""
    work = logged.work
    if work.kind in PROBE_WORK:
        follow_probe(core, work)
    if work.to in core.settings.bins and work.kind in GOING:
        fill_bin(core, work.to, work.time)
    if work.place in core.settings.bins:
        take_bin_work(core, logged)
    elif work.place == AMBIENT:
        remember(core, logged)
    elif work.kind is WorkKind.AWAY:
        take_absence(core, logged)
    if work.place in core.settings.piles or (work.kind in GOING and work.to in core.settings.piles):
        _heap_work(core, logged)
    if work.kind in PROBE_WORK or declared(work.kind).turns:
        follow_work(core, work)
        follow_outings(core, work.place)


def _heap_work(core: Core, logged: Logged) -> None:
    work = logged.work
    before = core.run_at(work.place)
    again = core.batches.builds_again(work)
    changes = core.batches.apply(work)
    if changes or again or work.kind not in HEAP_CHANGES or core.state.batches.says_empty(work):
        # Impossible work, such as moving a heap that is not there, belongs to no batch's record.
        core.state.works.append(logged)
    if changes:
        carry_danger(core, work)
    batch_changes(core, changes)
    if again and before is not None and before.built != work.time:
        # The configuration names the day, the entry the hour.
        rebuild(core, before, work.time)
    if work.kind not in HEAP_CHANGES:
        if before is not None:
            _pile_work(core, before, work)
        _touch_past_places(core, work, before)
    elif changes:
        # Material of a batch that was thrown onto another is now material of that other one.
        touch_relatives(core, (work.place,), work.time)


def _touch_past_places(core: Core, work: Work, now_there: BatchRun | None) -> None:
    """Touch the batches that lay on the place at the time of work that was logged late and lie elsewhere by now."""
    touch_relatives(core, (work.place,), work.time)
    for run in core.state.runs.values():
        if run is not now_there and any(
            pile == work.place and start <= work.time <= end for pile, start, end in core.spans_of(run)
        ):
            touch(run, work.time)


def follow_probe(core: Core, work: Work) -> None:
    """Follow a probe to the place where it was put in."""
    if work.probe not in core.settings.probes:
        return
    before = core.place_of(work.probe)
    known = work.place in (AMBIENT, *core.settings.piles, *core.settings.bins)
    if work.kind is WorkKind.PROBE_IN and known and core.place_at(work.probe, work.time) != work.place:
        carry(core, work.probe, work.time, work.place)
        touch_serving(core, (before, work.place), work.time)
    rearm(core, work.probe, anew=True)


def touch_serving(core: Core, places: tuple[str, ...], time: int) -> None:
    """Note that the probes in service changed in the batches of some places.

    Args:
        core: The engine's ports.
        places: The places; `ambient` concerns every batch.
        time: When they changed, UTC ms.
    """
    for run in core.state.runs.values():
        if AMBIENT in places or any(pile in places for pile, _, _ in core.spans_of(run)):
            touch(run, time)
    touch_relatives(core, places, time)


def _pile_work(core: Core, run: BatchRun, work: Work) -> None:
    # Of what was done at one instant, a turning comes first, whichever entry was written first.
    others = (one.work for one in core.state.works if one.work is not work and one.work.place == work.place)
    if run.touched is not None or any(one.time >= work.time for one in others):
        touch(run, work.time)
        return
    heap, fine = heap_of(core, run), True
    cores = core.cores_of(work.place)
    if work.kind is WorkKind.TURNED:
        fine = heap.turned(cores, work.time)
        if not cores:
            # Delays begun by readings by hand must not fill after the turning.
            core.danger(work.place).pause()
            danger_signals(core, work.place, core.danger(work.place), [])
    elif declared(work.kind).brings:
        fine = _added(core, run, work)
    elif work.kind is WorkKind.PROBE_IN and work.probe in cores:
        fine = heap.came_in(work.probe, work.time)
    elif work.kind is WorkKind.PROBE_OUT and core.place_at(work.probe, work.time) == work.place:
        fine = work.probe in cores and heap.went_out(work.probe, work.time)
    if run.round_first is not None and rounds_prove(core, run) is not heap.rounds_serve and not heap.failed:
        fine = False
    if not fine:
        touch(run, work.time if heap.felt is None else min(work.time, heap.felt))
        heap.felt = None
    follow_outings(core, work.place)
    core.stepped[run.batch] = True


def _added(core: Core, run: BatchRun, work: Work) -> bool:
    came = came_in(core, run.batch, work, own=True) if work.time > run.built else []
    change = worst_change(came, was_met(core, run))
    if change is Change.ANEW:
        return heap_of(core, run).added(work.time)
    return change is Change.NONE or heap_of(core, run).joined(work.time)
