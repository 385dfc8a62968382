"""The facts about an alarm from which its words are written, taken from its record and from the engine's state."""

from dataclasses import replace

from monitor.alarms import AlarmRecord
from monitor.bins import BinState, Newest
from monitor.engine.context.air_highs import highest
from monitor.engine.context.batch_runs import lost_by_break, progress_now, rule_of
from monitor.engine.context.core import Core
from monitor.engine.context.current_values import beyond, is_old, outlived_by, speaks_for_place
from monitor.engine.context.places import Places
from monitor.engine.context.read_spots import last_read, spots_at
from monitor.model.alarm_kinds import CATALOG, HEAP_HEAT, Alarm, WrongSide
from monitor.model.readings import is_hand
from monitor.model.units import Quantity
from monitor.model.work import WorkKind
from monitor.notices import (
    BLANK,
    Ending,
    Facts,
    InBin,
    Message,
    Outside,
    Progress,
    Rounds,
    Stale,
    compose_kept,
)
from monitor.piles import WALK_ALARMS


def facts_of(core: Places, record: AlarmRecord, until: int | None = None) -> Facts:
    """Return the facts about an alarm now.

    Args:
        core: The engine's state and settings.
        record: The alarm's record.
        until: When the alarm ended, UTC ms; None while it is on.
    """
    record = _as_said(core, record)
    kind, values, run = CATALOG[record.alarm], record.values, core.run_at(record.place)
    quantity = _quantity(core, record)
    rule = rule_of(run) if run is not None and record.alarm in HEAP_HEAT else None
    facts = Facts(
        place=record.place,
        probe=record.probe,
        value_milli=values.value_milli,
        limit_milli=values.limit_milli,
        since=record.limit_since,
        now=core.true_now,
        trend_milli_k_per_h=None
        if kind.unheard or quantity is not Quantity.TEMPERATURE
        else _trend(core, record.place, record.probe),
        quantity=quantity,
        variant=values.variant,
        other_milli=values.other_milli,
        rule=values.rule,
        progress=Progress.of(values.progress),
        upper_milli=rule.live.limits.high_milli_c if rule is not None else None,
        last_turned=run.walk.turned_at if run is not None and record.alarm == Alarm.TURNING_DUE else None,
        rounds=_rounds(core, record.place) if record.on and record.alarm == Alarm.ROUND_DUE else None,
        moved_from=values.moved_from,
        empty=kind.unheard and core.was_cleared(record.place),
        bed=_in_bin(core, record),
        fault=values.fault,
        clock=values.clock,
        ending=Ending() if until is None else _ending(record, until),
    )
    if record.on and record.alarm in WALK_ALARMS:
        facts = _of_heap(core, record, facts)
    if record.on and not kind.unheard:
        turned = _turned_since(core, record)
        read = facts.read_at if turned is None else _told_at(core, record)
        facts = replace(facts, stale=_staleness(core, record), turned_at=turned, read_at=read)
    return facts


def _ending(record: AlarmRecord, until: int) -> Ending:
    values = record.values
    return Ending(
        alarm=record.alarm,
        until=until,
        taken_back=values.taken_back,
        moved_to=values.moved_to,
        left=values.left,
    )


def _in_bin(core: Places, record: AlarmRecord) -> InBin:
    """Return further facts about the bin of an alarm."""
    bed, values = core.state.bins.get(record.place), record.values
    return InBin(
        fed_at=bed.fed_at if bed is not None else None,
        air_high_milli=highest(core.state.air_highs, core.at) if bed is not None else None,
        coolest_milli=values.coolest_milli,
        hottest_milli=values.hottest_milli,
        by_all=values.by == "all",
    )


