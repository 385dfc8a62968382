"""Places that are too dry or too wet now, for the diary: by their probes, else by the last handful that somebody squeezed."""

from collections.abc import Iterator

from monitor.bins import BinState
from monitor.diary import Due, WrongDamp, damp_due
from monitor.engine.context.current_values import is_old
from monitor.engine.context.places import Places
from monitor.engine.output.place_conditions import PILE_TOO_DRY
from monitor.model.sightings import CRUMBLES, RUNS
from monitor.model.times import DAY_MS
from monitor.model.words import Dampness
from monitor.model.work import WorkKind
from monitor.model.work_kinds import declared

_LOOK_SPEAKS_MS = 14 * DAY_MS
"""How long a squeezed handful speaks for a bin (our choice, as for its food)."""


def wrong_damp(core: Places) -> Iterator[Due]:
    """Yield the water or bedding that each place needs; a bin whose moisture work mutes needs none for now."""
    for place in core.settings.piles:
        yield from _dry_heap(core, place)
    for place in core.settings.bins:
        bed = core.state.bins.get(place)
        if bed is None or bed.emptied_at is not None:
            continue
        yield from _by_probes(core, place, bed) if _speak(core, bed) else _squeezed(core, place)


def _dry_heap(core: Places, place: str) -> Iterator[Due]:
    beginning = f"{place}/{PILE_TOO_DRY}/"
    dry = [
        (line.since, watch.accepted_milli)
        for key, line in core.state.lines.items()
        if key.startswith(beginning)
        and line.since is not None
        and (watch := core.state.watches.get(key.removeprefix(beginning))) is not None
        and not watch.silent
        and not is_old(core, key.removeprefix(beginning))
    ]
    if dry and not core.nothing_lies(place):
        since, milli = min(dry)
        if not any(
            _watered(one.work.kind) and one.work.time > since for one in core.state.works if one.work.place == place
        ):
            yield damp_due(WrongDamp(place=place, dry=True, since=since, milli_pct=milli))


def _speak(core: Places, bed: BinState) -> list[int]:
    """Return the values of the moisture probes that speak, thousandths of a percent; none leaves it to people's hands."""
    return [one.milli for probe, one in bed.moistures.items() if not one.silent and not is_old(core, probe)]


def _by_probes(core: Places, place: str, bed: BinState) -> Iterator[Due]:
    limits, newest = core.settings.bins[place].thresholds, _speak(core, bed)
    if any(start <= core.at < end for start, end in bed.mutes):
        return
    if bed.moisture is Dampness.TOO_DRY and (since := bed.too_dry.since) is not None:
        rings, milli = limits.too_dry_dwell_ms, min(newest)
        yield damp_due(WrongDamp(place=place, dry=True, since=since, milli_pct=milli, rings_after_ms=rings))
    elif bed.moisture is Dampness.TOO_WET and (since := bed.too_wet.since) is not None:
        rings, milli = limits.too_wet_dwell_ms, max(newest)
        yield damp_due(WrongDamp(place=place, dry=False, since=since, milli_pct=milli, rings_after_ms=rings))


def _squeezed(core: Places, place: str) -> Iterator[Due]:
    """Yield the water or bedding that the last squeezed handful asks for, unless somebody has seen to it since."""
    works = (one.work for one in core.state.bed_works if one.work.place == place)
    mine = sorted(works, key=lambda work: work.time)
    look = next((work for work in reversed(mine) if work.squeeze), None)
    if look is None or look.squeeze not in (CRUMBLES, RUNS) or core.at - look.time > _LOOK_SPEAKS_MS:
        return
    dry = look.squeeze == CRUMBLES
    seen_to = any(
        work.time > look.time and (_watered(work.kind) if dry else work.kind is WorkKind.BEDDED) for work in mine
    )
    if not seen_to:
        yield damp_due(WrongDamp(place=place, dry=dry, since=look.time))


def _watered(kind: WorkKind) -> bool:
    return declared(kind).moistens
