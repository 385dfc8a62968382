"""What is known about an alarm when its words are written: from its record, and from what the engine remembers beside."""

from dataclasses import replace
from typing import Any

from monitor.alarms import AlarmRecord
from monitor.bins import BinState, Newest
from monitor.engine.air_highs import highest
from monitor.engine.chains import lost_by_break
from monitor.engine.core import Core
from monitor.engine.places import Places
from monitor.engine.runs import progress_now, rule_of
from monitor.engine.spots import last_read
from monitor.engine.watch import ProbeWatch
from monitor.model.alarm_kinds import CATALOG, HEAP_HEAT, Alarm, WrongSide
from monitor.model.units import MILLI, Quantity, plain_number
from monitor.model.work import WorkKind
from monitor.notices import BLANK, Facts, Message, compose_kept
from monitor.piles import WALK_ALARMS

_SPOTS = ("other", "coolest", "hottest")


def milli(value: Any) -> int | None:
    """Return a plain number of an effect's values in thousandths, or None."""
    return round(value * MILLI) if isinstance(value, int | float) else None


def facts_of(core: Places, record: AlarmRecord, extra: dict[str, Any] | None = None) -> Facts:
    """Return what is known about an alarm now."""
    record = _as_said(core, record)
    watch = core.state.watches.get(record.probe)
    values = record.values
    known: dict[str, Any] = dict(values)
    known |= {f"{spot}_milli": milli(values[spot]) for spot in _SPOTS if spot in values}
    bed = core.state.bins.get(record.place)
    if bed is not None:
        known["air_high_milli"] = highest(core.state.air_highs, core.at)
        if bed.fed_at is not None:
            known["fed_at"] = bed.fed_at
    run = core.run_at(record.place)
    if record.alarm == Alarm.TURNING_DUE and run is not None and run.walk.turned_at is not None:
        known["last_turned"] = run.walk.turned_at
    if record.on and record.alarm == Alarm.ROUND_DUE:
        known |= _of_chain(core, record.place)
    if CATALOG[record.alarm].unheard and core.was_cleared(record.place):
        known["empty"] = True
    shown = milli(values.get("value"))
    if record.on and record.alarm in WALK_ALARMS:
        shown, newest = _of_heap(core, record, shown)
        known |= newest
    if record.on and not CATALOG[record.alarm].unheard:
        known |= _staleness(core, record)
        if (turned := _turned_since(core, record)) is not None:
            known |= {"turned_at": turned, "read_at": _told_at(core, record)}
    if run is not None and record.alarm in HEAP_HEAT and (rule := rule_of(run)) is not None:
        known["upper_milli"] = rule.live.limits.high_milli_c
    known |= extra or {}
    quantity = _quantity(core, record)
    steady = quantity is not Quantity.TEMPERATURE or CATALOG[record.alarm].unheard
    return Facts(
        place=record.place,
        probe=record.probe,
        value_milli=shown,
        limit_milli=milli(values.get("limit")),
        since=record.limit_since,
        now=core.true_now,
        trend_milli_k_per_h=None if watch is None or steady else _trend(core, record.place, record.probe, watch),
        quantity=quantity,
        extra=known,
    )


def _of_heap(core: Places, record: AlarmRecord, shown: int | None) -> tuple[int | None, dict[str, Any]]:
    """Return the number of a heap's alarm as it is now, and what else is known of the heap by now.

    Told again days later, it says how warm the heap is and how far the batch, not how it was when the alarm rang.
    """
    values, known = record.values, dict[str, Any]()
    coldest, hottest = _ends(core, record.place)
    at_coldest = record.alarm == Alarm.TURNING_DUE and "variant" not in values
    if record.alarm == Alarm.COLD_CORNER:
        shown = _now(core, record, shown)
        known |= {} if hottest is None or "other" not in values else {"other_milli": hottest}
    elif (newest := coldest if at_coldest else hottest) is not None:
        shown = newest
    run = core.run_at(record.place)
    if run is None or record.alarm not in (Alarm.TURNING_DUE, Alarm.COOLED_UNMET):
        return shown, known
    progress = progress_now(run)
    known |= {} if progress is None else progress.values
    known |= outside(core, record.place)
    if not core.cores_of(record.place) and (last := last_read(core.state.hands, record.place)) is not None:
        known |= {"read_at": last.time}
        shown = last.low if at_coldest else last.high
    return shown, known


def _of_chain(core: Places, place: str) -> dict[str, Any]:
    """Return what is known of the rounds that prove a heap's rule, and what a broken chain takes of it."""
    chain, run = core.state.chains.get(place), core.run_at(place)
    if chain is None or run is None:
        return {}
    known: dict[str, Any] = {"read_at": chain.last, "due_at": chain.due, "breaks_at": chain.breaks}
    # While it recovers from a turning a day may lack more of its proof than else.
    return known | lost_by_break(run) | {"recovers": run.walk.recovering}