def _of_heap(core: Places, record: AlarmRecord, facts: Facts) -> Facts:
    """Return the facts of a heap's alarm with the heap's present values.

    An alarm that is told again days later must not repeat the temperatures and progress of its first day.
    """
    coldest, hottest = _ends(core, record.place)
    if record.alarm == Alarm.COLD_CORNER:
        other = facts.other_milli if hottest is None or facts.other_milli is None else hottest
        return replace(facts, value_milli=_now(core, record, facts.value_milli), other_milli=other)
    at_coldest = record.alarm == Alarm.TURNING_DUE and not facts.variant
    newest = coldest if at_coldest else hottest
    facts = replace(facts, value_milli=facts.value_milli if newest is None else newest)
    run = core.run_at(record.place)
    if run is None or record.alarm not in (Alarm.TURNING_DUE, Alarm.COOLED_UNMET):
        return facts
    if (progress := progress_now(run)) is not None:
        facts = replace(facts, progress=Progress.of({**record.values.progress, **progress.values}))
    facts = replace(facts, outside=outside(core, record.place))
    if not core.cores_of(record.place) and (last := last_read(core.state.hands, record.place)) is not None:
        facts = replace(facts, read_at=last.time, value_milli=last.low if at_coldest else last.high)
    return facts


def _rounds(core: Places, place: str) -> Rounds | None:
    """Return the rounds that prove a heap's rule and the progress that a broken chain would cost; None without such rounds."""
    chain, run = core.state.chains.get(place), core.run_at(place)
    if chain is None or run is None:
        return None
    days, hours = lost_by_break(run)
    return Rounds(
        last=chain.last,
        due=chain.due,
        breaks=chain.breaks,
        lost_days=days,
        lost_run=hours,
        # A heap that recovers from a turning may leave more of a day unproven.
        recovers=run.walk.recovering,
    )


def outside(core: Places, place: str) -> Outside:
    """Return which core probes of a heap lie outside and which are in it; empty unless there are both."""
    cores = core.cores_of(place)
    out = tuple(probe for probe in cores if not core.in_service(probe))
    return (
        Outside(out=out, rest=tuple(p for p in cores if p not in out)) if out and len(out) < len(cores) else Outside()
    )


def _quantity(core: Places, record: AlarmRecord) -> Quantity:
    """Return the quantity of an alarm's number: the probe's own where the alarm is about the probe."""
    probe = core.all_probes().get(record.probe)
    if CATALOG[record.alarm].unheard and probe is not None:
        return probe.quantity
    return CATALOG[record.alarm].quantity


def _trend(core: Places, place: str, probe: str) -> int | None:
    """Return a probe's trend (thousandths of a kelvin an hour), or None unless all of it was measured in the place."""
    outing, watch = core.state.outings.get(probe), core.state.watches.get(probe)
    if watch is None or core.place_of(probe) != place:
        return None
    if outing is not None and (
        outing.accepted_from is None or (watch.trail and watch.trail[0][0] < outing.accepted_from)
    ):
        return None
    return watch.trend()


def _newest_of(bed: BinState, record: AlarmRecord) -> dict[str, Newest]:
    """Return the newest values of the alarm's quantity, by series."""
    return bed.moistures if CATALOG[record.alarm].quantity is Quantity.MOISTURE else bed.temperatures


def _stale_at(core: Places, record: AlarmRecord) -> int | None:
    """Return when the probes behind an alarm were last heard (UTC ms) if all of them are silent now; else None."""
    place, bed = record.place, core.state.bins.get(record.place)
    if bed is not None:
        newest = _newest_of(bed, record)
        known = [(one.time, one.silent or is_old(core, name)) for name, one in newest.items()]
    elif record.alarm in HEAP_HEAT and (danger := core.state.dangers.get(place)) is not None:
        lost = [name for name, watch in core.state.watches.items() if watch.lost]
        quiet = {*danger.silent, *lost}
        known = [(core.measured_at(place, name), name in quiet or is_old(core, name)) for name in danger.newest]
    elif record.alarm in WALK_ALARMS:
        watches = {probe: core.state.watches.get(probe) for probe in core.cores_of(place)}
        known = [
            (w.accepted_time, w.silent or w.lost or is_old(core, probe))
            for probe, w in watches.items()
            if w is not None and w.accepted_time is not None
        ]
    else:
        return None
    return max(time for time, _ in known) if known and all(silent for _, silent in known) else None


