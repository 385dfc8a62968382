"""Foresees the changes that work would make, one source for the page's forms and for the command line.

A bare entry, of which only kind, place and time are known, stands for the form in which somebody is still to choose.
"""

from collections.abc import Iterator
from zoneinfo import ZoneInfo

from monitor.bins import mute_until
from monitor.engine.asking.entry_questions import lost_by, so_far_words
from monitor.engine.asking.turning_ahead import turning_ahead
from monitor.engine.context.batch_runs import BatchRun
from monitor.engine.context.core import Core
from monitor.model.alarm_kinds import BED_MOISTURE, Alarm, alarm_name
from monitor.model.sightings import UNWELL
from monitor.model.words import RuleState
from monitor.model.work import Work, WorkKind
from monitor.model.work_entry import RESULTS
from monitor.model.work_kinds import MOISTENING, SIGHTS, Material, Where, declared, is_turning, kinds, place_kind
from monitor.notices import clean, join_names, say_time


def foreseen(core: Core, place: str, now: int) -> dict[WorkKind, str]:
    """Return the changes that each kind of work would make at a place now; kinds that change nothing are left out.

    Args:
        core: The engine's ports; asking changes nothing.
        place: Id of a pile or bin, or `yard`.
        now: Now, UTC ms.
    """
    where = place_kind(core.settings, place)
    if where is None:
        return {}
    said = {row.kind: foreseen_of(core, Work(time=now, place=place, kind=row.kind), now) for row in kinds(where)}
    return {kind: words for kind, words in said.items() if words}


def foreseen_of(core: Core, work: Work, now: int) -> str:
    """Return the changes that a piece of work would make, in a sentence or more; "" if it changes nothing but the log.

    Args:
        core: The engine's ports; asking changes nothing.
        work: The entry.
        now: Now, UTC ms.
    """
    where = place_kind(core.settings, work.place)
    if where is None or where not in declared(work.kind).where:
        return ""
    said = {Where.PILE: _of_pile, Where.BIN: _of_bin, Where.YARD: _of_yard}.get(where)
    found = [] if said is None else list(said(core, work, now))
    return " ".join([*found, *_of_probe(core, work)])


def _of_pile(core: Core, work: Work, now: int) -> Iterator[str]:
    lies = core.batches.at(work.place, work.time)
    run = core.state.runs.get(lies.batch) if lies is not None else None
    if run is None:
        if lies is None:
            yield from _begins(core, work)
        return
    yield from _of_heap(core, work, run)
    if is_turning(work) and work.kind is WorkKind.TURNED:
        yield from turning_ahead(core, run, work, now)
    if work.kind is WorkKind.SCREENED:
        yield _FRACTIONS


def _begins(core: Core, work: Work) -> Iterator[str]:
    """Yield the beginning of a heap where nothing lies."""
    change = declared(work.kind).material
    if change is Material.TAKES_IN:
        yield "A heap begins with it."
    elif change is Material.BEGINS:
        counts = core.settings.piles[work.place].rule != "none"
        yield f"A heap begins{'; its rule counts from its first instant at temperature' if counts else ''}."


def _of_heap(core: Core, work: Work, run: BatchRun) -> Iterator[str]:
    change, so_far = declared(work.kind).material, so_far_words(run)
    after, record = (f" after {so_far}", f"with {so_far}") if so_far else ("", "with its record")
    if change is Material.TAKES_IN:
        yield from _takes_in(core, work, run)
    elif change is Material.BEGINS and work.time > run.built:
        yield f"The heap that lies here ends{after}, and another begins."
    elif change is Material.GOES:
        turning = "; that counts as a turning" if is_turning(work) else ""
        yield f"The heap goes {record}{_probes(core, work.place)}{turning}."
    elif change is Material.PART_GOES:
        yield f"A part goes {record}; the rest stays as it is."
    elif change is Material.JOINS and not work.to:
        yield "The heap ends, and the one that takes it in becomes raw again unless both have met the same rule."
    elif change in (Material.JOINS, Material.ENDS):
        yield f"The heap ends{after}."
    if work.to and (lost := lost_by(core, work)) is not None:
        yield f"{clean(core.settings.place_name(lost.place), 40)} becomes raw again and loses {lost.so_far}."