def outside(core: Places, place: str) -> dict[str, list[str]]:
    """Return which core probes of a heap lie outside, and which are in it, where some are and some are not."""
    cores = core.cores_of(place)
    out = [probe for probe in cores if not core.in_service(probe)]
    return {"out": out, "in": [probe for probe in cores if probe not in out]} if out and len(out) < len(cores) else {}


def speaks_for_place(core: Places, probe: str) -> bool:
    """Tell whether what a probe said last is of its place: not where it lies out for a turning, or has just come back."""
    outing, watch = core.state.outings.get(probe), core.state.watches.get(probe)
    if watch is None or watch.accepted_time is None:
        return True
    if watch.outside is not None and watch.accepted_time <= watch.outside:
        return False
    return outing is None or (outing.accepted_from is not None and watch.accepted_time >= outing.accepted_from)


def _quantity(core: Places, record: AlarmRecord) -> Quantity:
    """Return what an alarm's number is of: a probe's own, where it is told of the probe."""
    probe = core.all_probes().get(record.probe)
    if CATALOG[record.alarm].unheard and probe is not None:
        return probe.quantity
    return CATALOG[record.alarm].quantity


def _trend(core: Places, place: str, probe: str, watch: ProbeWatch) -> int | None:
    """Return where a probe is heading, where all that it goes by was said in its place."""
    outing = core.state.outings.get(probe)
    if core.place_of(probe) != place:
        return None
    if outing is not None and (
        outing.accepted_from is None or (watch.trail and watch.trail[0][0] < outing.accepted_from)
    ):
        return None
    return watch.trend()


def _newest_of(bed: BinState, record: AlarmRecord) -> dict[str, Newest]:
    """Return the newest values of what an alarm's number is of, by series."""
    return bed.moistures if CATALOG[record.alarm].quantity is Quantity.MOISTURE else bed.temperatures


def _stale_at(core: Places, record: AlarmRecord) -> int | None:
    """Return when the probes that an alarm goes by were last heard, where all of them are silent by now; else None."""
    place, bed = record.place, core.state.bins.get(record.place)
    if bed is not None:
        newest = _newest_of(bed, record)
        known = [(one.time, one.silent) for one in newest.values()]
    elif record.alarm in HEAP_HEAT and (danger := core.state.dangers.get(place)) is not None:
        lost = [name for name, watch in core.state.watches.items() if watch.lost]
        known = [(core.measured_at(place, name), name in danger.silent or name in lost) for name in danger.newest]
    elif record.alarm in WALK_ALARMS:
        watches = [core.state.watches.get(probe) for probe in core.cores_of(place)]
        known = [
            (w.accepted_time, w.silent or w.lost) for w in watches if w is not None and w.accepted_time is not None
        ]
    else:
        return None
    return max(time for time, _ in known) if known and all(silent for _, silent in known) else None


def _own_stale_at(core: Places, record: AlarmRecord) -> int | None:
    """Return when the one whose number an alarm tells was last heard, where it is silent and others speak; else None."""
    bed, danger = core.state.bins.get(record.place), core.state.dangers.get(record.place)
    if bed is not None:
        newest = _newest_of(bed, record).get(record.probe)
        return newest.time if newest is not None and newest.silent else None
    if record.alarm in HEAP_HEAT and danger is not None and record.probe in danger.newest:
        watch = core.state.watches.get(record.probe)
        lost = watch is not None and watch.lost
        return core.measured_at(record.place, record.probe) if lost or record.probe in danger.silent else None
    return None


def _staleness(core: Places, record: AlarmRecord) -> dict[str, Any]:
    """Return whether what an alarm goes by still speaks.

    The keys are `stale_at`, `others_speak`, `outside` and `elsewhere` of `notices.facts`.
    """
    found: dict[str, Any] = {"stale_at": _stale_at(core, record)}
    if found["stale_at"] is None and (heard := _own_stale_at(core, record)) is not None:
        found |= {"stale_at": heard, "others_speak": True}
    if found["stale_at"] is None:
        return found
    if _lies_outside(core, record, alone="others_speak" in found):
        found["outside"] = True
    elif record.alarm in HEAP_HEAT and "others_speak" not in found and record.probe in core.settings.probes:
        # It may speak well where it was left, of whatever lies there now.
        found["elsewhere"] = core.place_of(record.probe) != record.place
    return found


def _lies_outside(core: Places, record: AlarmRecord, *, alone: bool) -> bool:
    """Tell whether what an alarm goes by is not silent but outside: the probe that it names (`alone`), or all of the place."""
    quantity = _quantity(core, record)
    names = [record.probe] if alone else [p for p, one in core.probes_of(record.place) if one.quantity is quantity]
    outings = [core.state.outings.get(name) for name in names]
    return bool(outings) and all(one is not None and one.out is not None for one in outings)


