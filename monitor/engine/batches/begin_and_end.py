"""Batches begin, move and end, and their walks, probes and alarms follow."""

from monitor.engine.batches.moved_danger import forget_brought
from monitor.engine.context.agenda import Deadline, DueKind
from monitor.engine.context.batch_feeder import Heap
from monitor.engine.context.batch_runs import BatchRun, open_walk
from monitor.engine.context.core import Core
from monitor.engine.context.places import Places
from monitor.engine.context.read_spots import spots_at
from monitor.engine.context.state import Carried, EndedRun
from monitor.engine.output.differing_readings import forget_apart
from monitor.engine.output.place_conditions import danger_signals
from monitor.engine.probes.probes_outside import forget_turning
from monitor.engine.probes.silence_alarms import follow_material, leave, rearm
from monitor.material import relatives
from monitor.model.times import DAY_MS
from monitor.piles import WALK_ALARMS, BatchChange, BatchNews, WalkState

ENDED_KEPT_MS = 14 * DAY_MS
"""How long a batch that ended can be put back where it lay, if the entry that ended it is taken back."""


def begin_configured(core: Core) -> None:
    """Begin the first batch of each pile whose configuration says when it was built."""
    for place, pile in core.settings.piles.items():
        if pile.built is not None and place not in core.state.batches.settled:
            batch_changes(core, core.batches.begin(place, pile.built))


def begin_by_reading(core: Core, place: str, time: int) -> None:
    """Begin a pile's first batch with its first accepted core reading.

    Args:
        core: The engine's ports.
        place: The pile.
        time: The reading's time, UTC ms.
    """
    batch_changes(core, core.batches.heard(place, time))
    run = core.run_at(place)
    if run is not None:
        run.by_reading = True


def batch_changes(core: Core, changes: list[BatchChange]) -> None:
    """Follow changes of batches: start, stop or touch their walks, and carry their probes along."""
    if changes:
        core.marks.clear()
    for change in changes:
        if change.news in (BatchNews.BEGAN, BatchNews.SPLIT):
            _begin(core, change)
        elif change.news is BatchNews.ENDED:
            _end(core, change.batch, change.pile)
        elif change.news is BatchNews.MERGED:
            _merge(core, change)
        elif change.news is BatchNews.ADDED_TO:
            _touch(core, change.batch, change.at)
        elif change.news is not BatchNews.BEDDED:
            _move(core, change)
    for place in dict.fromkeys(one for change in changes for one in (change.came_from, change.pile) if one):
        follow_material(core, place)
    if any(change.news in (BatchNews.ENDED, BatchNews.MERGED) for change in changes):
        # Now the batch that took its place is known, so that the entry that says so is kept.
        forget_old(core)


def carry(core: Core, probe: str, time: int, place: str) -> None:
    """Note that a probe was carried to a place, and follow it there.

    Args:
        core: The engine's ports.
        probe: The probe.
        time: When it was carried, UTC ms.
        place: Pile, bin, `ambient` or "".
    """
    before = core.place_of(probe)
    core.marks.clear()
    core.state.carried.append(Carried(time, probe, place))
    core.state.carried.sort(key=lambda carried: carried.time)
    _follow(core, probe, before)


def uncarry(core: Core, probe: str, time: int) -> None:
    """Undo that a probe was carried.

    Args:
        core: The engine's ports.
        probe: The probe.
        time: When it was said to be carried, UTC ms.
    """
    core.marks.clear()
    before = core.place_of(probe)
    core.state.carried[:] = [c for c in core.state.carried if (c.time, c.probe) != (time, probe)]
    _follow(core, probe, before)


def _follow(core: Core, probe: str, before: str) -> None:
    now = core.place_of(probe)
    core.routes.clear()
    if now != before:
        leave(core, probe, before)
        core.conditioner.move(probe, now)
        rearm(core, probe, anew=True)


def rebuild(core: Core, run: BatchRun, built: int) -> None:
    """Correct when a batch was built.

    Args:
        core: The engine's ports.
        run: The batch.
        built: When it was built, UTC ms.
    """
    batch = core.state.batches.batches[run.batch]
    batch.built = run.built = built
    batch.spans[0].start = built
    core.marks.clear()
    _touch(core, run.batch, built)


