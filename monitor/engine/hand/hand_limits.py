"""Readings taken by hand: every limit applies to each of them at once.

1. Each spot of a place is a series of its own. Its newest reading begins and ends alarms as a probe's does, with delays
   counted from its own time; it ends only alarms that a reading of that spot raised.
2. If it is the newest of its spot and at most `hand_late` old, it counts as on time, and its alarms ring for as long as it is
   held. An older reading enters the record; fire heat, or a heat dangerous to worms, is still told at once, in the past tense.
3. A value is held for `hand_gap` (in a bin for less in summer); then the axis is `unknown`, which ends no alarm. A hand series
   is never silent, broken, spiking, flat or out.
4. A value above the highest that the record believes (`gross_high`) proves nothing, but rings: a heap may burn.
5. A reading that is taken back leaves the one before it, if that is still held. The alarms that it alone raised are over, and
   everybody who was told of them is told that it was mistyped.
"""

from collections.abc import Mapping, Sequence
from typing import Any

from monitor.alarms import Signal
from monitor.conditioning import flag_by_hand
from monitor.engine.batches.moved_danger import read_anew, unsay_brought
from monitor.engine.batches.pile_readings import follow_rounds, touch_hand
from monitor.engine.context.agenda import Deadline, DueKind
from monitor.engine.context.core import Core
from monitor.engine.context.places import Places
from monitor.engine.context.read_spots import HandSpot, hand_gap_ms, spots_at
from monitor.engine.context.signals import Signals
from monitor.engine.output.alarm_notices import tell_once
from monitor.engine.output.differing_readings import facts_of_apart, forget_apart, remember_apart
from monitor.engine.output.place_conditions import bed_changes, danger_signals
from monitor.model.alarm_kinds import CATALOG, Alarm, WrongSide
from monitor.model.flags import ACCEPTED, Flag, FlagReason, Verdict
from monitor.model.hand_words import MOST_MILLI_C
from monitor.model.readings import Reading, names_spot
from monitor.model.units import Quantity
from monitor.model.words import AlarmState, Priority
from monitor.notices import Ending, Facts
from monitor.piles import ROUND_MS


def take_by_hand(core: Core, readings: Sequence[Reading], payload: Mapping[str, Any]) -> None:
    """Take in the readings by hand of an event.

    Args:
        core: The engine's ports.
        readings: The readings, ordered by (time, series).
        payload: The event's payload, which says who read them (`by`).
    """
    by = str(payload.get("by", ""))
    fresh: dict[str, list[Verdict]] = {}
    heaps: dict[str, list[Verdict]] = {}
    for reading in readings:
        where = core.settings.place_of_hand(reading.probe)
        verdict = flag_by_hand(reading, core.settings.probe_thresholds)
        core.verdicts.append(verdict)
        proves = verdict.flag in ACCEPTED
        if where is None or not _rings(core, verdict):
            continue
        place, spot = where
        known = core.state.hands.get(reading.probe)
        newest = known is None or known.time < reading.time
        in_time = newest and core.true_now - reading.time <= core.settings.probe_thresholds.hand_late_ms
        if newest and not _may_be_elsewhere(core, known, verdict):
            until = reading.time + hand_gap_ms(core.settings, place, reading.time)
            core.state.hands[reading.probe] = HandSpot(
                place, spot, reading.time, verdict.milli, core.at, by, in_time, until, until > core.at
            )
            _judge(core, place, verdict, late=not in_time)
        if place in core.settings.piles and proves:
            heaps.setdefault(place, []).append(verdict)
        if not in_time:
            _tell_late(core, place, verdict)
        elif proves:
            fresh.setdefault(place, []).append(verdict)
    for place, verdicts in heaps.items():
        follow_rounds(core, place, verdicts)
    for place, verdicts in fresh.items():
        _compare(core, place, verdicts)


def _rings(core: Places, verdict: Verdict) -> bool:
    """Return whether a value is checked against limits: even one too hot for the record to believe may be a fire."""
    high = core.settings.probe_thresholds.gross_high_milli_c
    burns = verdict.reason is FlagReason.GROSS_RANGE and high < verdict.milli <= MOST_MILLI_C
    return verdict.flag in ACCEPTED or burns