def _own_stale_at(core: Places, record: AlarmRecord) -> int | None:
    """Return when the probe whose number an alarm tells was last heard (UTC ms) if it is silent; else None."""
    bed, danger = core.state.bins.get(record.place), core.state.dangers.get(record.place)
    if bed is not None:
        newest = _newest_of(bed, record).get(record.probe)
        return newest.time if newest is not None and (newest.silent or is_old(core, record.probe)) else None
    if record.alarm in HEAP_HEAT and danger is not None and record.probe in danger.newest:
        watch = core.state.watches.get(record.probe)
        quiet = record.probe in danger.silent or is_old(core, record.probe) or (watch is not None and watch.lost)
        return core.measured_at(record.place, record.probe) if quiet else None
    return None


def _staleness(core: Places, record: AlarmRecord) -> Stale | None:
    """Return since when the probes behind an alarm are silent or outside, or None while they speak."""
    at, alone = _stale_at(core, record), False
    if at is None and (heard := _own_stale_at(core, record)) is not None:
        at, alone = heard, True
    if at is None:
        return None
    lies = _lies_outside(core, record, alone=alone)
    # The probe may still speak at the place where it was left, about another heap.
    moved = not lies and not alone and record.alarm in HEAP_HEAT and record.probe in core.settings.probes
    elsewhere = moved and core.place_of(record.probe) != record.place
    read_at, read_milli = _read_since(core, record, at)
    return Stale(
        at=at,
        others_speak=alone,
        outside=lies,
        elsewhere=elsewhere,
        read_at=read_at,
        read_milli=read_milli,
        outlived=outlived_by(core, record) is not None,
    )


def _read_since(core: Places, record: AlarmRecord, at: int) -> tuple[int | None, int | None]:
    """Return when a place was last read by hand and what that showed, if it was after an instant and still counts."""
    last = last_read(core.state.hands, record.place)
    by_walk = record.alarm in WALK_ALARMS
    if (
        last is None
        or (is_hand(record.probe) and not by_walk)
        or CATALOG[record.alarm].quantity is not Quantity.TEMPERATURE
    ):
        return None, None
    counts = any(one.held_until > core.at for one in spots_at(core.state.hands, record.place, held=True).values())
    if not counts or last.time <= at:
        return None, None
    return last.time, last.high if CATALOG[record.alarm].side is WrongSide.ABOVE else last.low


def _lies_outside(core: Places, record: AlarmRecord, *, alone: bool) -> bool:
    """Return whether the probe that an alarm names (`alone`), or every probe of the place, lies outside."""
    quantity = _quantity(core, record)
    names = [record.probe] if alone else [p for p, one in core.probes_of(record.place) if one.quantity is quantity]
    outings = [core.state.outings.get(name) for name in names]
    return bool(outings) and all(one is not None and one.out is not None for one in outings)


def _as_said(core: Places, record: AlarmRecord) -> AlarmRecord:
    """Return an alarm with the probe and value that hold it open now: the probe that rang it may have fallen silent.

    The record itself stays as it is; the next reading changes it.
    """
    if not record.on or _own_stale_at(core, record) is None:
        return record
    bed = core.state.bins.get(record.place)
    if bed is not None:
        newest = _newest_of(bed, record)
        for signal in core.bed(record.place).standing(CATALOG[record.alarm].quantity):
            if signal.alarm != record.alarm or signal.probe not in newest:
                continue
            if not newest[signal.probe].silent and not is_old(core, signal.probe):
                return replace(record, probe=signal.probe, values=signal.values)
        return record
    danger, limit = core.state.dangers[record.place], record.values.limit_milli
    lost = {name for name, watch in core.state.watches.items() if watch.lost}
    quiet = {*danger.silent, *lost}
    said = {name: value for name, value in danger.newest.items() if name not in quiet and not is_old(core, name)}
    probe = max(said, key=lambda name: (said[name], name), default="")
    pile = core.pile(record.place)
    if not probe or pile is None or limit is None or said[probe] < limit - pile.thresholds.deadband_milli_k:
        return record
    return replace(record, probe=probe, values=record.values._replace(value_milli=said[probe]))


