"""Barriers end a run: commits that are out of the ordinary are fed one at a time, through the first door.

A run holds only readings of known probes in order of their own time, in one unit and calibration, not far behind the others, of
probes that were heard lately and are in service. A commit that touches the past, ends a silence or begins something is a
barrier. A needless barrier costs time and nothing else.
"""

import numpy as np

from monitor.conditioning import RUN_IN_MS
from monitor.engine.context.core import Core
from monitor.engine.context.places import Places
from monitor.engine.context.route import Goal, Route
from monitor.engine.context.routes import route
from monitor.engine.stretch.commits import Commits, Ints
from monitor.model.readings import is_hand
from monitor.model.times import HOUR_MS
from monitor.model.units import Quantity

RowsOf = dict[str, Ints]


def ready(core: Core) -> bool:
    """Return whether a run may begin where the engine stands."""
    return (
        core.late_flags.due() is None
        and core.state.clock_off_ms == 0
        and core.silence_check is not None
        and all(run.touched is None for run in core.state.runs.values())
        and not _by_hand(core)
    )


def _by_hand(core: Places) -> bool:
    """Return whether a reading by hand counts somewhere: the columns know of probes alone."""
    state = core.state
    return bool(state.hands) and (
        bool(state.apart)
        or any(one.held for one in state.hands.values())
        or any(is_hand(name) for bed in state.bins.values() for name in bed.temperatures)
        or any(is_hand(name) for danger in state.dangers.values() for name in danger.newest)
        or any(is_hand(name) for run in state.runs.values() for name in run.walk.lines)
    )


def rows_by_probe(commits: Commits, start: int, end: int) -> RowsOf:
    """Return the rows of each probe in some commits.

    Args:
        commits: The commits.
        start: The first commit.
        end: The commit after the last.

    Returns:
        By probe, its row numbers, rising, counted from the first row of `start`; shape (rows of the probe,).
    """
    first, last = int(commits.first[start]), int(commits.first[end])
    codes = commits.probe[first:last]
    # Small numbers are sorted by counting, five times as fast.
    order = np.argsort(codes.astype(np.uint16) if len(commits.names) < 1 << 16 else codes, kind="stable")
    edges = np.searchsorted(codes[order], np.arange(len(commits.names) + 1))
    return {
        name: order[edges[code] : edges[code + 1]]
        for code, name in enumerate(commits.names)
        if edges[code] < edges[code + 1]
    }


def first_barrier(core: Core, commits: Commits, start: int, end: int, rows: RowsOf) -> int:
    """Return the first of some commits that must be fed by itself.

    Args:
        core: The engine's ports.
        commits: The commits.
        start: The first commit to look at.
        end: The commit after the last.
        rows: Their rows by probe (`rows_by_probe`).

    Returns:
        Its number, or `end` where there is none.
    """
    first, last = int(commits.first[start]), int(commits.first[end])
    time = commits.time[first:last]
    bad = len(time)
    newest = max((w.newest for w in core.state.watches.values() if w.newest is not None), default=0)
    highest = np.maximum(np.maximum.accumulate(time), newest) if len(time) else time
    behind = time < (highest // HOUR_MS - 1) * HOUR_MS
    if behind.any():
        bad = int(np.argmax(behind))
    lag = min((core.thresholds_of(run).lag_ms for run in core.state.runs.values()), default=RUN_IN_MS)
    for name, mine in rows.items():
        bad = min(bad, _first_bad(core, commits, name, mine, first, lag))
    found = end if bad == len(time) else int(commits.first.searchsorted(first + bad, side="right")) - 1
    claims = [commit for commit in commits.ahead if start <= commit < found]
    return min(claims, default=found)


def _first_bad(core: Core, commits: Commits, name: str, mine: Ints, first: int, lag: int) -> int:
    none = len(commits.time)
    if name not in core.settings.probes:
        return int(mine[0]) if is_hand(name) else none
    known = route(core, name)
    outing = core.state.outings.get(name)
    if outing is not None and outing.out is not None and outing.with_cores:
        # It is back with the last of its heap's core probes, which the steps see.
        return int(mine[0])
    stays = core.conditioner.stays(name)
    if stays is None or not _introduced(core, name, known):
        return int(mine[0])
    unit, begin, end = stays
    time = commits.time[first:][mine]
    before = np.empty_like(time)
    before[1:], before[0] = time[:-1], known.watch.newest or 0
    bad = (time <= before) | (time < begin) | (time >= end)
    oldest = max(core.marks.until + 1, known.since, known.fit, core.conditioner.state.probes[name].expired)
    bad |= time < oldest
    if unit not in commits.units:
        return int(mine[0])
    bad |= commits.unit[first:][mine] != commits.units.index(unit)
    if known.goal is Goal.CORE:
        bad |= time - before > lag
    return int(mine[np.argmax(bad)]) if bad.any() else none


def _introduced(core: Core, name: str, known: Route) -> bool:
    """Return whether every part that takes a reading of this probe knows the probe already."""
    watch = known.watch
    if watch.silent or watch.lost or watch.ahead or watch.broken or watch.newest is None:
        return False
    if known.quantity is Quantity.TEMPERATURE and not core.conditioner.state.probes[name].count:
        return False
    ambients, _, cores = core.conditioner.around(name)
    if known.goal is Goal.CORE and ambients and cores and known.place not in core.conditioner.state.consulted:
        return False
    if known.goal is Goal.NOBODY or known.comparable_from is None:
        return watch.arrived is not None
    return _is_at_home(core, name, known)


def _is_at_home(core: Places, name: str, known: Route) -> bool:
    """Return whether the place of a probe has had an accepted reading of it."""
    watch = known.watch
    accepted = watch.accepted_time
    if accepted is None or not watch.trail or accepted < max(known.since, known.comparable_from or 0):
        return False
    if known.bed is not None:
        state = known.bed.state
        newest = {Quantity.TEMPERATURE: state.temperatures, Quantity.MOISTURE: state.moistures}.get(known.quantity)
        return newest is None or (name in newest and not newest[name].silent)
    if known.danger is not None:
        return name in known.danger.state.accepted and name in known.danger.state.newest
    line = {Quantity.MOISTURE: "pile-too-wet", Quantity.OXYGEN: "oxygen"}.get(known.quantity)
    return known.goal is not Goal.PILE_LINE or line is None or f"{known.place}/{line}/{name}" in core.state.lines