def import_by_hand(core: Core, readings: Sequence[Reading], by: str = "") -> None:
    """Take imported readings by hand into the record: they start no alarm, and their batches are worked out again.

    Args:
        core: The engine's ports.
        readings: The readings, ordered by (time, series).
        by: Who read them, "" if nobody said.
    """
    for reading in readings:
        where = core.settings.place_of_hand(reading.probe)
        verdict = flag_by_hand(reading, core.settings.probe_thresholds)
        if where is None or verdict.flag not in ACCEPTED:
            continue
        known = core.state.hands.get(reading.probe)
        if known is None or (known.time < reading.time and not known.held):
            core.state.hands[reading.probe] = HandSpot(
                *where, reading.time, verdict.milli, core.at, by, on_time=False, held=False
            )
        if where[0] in core.settings.piles:
            touch_hand(core, where[0], reading.time)


def serve_hand(core: Core, place: str) -> None:
    """Stop holding the values of a place that are too old."""
    for series, one in spots_at(core.state.hands, place, held=True).items():
        if one.held_until <= core.at:
            one.held = False
            forget_apart(core, place, series)
            _let_go(core, place, series)
    _wait(core, place)


def withdraw(core: Core, reading: Mapping[str, Any]) -> None:
    """Take a reading back: it stays in the record with a flag, and no longer counts."""
    series, time = str(reading["probe"]), int(reading["time"])
    core.verdicts.append(Verdict(time, series, 0, Flag.FAIL, FlagReason.WITHDRAWN))
    gone = core.state.withdrawn.setdefault(series, [])
    if time not in gone:
        gone.append(time)
    where, known = core.settings.place_of_hand(series), core.state.hands.get(series)
    place = where[0] if where is not None else known.place if known is not None else ""
    if place not in core.settings.bins:
        touch_hand(core, place, time)
    if known is None or known.time != time:
        return
    if where is None:
        _withdraw_unseen(core, series, known)
        return
    _unsay(core, place, series)
    moves = len(core.moves)
    unsay_brought(core, series, time)
    forget_apart(core, place, series)
    standing = [key for key, record in core.state.alarms.items() if record.place == place and record.on]
    before = _standing_before(core, series, time)
    if before is None:
        del core.state.hands[series]
        _forget(core, place, series)
    else:
        until = before.time + hand_gap_ms(core.settings, place, before.time)
        core.state.hands[series] = HandSpot(
            place, known.spot, before.time, before.milli, core.at, "", known.on_time, until, until > core.at
        )
        _judge(core, place, before, late=not known.on_time)
    for key in standing:
        record = core.state.alarms[key]
        if not record.on and record.state is AlarmState.SHELVED:
            # People who put the alarm off should hear at once that it was a mistake.
            core.moves += core.alarms.answer(core.at, key, Signal.TAKEN_UP) or ()
    for move in core.moves[moves:]:
        move.record.values = move.record.values._replace(taken_back=True)
    _wait(core, place)


def _withdraw_unseen(core: Core, series: str, known: HandSpot) -> None:
    """Take back the newest reading of a spot whose place has left the settings: it will not count when that is back."""
    before = _standing_before(core, series, known.time)
    if before is None:
        del core.state.hands[series]
    else:
        known.held_until += before.time - known.time
        known.time, known.milli, known.at, known.by = before.time, before.milli, core.at, ""


def _may_be_elsewhere(core: Places, known: HandSpot | None, verdict: Verdict) -> bool:
    """Return whether a reading without a named spot would end an alarm that another of the same hour raised.

    It may be another spot's, so the earlier reading stands until it is taken back or the place is read after that hour.
    """
    if known is None or names_spot(verdict.probe) or verdict.time > known.time + ROUND_MS:
        return False
    lower = verdict.milli < known.milli
    raised = WrongSide.ABOVE if lower else WrongSide.BELOW
    return any(
        record.on
        and record.place == known.place
        and record.probe == verdict.probe
        and CATALOG[record.alarm].side is raised
        for record in core.state.alarms.values()
    )


def _judge(core: Core, place: str, verdict: Verdict, *, late: bool) -> None:
    """Check a value that is the newest of its spot against the limits of its place."""
    time, series, milli, _, _ = verdict
    if place in core.settings.bins:
        bed = core.bed(place)
        if bed.state.emptied_at is not None and time >= bed.state.emptied_at:
            return
        bed_changes(core, place, bed.reading(series, Quantity.TEMPERATURE, time, milli, late))
    else:
        danger = core.danger(place)
        empty = core.run_at(place) is None
        read_anew(core, place, series, time)
        danger_signals(core, place, danger, danger.accepted(series, time, milli, late, only_fire=empty))
    if not core.state.hands[series].held:
        _let_go(core, place, series)
    _wait(core, place)