def _told_at(core: Places, record: AlarmRecord) -> int:
    """Return the time of the reading whose number an alarm of heat tells, UTC ms."""
    return max(record.last, core.measured_at(record.place, record.probe))


def _turned_since(core: Places, record: AlarmRecord) -> int | None:
    """Return when a heap was turned after its hot reading (UTC ms) if nothing was read since; else None."""
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
    """Return the lowest and highest last value (thousandths of °C) of the core probes that are in and speak."""
    inside = [probe for probe in core.cores_of(place) if speaks_for_place(core, probe) and not is_old(core, probe)]
    watches = [core.state.watches.get(probe) for probe in inside]
    known = [w.accepted_milli for w in watches if w is not None and not w.silent and w.accepted_milli is not None]
    return min(known, default=None), max(known, default=None)


def _now(core: Places, record: AlarmRecord, otherwise: int | None) -> int | None:
    """Return the last value of the probe that an alarm names if it still speaks for its place; else `otherwise`."""
    watch = core.state.watches.get(record.probe)
    if watch is None or watch.silent or is_old(core, record.probe) or not speaks_for_place(core, record.probe):
        return otherwise
    return watch.accepted_milli if watch.accepted_milli is not None else otherwise


def written(core: Core, notice: str, facts: Facts) -> Message:
    """Return the words of a notice, an alarm or a line of the digest, with instants as marks (`notices.instants`).

    Args:
        core: The engine's ports.
        notice: The id.
        facts: The facts to put into words.

    Returns:
        The words; `BLANK` if the engine writes none.
    """
    return core.audience.read(lambda: compose_kept(notice, facts, core.settings), BLANK)


def words_for(core: Core, record: AlarmRecord) -> Message:
    """Return the words of an alarm as it stands now, with instants as marks."""
    return core.audience.read(lambda: compose_kept(record.alarm, facts_of(core, record), core.settings), BLANK)


def past_words(core: Core, record: AlarmRecord) -> Message:
    """Return the words of an excursion that is already over."""
    return core.audience.read(lambda: compose_kept("past", past_facts(core, record), core.settings), BLANK)


def past_facts(core: Places, record: AlarmRecord) -> Facts:
    """Return the facts of an excursion that is already over."""
    return facts_of(core, record, until=record.last)


def over_words(core: Core, record: AlarmRecord) -> Message:
    """Return the words for the end of an alarm's condition, with the newest known number."""
    return core.audience.read(lambda: compose_kept("over", _over_facts(core, record), core.settings), BLANK)


def _over_facts(core: Places, record: AlarmRecord) -> Facts:
    watch = core.state.watches.get(record.probe)
    facts = facts_of(core, record, until=core.at)
    newest = watch.accepted_milli if watch is not None else None
    hand = core.state.hands.get(record.probe)
    if hand is not None:
        newest = None if record.values.taken_back else hand.milli
    elif (
        CATALOG[record.alarm].unheard
        or (watch is not None and watch.silent)
        or is_old(core, record.probe)
        or not speaks_for_place(core, record.probe)
        or core.place_of(record.probe) != record.place
    ):
        newest = None
    if record.values.left or record.values.moved_to:
        newest = record.values.value_milli
    elif newest is not None and facts.limit_milli is not None and beyond(record.alarm, facts.limit_milli, newest):
        newest = None  # the alarm ended for another reason than its number
    limit = facts.limit_milli if newest is not None else None
    return replace(facts, value_milli=newest, limit_milli=limit, trend_milli_k_per_h=None)
