"""Things that fall due by the engine's own memory: turnings, readings by hand, water, and what follows a heap's heat.

Decides nothing: it is asked by the diary, by *before you go* and by the digest.
"""

from collections.abc import Iterator
from zoneinfo import ZoneInfo

from monitor.diary import (
    Due,
    RuleAhead,
    WantedTurnings,
    What,
    after_ready,
    cooled_due,
    hot_due,
    keep_off,
    read_due,
    ready_expected,
    rule_expected,
    turn_due,
)
from monitor.engine.context.batch_runs import BatchRun, progress_now
from monitor.engine.context.core import Core
from monitor.engine.context.places import Places
from monitor.engine.context.read_spots import spots_at
from monitor.engine.output.unwatched_places import places_watched
from monitor.engine.output.wrong_damp import wrong_damp
from monitor.model.alarm_kinds import SHUT, Alarm, alarm_key, alarm_name
from monitor.model.progress import RuleProgress
from monitor.model.times import DAY_MS
from monitor.model.units import show_temperature
from monitor.model.words import Method, Phase, RuleState
from monitor.model.work import WorkKind
from monitor.notices import say_date_time
from monitor.piles import ready_from

_TELLS = {
    What.TURN: (Alarm.TURNING_DUE, Alarm.HOT),
    What.READ: (Alarm.ROUND_DUE,),
    What.WATER: (Alarm.TOO_DRY,),
    What.BEDDING: (Alarm.TOO_WET,),
}
"""The alarms that ask for a thing of the diary."""


def falling_due(core: Core, at: int) -> list[Due]:
    """Return all that falls due by the engine's own memory, in no order.

    Args:
        core: The engine's ports.
        at: The instant of the look, UTC ms.
    """
    core.at = max(core.at, at)
    shut = _shut(core)
    found = list(shut.values())
    for run in core.state.runs.values():
        place = core.pile_of(run)
        if place in core.settings.piles and place not in shut and core.state.batches.lying.get(place) == run.batch:
            found += _heap(core, run, place, at)
    found += [one for one in (*_readings(core, at), *wrong_damp(core)) if one.place not in shut]
    return found


def waiting_for_turnings(core: Places) -> list[str]:
    """Return the piles whose next turning depends on how far their record is known; all else changes only with an effect."""
    return [
        core.pile_of(run)
        for run in core.state.runs.values()
        if run.method is Method.TURNED and (run.walk.progress is None or run.walk.progress.wants_turnings)
    ]


def told_by_alarm(core: Core, one: Due) -> bool:
    """Return whether an alarm that is on says the same as a thing of the diary."""
    alarms = _TELLS.get(one.what, ())
    found = (core.state.alarms.get(alarm_key(one.place, alarm)) for alarm in alarms)
    return one.forbids or any(record is not None and record.on for record in found)


def _shut(core: Core) -> dict[str, Due]:
    """Return the heaps that nobody should open, each with the worst of the alarms that say so."""
    found: dict[str, Due] = {}
    on = [
        one for one in core.state.alarms.values() if one.on and one.alarm in SHUT and one.place in core.settings.piles
    ]
    for one in sorted(on, key=lambda one: (one.alarm != Alarm.FIRE, one.since)):
        found.setdefault(one.place, keep_off(one.place, alarm_name(one.alarm), one.since))
    return found


def _heap(core: Core, run: BatchRun, place: str, at: int) -> Iterator[Due]:
    limits, walk = core.thresholds_of(run), run.walk
    progress = progress_now(run)
    turning = _turning(core, run, place, at, progress)
    if turning is not None:
        yield turning
    if run.rule is RuleState.RUNNING and progress is not None:
        expected = rule_expected(_ahead(run, place, progress, turning, (at, limits.hand_gap_ms)))
        if expected is not None and expected.due_ms > at:
            yield expected
    since = ready_from(walk, limits)
    if walk.shown_phase is Phase.COOLING:
        raw = walk.built if walk.raw_at is None else walk.raw_at
        if since is not None and since > at:
            yield ready_expected(place, run.batch, since, None)
        elif since is None and raw + limits.ready_age_ms > at + limits.ready_dwell_ms:
            yield ready_expected(place, run.batch, raw + limits.ready_age_ms, limits.ready_age_ms)
    elif walk.shown_phase is Phase.READY and since is not None:
        tried = any(one.work.place == place and one.work.kind is WorkKind.SAMPLED and one.work.time >= since
                    for one in core.state.works)  # fmt: skip
        yield from after_ready(place, run.batch, since, tried=tried)


def _turning(core: Core, run: BatchRun, place: str, at: int, progress: RuleProgress | None) -> Due | None:
    limits, walk = core.thresholds_of(run), run.walk
    if run.method is not Method.TURNED:
        return None
    hot = core.state.alarms.get(alarm_key(place, Alarm.HOT))
    if hot is not None and hot.on:
        return hot_due(place, hot.since, show_temperature(limits.hot_milli_c, core.settings.site.temperature_unit))
    if walk.gone_cold and (since := walk.alarms.get(Alarm.TURNING_DUE)) is not None:
        return cooled_due(place, since)
    if progress is None or not progress.wants_turnings or walk.first_hold is None:
        return None
    wanted = WantedTurnings(
        place=place,
        batch=run.batch,
        last=max(walk.first_hold, walk.turned_at or 0),
        turnings=progress.turnings_left,
        days=progress.days_left,
        apart_ms=progress.turnings_apart_ms,
        every_ms=limits.turning_every_ms,
        planned_ms=walk.plan.at,
    )
    return turn_due(wanted, at)


def _ahead(run: BatchRun, place: str, progress: RuleProgress, turning: Due | None, look: tuple[int, int]) -> RuleAhead:
    """Return the course ahead of a rule; `look` is the instant of the look, and the longest gap that proves anything, ms."""
    values, wanted, (at, gap_ms) = progress.values, None, look
    if progress.wants_turnings and turning is not None:
        wanted = max(turning.due_ms, at) + (progress.turnings_left - 1) * (progress.turnings_apart_ms or DAY_MS)
    done = [
        f"{min(count, values[f'{what}_needed'])} of {values[f'{what}_needed']} {what}"
        for what, count in values.items()
        if f"{what}_needed" in values
    ]
    return RuleAhead(
        place=place,
        batch=run.batch,
        # What nobody has measured for longer than a round may be late proves no day any more.
        known_ms=run.walk.now if at - run.walk.now <= gap_ms else at,
        days=progress.days_left,
        look_again=progress.look_again,
        turning_ms=wanted,
        done=", ".join(done),
    )


def _readings(core: Core, at: int) -> Iterator[Due]:
    zone = ZoneInfo(core.settings.site.time_zone)
    for watch in places_watched(core):
        spots = spots_at(core.state.hands, watch.place).values()
        batch = core.state.batches.lying.get(watch.place)
        begun = core.state.batches.batches[batch].built if batch is not None else None
        held = max((one.held_until for one in spots), default=None)
        found = read_due(watch, held, begun, at, lambda when: say_date_time(when, at, zone))
        if found is not None:
            yield found
