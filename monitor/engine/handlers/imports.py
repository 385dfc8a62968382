"""Imports from files: their work and readings enter the record silently, and start no alarm and no notice."""

from collections.abc import Collection, Mapping, Sequence
from typing import Any

from monitor.engine.batches.pile_readings import advance_heaps, touch
from monitor.engine.context.core import Core
from monitor.engine.context.places import Places
from monitor.engine.handlers.logged_work import take_work
from monitor.engine.handlers.readings import take_imported
from monitor.model.events import FURTHER
from monitor.model.work import work_from
from monitor.model.work_kinds import declared


def take_import(core: Core, payload: Mapping[str, Any]) -> None:
    """Take an `imported` event: work and readings, of whatever age."""
    core.quiet = True
    works, rows = payload.get("work", ()), payload.get("rows", ())
    for row, work in enumerate(works):
        take_work(core, work, row)
    core.stuck.clear()
    again = _known_better(core, rows)
    take_imported(core, rows, payload.get(FURTHER, ()), str(payload.get("by", "")))
    turnings = {one.time for one in (work_from(work, core.at) for work in works) if declared(one.kind).turns}
    if (turnings or again) and core.history is not None:
        _settle_outings(core, turnings | again)
    core.quiet = False


def _known_better(core: Places, rows: Sequence[Any]) -> set[int]:
    """Drop presumed returns of probes whose readings arrive now; return the turnings that took these probes out (UTC ms)."""
    newest: dict[str, int] = {}
    for time, probe, *_ in rows:
        newest[probe] = max(time, newest.get(probe, time))
    gone = [(probe, at) for probe, at in core.state.presumed_back if newest.get(probe, at - 1) >= at]
    core.state.presumed_back[:] = [one for one in core.state.presumed_back if one not in gone]
    return {at for _, at in gone}


def _settle_outings(core: Core, turnings: Collection[int]) -> None:
    """Presume probes back that imported turnings took out if no reading shows their return.

    Nobody logs a return weeks later, and without a probe in the air a heap that stays equally warm shows none. The readings
    count from 60 min after the turning on: if the probe lay outside for longer, they are too cold and credit the heap nothing.
    """
    for run in core.state.runs.values():
        # Another walk shows which probes were not back by the next turning.
        if any(start <= at < end for at in turnings for _, start, end in core.spans_of(run)):
            touch(run, min(turnings))
    advance_heaps(core)
    while found := _stuck(core, turnings):
        for run in core.state.runs.values():
            if {probe for probe, _ in found} & {*core.probes_ever(run)}:
                touch(run, min(turning for _, turning in found))
        core.state.presumed_back += found
        core.stuck.clear()
        advance_heaps(core)


def _stuck(core: Core, turnings: Collection[int]) -> list[tuple[str, int]]:
    """Return (probe, turning in UTC ms) of probes that one of the turnings took out and that are not known to be back."""
    out = {
        (probe, one.out)
        for probe, one in core.state.outings.items()
        if one.out is not None and not one.with_cores and not one.taken
    }
    found = []
    for probe, turning in sorted({*out, *core.stuck}):
        pile = core.pile(core.place_of(probe))
        over = pile is not None and turning + pile.thresholds.settle_ms <= core.at
        if turning in turnings and over and (probe, turning) not in core.state.presumed_back:
            found.append((probe, turning))
    return found