def _takes_in(core: Core, work: Work, run: BatchRun) -> Iterator[str]:
    so_far = so_far_words(run).removesuffix(" of its rule")
    if not so_far:
        return
    raw = f"it becomes raw again and loses {so_far}"
    if work.what:
        lost = lost_by(core, work)
        yield f"{raw[0].upper()}{raw[1:]}." if lost is not None else "What its rule has counted so far stays."
    elif run.rule is RuleState.MET:
        yield f"By raw material {raw}; what has met the same rule changes nothing."
    else:
        yield f"By raw material {raw}."


def _of_bin(core: Core, work: Work, now: int) -> Iterator[str]:
    row, state = declared(work.kind), core.state.bins.get(work.place)
    if row.material is Material.ENDS:
        yield "Until something is put in, the bin is empty: only its probes themselves are watched."
    elif row.fills and state is not None and state.emptied_at is not None and work.time >= state.emptied_at:
        yield "The bin is no longer empty, and its readings count again."
    if work.kind in MOISTENING:
        wanted = work.time + core.settings.bins[work.place].thresholds.moisture_mute_ms
        until = mute_until(list(state.mutes) if state is not None else [], now, wanted)
        if until > now:
            alarms = " and ".join(sorted(alarm_name(one) for one in BED_MOISTURE))
            when = say_time(until, now, ZoneInfo(core.settings.site.time_zone))
            yield f"Nobody is told of {alarms} until {when}."
    if row.sights:
        yield from _of_sights(core, work)
    if work.kind is WorkKind.HARVESTED:
        yield "What was taken becomes a harvest of its own, to be screened or made into a lot."
    if work.kind is WorkKind.SCREENED:
        yield _FRACTIONS


_FRACTIONS = "Its fractions become material of their own: for a lot, or back into a bed."


def _of_sights(core: Core, work: Work) -> Iterator[str]:
    name = alarm_name(Alarm.WORMS_UNWELL)
    record = core.state.alarms.get(f"{work.place}/{Alarm.WORMS_UNWELL}")
    if not work.worms and any(getattr(work, name) for name in (*SIGHTS, "depth")):
        return  # a look that says nothing of worms rings nothing; in a bare entry the worms are still to be said
    if work.worms in UNWELL or not work.worms:
        seen = "" if work.worms else f", if worms are {' or '.join(UNWELL)}"
        yield f"The alarm *{name}* rings{seen}."
    elif record is not None and record.on:
        yield f"The alarm *{name}* ends."


def _of_yard(core: Core, work: Work, now: int) -> Iterator[str]:
    del core, now
    if work.refused:
        yield "What was refused is no stock."
    elif work.kind is WorkKind.DELIVERY:
        yield f"It adds to the stock{_RISKS.get(work.risk, _NAMED)}"
    elif work.kind is WorkKind.TESTED and work.result == RESULTS[0]:
        return
    elif said := _YARD.get(work.kind):
        yield said


_RISKS = {
    "none": ".",
    "": ", and its risks go with it into every heap, bed and lot. "
    "Whether there are any, nobody knows until one is written down, or the word none.",
}
_NAMED = ", and its risks go with it into every heap, bed and lot."
_YARD = {
    WorkKind.COUNTED: "From then on that is the stock of the material.",
    WorkKind.AWAY: "Whoever is away is off duty: messages go to the others.",
    WorkKind.LOT: "It becomes a lot of its own, with all that went into it.",
    WorkKind.TESTED: "The lot is held back as long as a test of it is not passed.",
    WorkKind.GIVEN: "So much less of the lot is left, and a recall names who got it.",
}


def _of_probe(core: Core, work: Work) -> Iterator[str]:
    probe = core.settings.probes.get(work.probe) if declared(work.kind).probe else None
    if probe is None:
        return
    name = clean(probe.name or work.probe, 24)
    if work.kind is WorkKind.PROBE_OUT:
        yield f"Readings of {name} count for nothing until it is put in again."
        return
    before = core.place_of(work.probe)
    gone = (
        f", and no longer for {clean(core.settings.place_name(before), 40)}" if before not in ("", work.place) else ""
    )
    yield f"From then on readings of {name} count for {clean(core.settings.place_name(work.place), 40)}{gone}."


def _probes(core: Core, place: str) -> str:
    settings = core.settings
    names = [clean(settings.probes[one].name or one, 24) for one in core.cores_of(place) if one in settings.probes]
    return f" and its probes {join_names(names)}" if len(names) > 1 else f" and its probe {names[0]}" if names else ""