def judge_again(core: Core, place: str, since: int) -> None:
    """Check the held readings by hand of a bin against its limits, now that the bin turned out not to be empty.

    Args:
        core: The engine's ports.
        place: The bin.
        since: Only readings from this instant (UTC ms) on are checked.
    """
    for series, one in spots_at(core.state.hands, place, held=True).items():
        if one.time >= since and one.held_until > core.at:
            verdict = Verdict(one.time, series, one.milli, Flag.PASS, FlagReason.NONE)
            _judge(core, place, verdict, late=not one.on_time)


def hold_again(core: Core, place: str, since: int) -> None:
    """Hold the readings by hand of a place again, now that it is watched again, or that its heap lies there after all.

    Args:
        core: The engine's ports.
        place: Pile or bin.
        since: Only readings from this instant (UTC ms) on are held.
    """
    for series, one in spots_at(core.state.hands, place).items():
        if not one.held and one.time >= since and one.held_until > core.at:
            one.held = True
            verdict = Verdict(one.time, series, one.milli, Flag.PASS, FlagReason.NONE)
            _judge(core, place, verdict, late=not one.on_time)


def _let_go(core: Core, place: str, series: str) -> None:
    """Let a value count as a silent probe's; it is kept only while it holds an alarm open."""
    if place in core.settings.bins:
        bed = core.bed(place)
        bed_changes(core, place, bed.silent(series, core.at))
        if not bed.holds_open():
            bed_changes(core, place, bed.forget(series, core.at))
    else:
        danger = core.danger(place)
        danger.silent(series)
        danger_signals(core, place, danger, [] if danger.state.open else danger.forget(series))


def _forget(core: Core, place: str, series: str) -> None:
    if place in core.settings.bins:
        bed_changes(core, place, core.bed(place).forget(series, core.at))
    else:
        danger_signals(core, place, core.danger(place), core.danger(place).forget(series))


def _unsay(core: Places, place: str, series: str) -> None:
    """Cancel the alarms of a reading that was taken back that have not been told yet."""
    for record in core.state.alarms.values():
        if record.place == place and record.probe == series and record.latent:
            record.on = record.latent = False


def _standing_before(core: Core, series: str, time: int) -> Verdict | None:
    """Return the newest reading of a spot that was not taken back, other than that of an instant (UTC ms); else None."""
    if core.history is None:
        return None
    gone, found = core.state.withdrawn.get(series, []), None
    for reading in core.history.readings([series], 0, core.at):
        verdict = flag_by_hand(reading, core.settings.probe_thresholds)
        if reading.time not in (*gone, time) and _rings(core, verdict):
            found = verdict
    return found


def _tell_late(core: Core, place: str, verdict: Verdict) -> None:
    """Tell of a danger that was read a while ago and logged only now."""
    pile = core.settings.piles.get(place)
    if pile is not None:
        alarm, limit = Alarm.FIRE, pile.thresholds.fire_milli_c
        beyond = verdict.milli >= limit
    else:
        alarm, limit = Alarm.WORMS_IN_DANGER, core.settings.bins[place].thresholds.danger_any_milli_c
        beyond = verdict.milli > limit
    if not beyond:
        return
    facts = Facts(
        place=place, probe=verdict.probe, value_milli=verdict.milli, limit_milli=limit, since=verdict.time, now=core.at,
        ending=Ending(alarm=alarm.value),
    )  # fmt: skip
    tell_once(core, "read-late", facts, key=f"{place}/{alarm}", priority=Priority.HIGHEST, wakes=True)


def _compare(core: Core, place: str, verdicts: list[Verdict]) -> None:
    """Ask for a look at the nearest probe if all probes of the place differ from the readings by hand."""
    known = remember_apart(core, place, verdicts)
    if known is not None:
        facts = facts_of_apart(core, place, known)
        tell_once(core, "apart", facts, key=f"{place}/apart", priority=Priority.LOW)


def _wait(core: Signals, place: str) -> None:
    dues = [one.held_until for one in spots_at(core.state.hands, place, held=True).values()]
    core.wait(Deadline(place, DueKind.HAND), min(dues, default=None))