def _as_said(core: Places, record: AlarmRecord) -> AlarmRecord:
    """Return an alarm of a number as those say it who speak: where the one that rang it fell silent, another may hold it open.

    Nothing of it is written back: the next reading does that.
    """
    if not record.on or _own_stale_at(core, record) is None:
        return record
    bed = core.state.bins.get(record.place)
    if bed is not None:
        newest = _newest_of(bed, record)
        for signal in core.bed(record.place).standing(CATALOG[record.alarm].quantity):
            if signal.alarm == record.alarm and signal.probe in newest and not newest[signal.probe].silent:
                return replace(record, probe=signal.probe, values=signal.values)
        return record
    danger, limit = core.state.dangers[record.place], milli(record.values.get("limit"))
    lost = {name for name, watch in core.state.watches.items() if watch.lost}
    said = {name: value for name, value in danger.newest.items() if name not in danger.silent and name not in lost}
    probe = max(said, key=lambda name: (said[name], name), default="")
    pile = core.pile(record.place)
    if not probe or pile is None or limit is None or said[probe] < limit - pile.thresholds.deadband_milli_k:
        return record
    return replace(record, probe=probe, values={**record.values, "value": plain_number(said[probe])})


def _told_at(core: Places, record: AlarmRecord) -> int:
    """Return the time of the reading whose number an alarm of heat tells, UTC ms."""
    return max(record.last, core.measured_at(record.place, record.probe))


def _turned_since(core: Places, record: AlarmRecord) -> int | None:
    """Return when a heap was turned after the reading by which it is hot, where nothing was read of it since; else None."""
    if record.alarm not in HEAP_HEAT:
        return None
    turned = [
        one.work.time
        for one in core.state.works
        if one.work.place == record.place and one.work.kind is WorkKind.TURNED and one.work.time <= core.true_now
    ]
    last = max(turned, default=None)
    return last if last is not None and last > _told_at(core, record) else None


def _ends(core: Places, place: str) -> tuple[int | None, int | None]:
    """Return the lowest and the highest of what a heap's core probes said last, without the silent and those outside."""
    watches = [core.state.watches.get(probe) for probe in core.cores_of(place) if speaks_for_place(core, probe)]
    known = [w.accepted_milli for w in watches if w is not None and not w.silent and w.accepted_milli is not None]
    return min(known, default=None), max(known, default=None)


def _now(core: Places, record: AlarmRecord, otherwise: int | None) -> int | None:
    """Return what the probe that an alarm names said last, where it still speaks for its place."""
    watch = core.state.watches.get(record.probe)
    if watch is None or watch.silent or not speaks_for_place(core, record.probe):
        return otherwise
    return watch.accepted_milli if watch.accepted_milli is not None else otherwise


def _beyond(record: AlarmRecord, newest: int) -> bool:
    """Tell whether a value (thousandths) is still on the wrong side of the limit of an alarm of a number."""
    limit = milli(record.values.get("limit"))
    if limit is None:
        return False
    side = CATALOG[record.alarm].side
    return (
        newest >= limit if side is WrongSide.ABOVE else newest <= limit and side in (WrongSide.BELOW, WrongSide.SHORT)
    )


def written(core: Core, notice: str, facts: Facts) -> Message:
    """Return the words of a notice, an alarm or a line of the digest, kept; none where nobody reads."""
    return core.audience.read(lambda: compose_kept(notice, facts, core.settings), BLANK)


def words_for(core: Core, record: AlarmRecord) -> Message:
    """Return the words of an alarm as it stands now, kept (`notices.instants`)."""
    return core.audience.read(lambda: compose_kept(record.alarm, facts_of(core, record), core.settings), BLANK)


def past_words(core: Core, record: AlarmRecord) -> Message:
    """Return the words of an excursion that is already over."""
    return core.audience.read(lambda: compose_kept("past", past_facts(core, record), core.settings), BLANK)


def past_facts(core: Places, record: AlarmRecord) -> Facts:
    """Return what is known of an excursion that is already over."""
    return facts_of(core, record, {"alarm": record.alarm, "until": record.last})


def over_words(core: Core, record: AlarmRecord) -> Message:
    """Return the words that say an alarm's condition is over; the number is the newest one known."""
    return core.audience.read(lambda: compose_kept("over", _over_facts(core, record), core.settings), BLANK)


def _over_facts(core: Places, record: AlarmRecord) -> Facts:
    watch = core.state.watches.get(record.probe)
    facts = facts_of(core, record, {"alarm": record.alarm, "until": core.at})
    newest = watch.accepted_milli if watch is not None else None
    hand = core.state.hands.get(record.probe)
    if hand is not None:
        newest = None if record.values.get("taken_back") else hand.milli
    elif (
        CATALOG[record.alarm].unheard
        or (watch is not None and watch.silent)
        or not speaks_for_place(core, record.probe)
        or core.place_of(record.probe) != record.place
    ):
        newest = None
    if record.values.get("left") or record.values.get("moved_to"):
        newest = milli(record.values.get("value"))
    elif newest is not None and _beyond(record, newest):
        newest = None  # it ended by something else than a number
    limit = facts.limit_milli if newest is not None else None
    return replace(facts, value_milli=newest, limit_milli=limit, trend_milli_k_per_h=None)
