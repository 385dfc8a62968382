"""Places that lost their last thermometer: people are told until the place has one again.

A place that never had a thermometer surprises nobody: it is read by hand, or by nobody, and the summaries count it so. Probes
that are out for a turning still belong to the heap; `out_for_turning` reminds people of them.
"""

from dataclasses import replace

from monitor.engine.context.core import Core
from monitor.engine.context.current_values import is_old, speaks
from monitor.engine.context.places import Places, is_core
from monitor.engine.context.read_spots import spots_at
from monitor.engine.context.signals import Signals
from monitor.engine.output.alarm_facts import words_for
from monitor.engine.output.empty_yet_warm import warm_though_empty
from monitor.model.alarm_kinds import Alarm
from monitor.model.readings import is_hand
from monitor.model.units import Quantity
from monitor.model.words import AlarmState
from monitor.notices import By, PlaceWatch


def thermometers(core: Places, place: str) -> list[str]:
    """Return the thermometers of a place, by id: the core probes of a heap, every temperature probe of a bin."""
    bin_ = place in core.settings.bins
    return [p for p, c in core.probes_of(place) if is_core(c) or (bin_ and c.quantity is Quantity.TEMPERATURE)]


def follow_watch(core: Signals) -> None:
    """Begin or end `unwatched` for each place, after probes, heaps or settings may have moved."""
    if core.quiet:
        return
    known = core.state.thermometers
    for place in (*core.settings.piles, *core.settings.bins):
        here = thermometers(core, place)
        if here:
            known[place] = here[0]
            core.ends(place, Alarm.UNWATCHED)
        elif core.nothing_lies(place):
            known.pop(place, None)
            core.ends(place, Alarm.UNWATCHED)
        elif place in known:
            probe = known.pop(place)
            core.begins(place, Alarm.UNWATCHED, since=core.at, last=core.at, probe=probe)
    for place in [one for one in known if one not in core.settings.piles and one not in core.settings.bins]:
        del known[place]


def places_watched(core: Core) -> tuple[PlaceWatch, ...]:
    """Return how each pile and bin is watched now, in the order of the settings."""
    every = (*core.settings.piles, *core.settings.bins)
    return tuple(
        replace(_watch(core, place), muted=_muted(core, place), rounds=_rounds(core, place)) for place in every
    )


def _rounds(core: Places, place: str) -> tuple[int, int, int] | None:
    chain = core.state.chains.get(place)
    return None if chain is None else (chain.last, chain.due, chain.breaks)


def not_known_by_probes(core: Places) -> list[str]:
    """Return the piles and bins of which a summary may name the last reading or its time.

    Of the others it says only that their probes speak.
    """
    watches = (_watch(core, place) for place in (*core.settings.piles, *core.settings.bins))
    return [one.place for one in watches if one.by is not By.PROBES or not one.known]


def _muted(core: Core, place: str) -> tuple[tuple[str, int], ...]:
    """Return (words, muted until) of alarms that are on at a place but muted: nobody is told, yet summaries list them."""
    found = [
        (words_for(core, one).short, one.muted_until)
        for _, one in sorted(core.state.alarms.items())
        if one.place == place and one.state is AlarmState.SUPPRESSED and one.on and not one.covered_by
    ]
    return tuple((what, until) for what, until in found if until is not None)


def _watch(core: Places, place: str) -> PlaceWatch:
    warm = warm_though_empty(core, place)
    if warm is not None:
        by = By.HAND if is_hand(warm.series) else By.PROBES
        return PlaceWatch(place=place, by=by, known=False, last=warm.time, why="not empty")
    if core.nothing_lies(place):
        return PlaceWatch(place=place, by=By.EMPTY, known=True)
    probes = _by_probes(core, place)
    if probes is not None and probes.known:
        return probes
    hands = [*spots_at(core.state.hands, place).values()]
    held = [one for one in hands if one.held and one.held_until > core.at]
    if held:
        return PlaceWatch(place=place, by=By.HAND, known=True, last=held[-1].time, who=held[-1].by)
    if probes is not None:
        return probes
    if hands:
        return PlaceWatch(place=place, by=By.HAND, known=False, last=hands[-1].time, who=hands[-1].by, why="unread")
    return PlaceWatch(place=place, by=By.NOBODY, known=False)


def _by_probes(core: Places, place: str) -> PlaceWatch | None:
    """Return the watch of a place by its thermometers, or None where it has none."""
    warm = thermometers(core, place)
    if not warm:
        return None
    watches = {probe: core.watch(probe) for probe in warm}
    heard = {probe: w for probe, w in watches.items() if w.accepted_time is not None}
    inside = {probe: w for probe, w in heard.items() if core.in_service(probe)}
    speaking = [probe for probe in inside if speaks(core, probe)]
    newest = max((w.accepted_time or 0 for w in (inside or heard).values()), default=None)
    if speaking:
        damp = _damp_silent_since(core, place)
        if damp is not None:
            return PlaceWatch(place=place, by=By.PROBES, known=False, last=damp, why="moisture silent")
        return PlaceWatch(place=place, by=By.PROBES, known=True, last=newest)
    if not any(w.newest is not None for w in watches.values()):
        return PlaceWatch(place=place, by=By.PROBES, known=False, why="never heard")
    if not heard and any(core.in_service(probe) for probe in warm):
        return PlaceWatch(place=place, by=By.PROBES, known=False, why="uncounted")
    if not inside:
        out = [o.out for probe in warm if (o := core.state.outings.get(probe)) is not None and o.out is not None]
        return PlaceWatch(place=place, by=By.PROBES, known=False, last=min(out, default=None), why="outside")
    return PlaceWatch(place=place, by=By.PROBES, known=False, last=newest, why="silent")


def _damp_silent_since(core: Places, place: str) -> int | None:
    """Return when a bin's moisture probes were last heard (UTC ms) if all of them are silent; else None."""
    bed = core.state.bins.get(place)
    newest = bed.moistures if bed is not None else {}
    quiet = all(one.silent or is_old(core, probe) for probe, one in newest.items())
    return max((one.time for one in newest.values()), default=None) if quiet else None