def forget_old(core: Core) -> None:
    """Drop work and carryings of probes that no batch needs that is under watch or ended lately."""
    if core.keeps_all:
        return
    ended = core.state.ended
    for batch in [one for one, kept in ended.items() if kept.at < core.at - ENDED_KEPT_MS]:
        del ended[batch]
    watched = (*core.state.runs, *(one for one in ended if one in core.state.batches.batches))
    needed = dict.fromkeys(watched)
    for batch in watched:
        # A rework needs the records of all that came into the batch.
        needed |= {other: None for other, _, _ in relatives(core, batch)}
    spans = [span for batch in needed for span in core.spans_of(batch)]
    core.state.works[:] = [
        one
        for one in core.state.works
        if any(pile in (one.work.place, one.work.to) and start <= one.work.time <= end for pile, start, end in spans)
        or core.state.batches.says_empty(one.work)
    ]
    oldest = min((start for _, start, _ in spans), default=core.at)
    latest = {c.probe: n for n, c in enumerate(core.state.carried) if c.time <= oldest}
    core.state.carried[:] = [
        c
        for n, c in enumerate(core.state.carried)
        if c.probe in core.all_probes() and (c.time > oldest or latest.get(c.probe) == n)
    ]
    ever = {probe for batch in needed for probe in core.probes_ever(batch)}
    for probe in [one for one in core.state.retired if one not in ever]:
        del core.state.retired[probe]


def _touch(core: Places, batch: str, time: int) -> None:
    run = core.state.runs.get(batch)
    if run is not None:
        run.touched = time if run.touched is None else min(run.touched, time)


def _begin(core: Core, change: BatchChange) -> None:
    batch = core.state.batches.batches[change.batch]
    home = batch.spans[0].pile
    parent = core.state.runs.get(change.other) if change.news is BatchNews.SPLIT else None
    run = BatchRun(
        batch=batch.batch,
        home=parent.home if parent is not None else home,
        built=batch.built,
        rule_id=batch.rule,
        method=batch.method,
        walk=WalkState.fresh(batch.built),
        rule_text=parent.rule_text if parent is not None else core.settings.rules.get(batch.rule, ""),
    )
    core.state.runs[run.batch] = run
    core.walks[run.batch] = open_walk(run, core.thresholds_of(run))
    core.stepped[run.batch] = True
    cores = core.cores_of(home)
    newest = max((core.watch(p).newest or 0 for p in cores), default=0)
    newest = max(newest, *(one.time for one in spots_at(core.state.hands, home).values()), 0)
    if parent is not None or newest >= batch.built or any(c.time > batch.built for c in core.state.carried):
        # A record exists already that belongs to this batch.
        run.touched = batch.built
        return
    heap = Heap(core.walks[run.batch], core.state.outings, core.thresholds_of(run))
    for probe in cores:
        core.state.outings.pop(probe, None)
        heap.enter(probe, batch.built)


def _end(core: Core, batch: str, pile: str) -> None:
    run = core.state.runs.pop(batch, None)
    if run is not None:
        core.state.ended[batch] = EndedRun(core.at, run)
    core.walks.pop(batch, None)
    core.heaps.pop(batch, None)
    core.stepped.pop(batch, None)
    clear_pile(core, pile)
    for probe in core.cores_of(pile):
        core.state.outings.pop(probe, None)
        rearm(core, probe)


def clear_pile(core: Core, pile: str) -> None:
    """End the watch of a pile that a batch has left: only fire and the probes themselves are watched there."""
    for alarm in WALK_ALARMS:
        core.ends(pile, alarm)
    if pile in core.state.dangers and pile in core.settings.piles:
        danger_signals(core, pile, core.danger(pile), core.danger(pile).empty())
        _forget_hands(core, pile)
        forget_apart(core, pile)
    core.wait(Deadline(pile, DueKind.OUT), None)
    forget_turning(core, pile)


def _forget_hands(core: Core, pile: str) -> None:
    """Drop the readings by hand of a heap that is gone; only fire heat still counts."""
    danger = core.danger(pile)
    for series, one in spots_at(core.state.hands, pile, held=True).items():
        if one.milli < danger.limits.fire_milli_c - danger.limits.deadband_milli_k:
            one.held = False
            danger_signals(core, pile, danger, danger.forget(series))
    forget_brought(core, pile)


def _merge(core: Core, change: BatchChange) -> None:
    _carry_all(core, change)
    _end(core, change.batch, change.came_from)
    _touch(core, change.other, change.at)


def _move(core: Core, change: BatchChange) -> None:
    if change.batch not in core.state.runs:
        return
    _carry_all(core, change)
    clear_pile(core, change.came_from)
    # Probes, turning and place changed at once, so the batch is worked out again from the record.
    _touch(core, change.batch, change.at)


def _carry_all(core: Core, change: BatchChange) -> None:
    if change.probes_go:
        for probe in core.cores_of(change.came_from):
            carry(core, probe, change.at, change.pile)
