"""Finds the batch whose record is wanted: one under watch, one that is used up, or the batch of a bare work log.

Rules:
1. The engine keeps work and carryings of probes only for batches under watch. For a batch that is used up, the whole log is
   taken in once more, without readings (`whole_record`); the places of batches come from the engine's own book.
2. A work log without a journal (`lone_batch`) fills a book of the same kind. The batch meant is the newest on the pile.
"""

from collections.abc import Iterable, Mapping
from typing import Any

from monitor.engine.batches.begin_and_end import batch_changes
from monitor.engine.context.batch_runs import BatchRun, run_from_book
from monitor.engine.context.core import Core
from monitor.engine.context.places import FOREVER, Places
from monitor.engine.context.state import Carried, EngineState, Logged
from monitor.engine.handlers.corrections import take_correction
from monitor.engine.handlers.logged_work import take_work
from monitor.engine.handlers.new_settings import take_settings
from monitor.model.events import Event, EventKind
from monitor.model.work import Work, WorkKind
from monitor.model.work_kinds import HEAP_CHANGES, PROBE_WORK
from monitor.piles import probes_left


def whole_record(state: EngineState, events: Iterable[Event], base: EngineState | None = None) -> Core:
    """Return a core that knows all batches of `state` and the whole log about them, for `batch_record`.

    Args:
        state: The engine's present state.
        events: Events of the kinds work, correction, imported and settings, in order; readings in them are skipped.
        base: The state before the first of them, where the journal's beginning is no longer kept.
    """
    core = Core(base if base is not None else EngineState())
    core.quiet = core.keeps_all = True
    begun = sorted((b.built, b.spans[0].pile) for b in state.batches.batches.values() if not b.parent and b.spans)
    for event in events:
        while begun and begun[0][0] <= event.at:
            built, pile = begun.pop(0)
            # The batch began with its first reading, which is not among these events.
            if pile in core.settings.piles and pile not in core.state.batches.settled:
                batch_changes(core, core.batches.heard(pile, built))
        core.at = event.at
        _take(core, event)
        core.effects.clear()
        core.stepped.clear()
    _told_again(core, state)
    return core


def _take(core: Core, event: Event) -> None:
    if event.kind is EventKind.SETTINGS:
        take_settings(core, event.payload)
    elif event.kind is EventKind.CORRECTION:
        take_correction(core, event.payload)
    elif event.kind is EventKind.WORK:
        take_work(core, event.payload)
    elif event.kind is EventKind.IMPORTED:
        for row, work in enumerate(event.payload.get("work", ())):
            take_work(core, work, row)


def _told_again(core: Core, state: EngineState) -> None:
    """Replace the book of batches, which was worked out without readings, by that of the engine's state."""
    core.state.settings = state.settings
    core.state.retired = {**core.state.retired, **state.retired}
    core.state.batches = state.batches
    core.state.runs = dict(state.runs)
    core.state.conditioning = state.conditioning
    core.state.presumed_back = state.presumed_back
    core.renew()


def run_of(core: Places, batch: str) -> BatchRun:
    """Return a batch's run: the one under watch or, for a batch that is used up, one made from the book.

    Raises:
        KeyError: There is no such batch.
    """
    known = core.state.runs.get(batch)
    if known is not None:
        return known
    book = core.state.batches.batches
    return run_from_book(book, batch, core.settings.rules.get(book[batch].rule, ""))


def lone_batch(
    settings: Mapping[str, Any],
    works: Iterable[Work],
    pile: str,
    first: int,
    batch: str = "",
    others: Mapping[str, int] | None = None,
    follow: Mapping[str, str] | None = None,
) -> tuple[Core, BatchRun | None]:
    """Return a core that has taken in a work log without a journal, and the newest batch that lay on a pile.

    Args:
        settings: Plain settings with the piles that the log names, and the batch's probes (their place is set here).
        works: The log, in any order; an entry counts from its own time on.
        pile: Where the batch lies or lay last.
        first: The time of the first accepted reading, UTC ms, which begins the batch if nobody logged its building.
        batch: The batch that is meant; "": the newest on the pile.
        others: The time of the first accepted reading of other piles (UTC ms), where it is known.
        follow: The batches of probes that were in another batch, by probe.

    Returns:
        The core, and the batch's run, or None if no batch lay on the pile.
    """
    core = Core(EngineState())
    core.quiet = core.keeps_all = True
    take_settings(core, {"settings": settings})
    log = sorted(works, key=lambda work: work.time)
    # If the log says how the batch came there, its first reading does not begin it.
    arrives = any(
        (work.kind is WorkKind.BUILT and work.place == pile)
        or (work.kind in (WorkKind.MOVED, WorkKind.SPLIT) and work.to == pile)
        for work in log
    )
    begin = sorted((at, other) for other, at in (others or {}).items() if other != pile)
    for number, work in enumerate(log):
        if work.time > first and not arrives:
            core.batches.heard(pile, first)
        while begin and work.time > begin[0][0]:
            at, other = begin.pop(0)
            core.batches.heard(other, at)
        changes = core.batches.apply(work)
        if changes or work.kind not in HEAP_CHANGES - {WorkKind.BUILT}:
            core.state.works.append(Logged(number, work))
    core.batches.heard(pile, first)
    book = core.state.batches.batches.values()
    lay = [(span.start, batch.batch) for batch in book for span in batch.spans if span.pile == pile]
    if not lay:
        return core, None
    run = run_of(core, batch if batch in core.state.batches.batches else max(lay)[1])
    for probe in core.settings.probes:
        where = (follow or {}).get(probe, run.batch)
        _carry_with(core, run_of(core, where) if where in core.state.batches.batches else run, probe)
    return core, run


def _left_behind(core: Places, run: BatchRun, probe: str) -> int:
    """Return when the heap was moved without this probe (UTC ms), if nobody put it in later; else `FOREVER`."""
    left = FOREVER
    for work, own in core.works_of(run):
        if own and work.kind in (WorkKind.MOVED, WorkKind.MERGED) and probes_left(work):
            left = min(left, work.time)
        elif work.kind is WorkKind.PROBE_IN and work.probe == probe:
            left = FOREVER
    return left


def _carry_with(core: Places, run: BatchRun, probe: str) -> None:
    """Let a probe follow the batch from the beginning, or from its first entry on if that is no return from a turning."""
    since = run.built
    for work, _ in core.works_of(run):
        if work.kind in (WorkKind.TURNED, WorkKind.MOVED):
            break
        if work.probe == probe and work.kind in PROBE_WORK:
            since = work.time if work.kind is WorkKind.PROBE_IN else since
            break
    carried = [Carried(0, probe, "")]
    left = _left_behind(core, run, probe)
    for pile, start, end in core.spans_of(run):
        if end > since and start < left:
            carried.append(Carried(max(start, since), probe, pile))
    if left < FOREVER:
        carried.append(Carried(left, probe, ""))
    core.state.carried = sorted([*core.state.carried, *carried], key=lambda one: one.time)
