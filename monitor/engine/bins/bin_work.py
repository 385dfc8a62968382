"""Work of bins: food, water, bedding and emptying, and its effects when the log of a bin is corrected."""

from collections.abc import Iterator

from monitor.bins import mute_until
from monitor.engine.bins.worm_sights import follow_worms
from monitor.engine.context.core import Core
from monitor.engine.context.places import Places
from monitor.engine.context.read_spots import spots_at
from monitor.engine.context.state import Logged
from monitor.engine.hand.hand_limits import judge_again
from monitor.engine.output.alarm_notices import mute, shorten_mute
from monitor.engine.output.place_conditions import bed_changes
from monitor.engine.probes.silence_alarms import follow_material
from monitor.model.alarm_kinds import BED_MOISTURE
from monitor.model.times import DAY_MS
from monitor.model.work import Work
from monitor.model.work_kinds import FILLS_BED, MOISTENING, Material, declared

KEPT_MS = 90 * DAY_MS
"""How long work of bins is remembered, so that it can be taken back or corrected."""


def take_bin_work(core: Core, logged: Logged) -> None:
    """Take in a piece of work of a bin."""
    work = logged.work
    remember(core, logged)
    if work.worms or _empties(work):
        follow_worms(core, work.place)
    state = core.bed(work.place).state
    if _empties(work):
        if (state.fed_at or 0) <= work.time and _as_logged(core, work.place)[0] == work.time:
            empty_bin(core, work.place, work.time)
        return  # something came into the bin after this emptying, which was logged late
    if work.kind in FILLS_BED:
        fill_bin(core, work.place, work.time)
    if declared(work.kind).feeds:
        state.fed_at = max(state.fed_at or 0, work.time)
    if work.kind in MOISTENING:
        until = mute_until(state.mutes, core.at, _wanted(core, work))
        if until > core.at:
            mute(core, work.place, until, BED_MOISTURE)


def remember(core: Places, logged: Logged) -> None:
    """Remember work of a bin, or of the air, for a while."""
    works = core.state.bed_works
    works[:] = [one for one in works if one.at >= core.at - KEPT_MS]
    works.append(logged)


def empty_bin(core: Core, place: str, time: int) -> None:
    """Take in that a bin was emptied: until something is put into it, only the probes themselves are watched.

    Args:
        core: The engine's ports.
        place: The bin.
        time: When it was emptied, UTC ms.
    """
    bed = core.bed(place)
    bed.state.emptied_at, bed.state.fed_at = time, None
    bed_changes(core, place, bed.empty(core.at))
    core.routes.clear()
    follow_material(core, place)


def fill_bin(core: Core, place: str, time: int) -> None:
    """Take in that something was put into a bin, which is then no longer empty.

    Args:
        core: The engine's ports.
        place: The bin.
        time: When it was put in, UTC ms; before the emptying it changes nothing.
    """
    state = core.bed(place).state
    if state.emptied_at is not None and time >= state.emptied_at:
        _fill(core, place)


def _fill(core: Core, place: str) -> None:
    core.bed(place).state.emptied_at = None
    core.routes.clear()
    follow_material(core, place)
    emptied = [work.time for work in _in_order(core, place) if work.place == place and _empties(work)]
    judge_again(core, place, max(emptied, default=0))


def _refill(core: Core, place: str) -> None:
    """Take in that a bin was not emptied after all: its alarms go on, and the readings since then are judged."""
    bed = core.bed(place)
    before, bed.state.emptied_at = bed.state.before, None
    core.routes.clear()
    speaking = {
        probe: watch
        for probe, _ in core.probes_of(place)
        if (watch := core.state.watches.get(probe)) is not None and core.in_service(probe) and not watch.silent
    }
    kept = {} if before is None else {**before.temperatures, **before.moistures}
    bed_changes(core, place, bed.refill({*speaking, *spots_at(core.state.hands, place, held=True)}, core.at))
    for probe, watch in sorted(speaking.items()):
        time, milli, known = watch.accepted_time, watch.accepted_milli, kept.get(probe)
        if time is not None and milli is not None and (known is None or known.time < time):
            changes = bed.reading(probe, core.settings.probes[probe].quantity, time, milli, late=False)
            bed_changes(core, place, changes)
    follow_material(core, place)
    judge_again(core, place, before.at if before is not None else 0)


def rework_bed(core: Core, place: str, *entries: Work) -> None:
    """Work out again what a bin's log says of its bed, after entries were corrected; a mute for work that never was ends.

    Args:
        core: The engine's ports.
        place: The place of the entries; without effect if it is no bin.
        *entries: The entries, as they were and as they are.
    """
    if place not in core.settings.bins:
        return
    if any(work.worms or _empties(work) for work in entries):
        follow_worms(core, place)
    state = core.bed(place).state
    if any(_empties(work) or declared(work.kind).feeds or _fills(work, place) for work in entries):
        emptied, fed = _as_logged(core, place)
        if emptied is not None and state.emptied_at is None:
            empty_bin(core, place, emptied)
        elif emptied is None and state.emptied_at is not None:
            _refill(core, place)
        state.emptied_at, state.fed_at = emptied, fed
    if any(work.kind in MOISTENING for work in entries):
        mine = (one.work for one in core.state.bed_works if one.work.place == place and one.work.kind in MOISTENING)
        until = max(core.at + 1, max((_wanted(core, work) for work in mine), default=0))
        state.mutes[:] = [(start, min(end, until)) for start, end in state.mutes]
        for alarm in BED_MOISTURE:
            shorten_mute(core, place, alarm, until)


def _as_logged(core: Places, place: str) -> tuple[int | None, int | None]:
    """Return since when a bin is empty (None: it is not) and when it was last fed (None: never), by its log; UTC ms."""
    emptied = fed = None
    for work in _in_order(core, place):
        if work.place == place and _empties(work):
            emptied, fed = work.time, None
        elif _fills(work, place):
            emptied = None
        if work.place == place and declared(work.kind).feeds:
            fed = work.time
    return emptied, fed


def _in_order(core: Places, place: str) -> Iterator[Work]:
    works = [one for one in (*core.state.works, *core.state.bed_works) if place in (one.work.place, one.work.to)]
    return (one.work for one in sorted(works, key=lambda one: (one.work.time, one.at, one.row)))


def _empties(work: Work) -> bool:
    return declared(work.kind).material is Material.ENDS


def _fills(work: Work, place: str) -> bool:
    return (work.place == place and work.kind in FILLS_BED) or (work.to == place and declared(work.kind).goes_somewhere)


def _wanted(core: Places, work: Work) -> int:
    return work.time + core.settings.bins[work.place].thresholds.moisture_mute_ms
