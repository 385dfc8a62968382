"""Batches begin, move and end: what that does to walks, probes and alarms."""

from monitor.engine.core import Core
from monitor.engine.heap import Heap
from monitor.engine.runs import BatchRun, open_walk
from monitor.engine.state import Carried
from monitor.piles import WALK_ALARMS, BatchChange, BatchNews, WalkState


def begin_configured(core: Core) -> None:
    """Begin the first batch of each pile whose configuration says when it was built."""
    for place, pile in core.settings.piles.items():
        if pile.built is not None and place not in core.state.batches.settled:
            batch_changes(core, core.batches.begin(place, pile.built))


def begin_by_reading(core: Core, place: str, time: int) -> None:
    """Begin a pile's first batch by its first accepted core reading."""
    batch_changes(core, core.batches.heard(place, time))


def batch_changes(core: Core, changes: list[BatchChange]) -> None:
    """Follow what happened to batches."""
    for change in changes:
        if change.news in (BatchNews.BEGAN, BatchNews.SPLIT):
            _begin(core, change)
        elif change.news is BatchNews.ENDED:
            _end(core, change.batch, change.pile)
        elif change.news is BatchNews.MERGED:
            _merge(core, change)
        else:
            _move(core, change)


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
    )
    core.state.runs[run.batch] = run
    core.walks[run.batch] = open_walk(run, core.thresholds_of(run))
    newest = max((core.watch(p).newest or 0 for p in core.cores_of(home)), default=0)
    if parent is not None or newest >= batch.built:
        # There is a record already that belongs to it.
        run.touched = batch.built
    else:
        heap = Heap(core.walks[run.batch], core.state.outings, core.thresholds_of(run))
        for probe in core.cores_of(home):
            core.state.outings.pop(probe, None)
            heap.enter(probe, batch.built)
    core.stepped[run.batch] = True


def _end(core: Core, batch: str, pile: str) -> None:
    core.state.runs.pop(batch, None)
    core.walks.pop(batch, None)
    core.stepped.pop(batch, None)
    for alarm in WALK_ALARMS:
        core.ends(pile, alarm)
    for probe in core.cores_of(pile):
        core.state.outings.pop(probe, None)
    _forget_work(core)


def _merge(core: Core, change: BatchChange) -> None:
    book = core.state.batches.batches
    if book[change.batch].merged_into:
        _carry(core, change)
        _end(core, change.batch, change.came_from)
    into = core.state.runs.get(change.other)
    if into is not None:
        heap = Heap(core.walks[into.batch], core.state.outings, core.thresholds_of(into))
        if not heap.added(change.at):
            into.touched = min(into.touched or change.at, change.at)
        core.stepped[into.batch] = True


def _move(core: Core, change: BatchChange) -> None:
    run = core.state.runs.get(change.batch)
    if run is None:
        return
    for alarm in WALK_ALARMS:
        core.ends(change.came_from, alarm)
    _carry(core, change)
    # Probes, turning and place changed at once: the record says it all, so it is worked out from there.
    run.touched = min(run.touched or change.at, change.at)
    core.stepped[run.batch] = True


def _carry(core: Core, change: BatchChange) -> None:
    if not change.probes_go:
        return
    for probe in core.cores_of(change.came_from):
        core.state.carried.append(Carried(change.at, probe, change.pile))
        core.conditioner.move(probe, change.pile)
        core.routes.clear()


def _forget_work(core: Core) -> None:
    """Drop the work that no batch under watch needs any more."""
    oldest = min((run.built for run in core.state.runs.values()), default=None)
    if oldest is None:
        core.state.works.clear()
    else:
        core.state.works[:] = [one for one in core.state.works if one.work.time >= oldest]
