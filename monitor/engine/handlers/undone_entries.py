"""Undoes entries that changed where heaps lie, or says what stands in the way.

A batch that ended is kept aside for `ENDED_KEPT_MS` with its work, so that it can be watched again as if it had never ended.
"""

from collections.abc import Mapping

from monitor.engine.batches.begin_and_end import clear_pile, uncarry
from monitor.engine.batches.hand_rounds import readings_by_hand
from monitor.engine.batches.moved_danger import carry_back
from monitor.engine.batches.pile_readings import touch
from monitor.engine.context.batch_runs import open_walk
from monitor.engine.context.core import Core
from monitor.engine.context.state import EngineState, Logged
from monitor.engine.hand.hand_limits import hold_again
from monitor.engine.output.place_conditions import danger_signals
from monitor.engine.probes.silence_alarms import follow_material
from monitor.model.excursions import Excursion
from monitor.model.work import Work, WorkKind
from monitor.model.work_kinds import Material, declared
from monitor.piles import Reversal, forget_batch, reversal_of, take_back

TOO_OLD = "its heap ended too long ago; log what is so now instead"


def unbegin(core: Core, place: str) -> None:
    """Correct the beginning of a heap that only a withdrawn reading by hand began: the next reading begins it, if any."""
    run = core.run_at(place)
    if run is None or not run.by_reading or run.home != place or core.history is None:
        return
    batch = core.state.batches.batches[run.batch]
    readings, unread = readings_by_hand(core, run)
    known = [*(time for time, _, _ in readings), *unread]
    known += [work.time for work, own in core.works_of(run) if own]
    if any(core.serving_spans(run, probe) for probe in core.probes_ever(run)):
        return  # one of its probes shows that something lies there
    if known:
        run.built = batch.built = batch.spans[0].start = min(known)
        core.marks.clear()
        touch(run, run.built)
    elif forget_batch(core.state.batches, run.batch):
        core.marks.clear()
        core.met_known.clear()
        for held in (core.state.runs, core.walks, core.heaps, core.stepped):
            held.pop(run.batch, None)
        clear_pile(core, place)
        follow_material(core, place)


def lies_alike(old: Work, new: Work) -> bool:
    """Return whether two entries say the same about where heaps lie, so that one can replace the other without any undoing.

    Only when a heap was built may differ.
    """
    same = all(getattr(old, name) == getattr(new, name) for name in ("kind", "place", "to"))
    then = old.time == new.time or old.kind is WorkKind.BUILT
    return same and then and (not declared(old.kind).goes_somewhere or old.note == new.note)


def in_the_way(state: EngineState, found: Logged, new: Work | None) -> Logged | str | None:
    """Return the obstacle to a correction.

    Args:
        state: The engine's state.
        found: The entry to correct.
        new: The work that replaces it; None: it is taken back.

    Returns:
        A later entry that rests on it; a sentence for people; or None where nothing is in the way.
    """
    old = found.work
    if new is not None and lies_alike(old, new):
        return None
    reversal = reversal_of(state.batches, old)
    if not reversal.changes:
        return None
    later = sorted(
        (one for one in state.works if one is not found and _rests_on(one.work, old, reversal)
         and (one.work.time, one.at, one.row) > (old.time, found.at, found.row)),
        key=lambda one: (one.work.time, one.at, one.row),
    )  # fmt: skip
    if later:
        return later[0]
    if reversal.why_not:
        return reversal.why_not
    if reversal.back and reversal.back not in state.runs and reversal.back not in state.ended:
        return TOO_OLD
    return None


def undo_heap_change(core: Core, found: Logged) -> None:
    """Undo an entry's effect on where heaps lie; the caller has checked that nothing is in the way."""
    work, state = found.work, core.state
    reversal = reversal_of(state.batches, work)
    if reversal.unsaid:
        take_back(state.batches, work, reversal)
    if not reversal.changes:
        return
    core.marks.clear()
    core.met_known.clear()
    if reversal.gone:
        for known in (state.runs, core.walks, core.heaps, core.stepped):
            known.pop(reversal.gone, None)
    danger = core.state.dangers.get(reversal.pile) if reversal.back else None
    before = dict(danger.before) if danger is not None else {}
    carry_back(core, work, reversal.left)
    if reversal.left:
        clear_pile(core, reversal.left)
    take_back(state.batches, work, reversal)
    _probes_back(core, work)
    if reversal.back:
        _watch_again(core, reversal.back, work.time)
        _heat_goes_on(core, reversal.back, reversal.pile, before)
    for batch in reversal.touched:
        if batch in state.runs:
            touch(state.runs[batch], work.time)
    for place in dict.fromkeys(one for one in (work.place, work.to) if one):
        follow_material(core, place)


def _watch_again(core: Core, batch: str, time: int) -> None:
    """Watch a batch again that lies where it lay; its record is worked out again from `time` (UTC ms) on."""
    kept = core.state.ended.pop(batch, None)
    run = core.state.runs.get(batch) or (kept.run if kept is not None else None)
    assert run is not None
    core.state.runs[batch] = run
    core.walks[batch] = open_walk(run, core.thresholds_of(run))
    core.heaps.pop(batch, None)
    touch(run, time)


def _probes_back(core: Core, work: Work) -> None:
    """Undo that probes went along with a heap."""
    if declared(work.kind).material in (Material.GOES, Material.JOINS):
        for one in [one for one in core.state.carried if (one.time, one.place) == (work.time, work.to)]:
            uncarry(core, one.probe, one.time)


def _heat_goes_on(core: Core, batch: str, pile: str, before: Mapping[str, Excursion]) -> None:
    """Resume the heat watch of a pile where it stood before its heap was logged as gone, as far as it still holds."""
    if pile not in core.settings.piles:
        return
    danger = core.danger(pile)
    danger_signals(core, pile, danger, danger.refill(before))
    hold_again(core, pile, core.state.batches.batches[batch].spans[-1].start)


def _rests_on(one: Work, old: Work, reversal: Reversal) -> bool:
    kind, places = declared(one.kind), {old.place, old.to} - {""}
    if kind.moves_material and places & {one.place, one.to}:
        return True
    # Or it is work on a heap that would then lie nowhere.
    return kind.needs_heap and one.place == reversal.left and reversal.pile != reversal.left
