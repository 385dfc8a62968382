"""Readings of piles: to the watch for dangerous heat, and to the walk of the batch that lies there."""

from monitor.engine.batching import begin_by_reading
from monitor.engine.core import Core
from monitor.engine.danger import Danger, DangerSignal
from monitor.engine.heap import Heap
from monitor.engine.rework import rework
from monitor.engine.routes import Route
from monitor.engine.runs import BatchRun
from monitor.engine.silence import rearm
from monitor.engine.walk_words import after_rework, refresh_latent, tell_walk
from monitor.model.flags import Verdict
from monitor.model.settings import AMBIENT


def heap_of(core: Core, run: BatchRun) -> Heap:
    """Return the heap that feeds a batch's walk live."""
    walk = core.walks[run.batch]
    found: Heap | None = core.heaps.get(run.batch)
    if found is None or found.walk is not walk:
        found = core.heaps[run.batch] = Heap(walk, core.state.outings, core.thresholds_of(run))
    return found


def ambient_reading(core: Core, time: int, milli: int) -> None:
    """Take an accepted ambient temperature: every batch's walk compares with it."""
    core.state.air = milli
    for batch, run in core.state.runs.items():
        walk = core.walks[batch]
        if walk.ambient_touches_past(time):
            touch(core, run, time)
        else:
            walk.ambient(time, milli)


def core_reading(core: Core, known: Route, verdict: Verdict, late: bool) -> None:
    """Take a core probe's accepted temperature: to the batch that lies there, and to the watch for dangerous heat."""
    time, probe, milli, _, _ = verdict
    place, danger = known.place, known.danger
    assert danger is not None
    run = core.run_at(place)
    if run is None and place not in core.state.batches.settled:
        begin_by_reading(core, place, time)
        run = core.run_at(place)
    if run is None or time < run.built:
        danger_signals(core, place, danger, danger.accepted(probe, time, milli, late, only_fire=True))
        return
    outing = core.state.outings.get(probe)
    was_out = outing is not None and outing.out is not None
    taken = heap_of(core, run).reading(probe, time, milli, core.state.air) if run.touched is None else True
    if taken is False:
        touch(core, run, time)
    elif was_out and outing is not None and outing.out is None:
        rearm(core, probe, anew=True)
    core.stepped[run.batch] = True
    danger_signals(core, place, danger, danger.accepted(probe, time, milli, late, only_fire=taken is None))


def danger_signals(core: Core, place: str, danger: Danger, signals: list[DangerSignal]) -> None:
    """Hand conditions of dangerous heat to the alarms."""
    for signal in signals:
        if signal.on:
            core.begins(
                place, signal.alarm, since=signal.since, last=signal.last, probe=signal.probe, values=signal.values
            )
        else:
            core.ends(place, signal.alarm, signal.probe)
    core.wait(place, "hot", danger.due())


def touch(core: Core, run: BatchRun, time: int) -> None:
    """Note that something changed an instant of a batch's record that may have been examined already."""
    run.touched = time if run.touched is None else min(run.touched, time)
    core.stepped[run.batch] = True


def touch_place(core: Core, place: str, time: int) -> None:
    """Note that the record of a place was changed at an instant; ambient's concerns every batch."""
    for run in core.state.runs.values():
        if place == AMBIENT or core.pile_of(run) == place or any(p == place for p, _, _ in core.spans_of(run)):
            touch(core, run, time)


def advance_heaps(core: Core, *, silently: bool = False) -> None:
    """Examine the batches that something came in for, each up to its frontier; work those out again that were touched."""
    stepped, core.stepped = core.stepped, {}
    for batch in stepped:
        run = core.state.runs.get(batch)
        if run is None:
            continue
        if run.touched is not None:
            before, rule_before, alarms_before = run.walk.phase, run.rule, dict(run.walk.alarms)
            begun = run.walk.begun
            walk = rework(core, run)
            walk.advance()
            after_rework(core, run, before if begun else None, rule_before, alarms_before, silently=silently)
        else:
            tell_walk(core, run, core.walks[batch].advance(), silently=silently)
        refresh_latent(core, run)
