"""The effects, alarms and notices that a batch's walk causes, and the one change that a rework may tell."""

from collections.abc import Mapping
from dataclasses import replace

from monitor.engine.context.batch_runs import BatchRun, hold_milli, progress_now
from monitor.engine.context.core import Core, with_batch
from monitor.engine.context.places import Places
from monitor.engine.context.read_spots import last_read
from monitor.engine.context.signals import Signals
from monitor.engine.output.alarm_facts import outside, written
from monitor.engine.output.alarm_notices import mute, note_line, tell_once
from monitor.engine.probes.silence_alarms import rearm
from monitor.model.alarm_kinds import Alarm, alarm_key
from monitor.model.alarm_values import AlarmValues
from monitor.model.effects import Draft, EffectKind
from monitor.model.readings import hand_series, is_hand
from monitor.model.settings import AMBIENT
from monitor.model.times import HOUR_MS
from monitor.model.units import Quantity
from monitor.model.words import PHASE_SHOWN, Phase, Priority, RuleState
from monitor.notices import Facts, Progress
from monitor.piles import (
    COLDEST,
    ON,
    ROUND_LINES,
    WALK_ALARMS,
    ChangeKind,
    Reason,
    WalkChange,
)

FRESH_MS = 2 * HOUR_MS
RECORD_CHANGED = "record changed"

_PHASE_WHY = {
    Reason.BUILT: "built",
    Reason.HELD: "its coldest probe was at or above the hold temperature for 60 min",
    Reason.HELD_AGAIN: "its coldest probe is back at or above the hold temperature",
    Reason.LOST: "its coldest probe was below the hold temperature for 60 min while its hottest was not",
    Reason.COOLED: "its hottest probe stayed below the hold temperature",
    Reason.GAVE_UP: "it never held, and its hottest probe has stayed below 40 °C for a day",
    Reason.REKINDLED: "its hottest probe was back at the hold temperature with the rule unmet",
    Reason.COOL_ENOUGH: "its hottest probe has stayed cool enough for worms",
    Reason.RAW_ADDED: "raw material came in",
    Reason.WARM_AGAIN: "its hottest probe was warmer again for a day than worms like",
}


def tell_walk(core: Core, run: BatchRun, changes: list[WalkChange]) -> None:
    """Tell the changes of a walk.

    Args:
        core: The engine's ports.
        run: The batch.
        changes: The changes, in order of the record's time.
    """
    for change in _named(core, run, changes):
        if change.kind is ChangeKind.PHASE:
            _phase(core, run, change)
        elif change.kind is ChangeKind.RULE:
            _rule(core, run, change)
        elif change.kind is ChangeKind.ALARM:
            _alarm(core, run, change)
            continue
        if not core.quiet:
            _notice(core, run, change)


def after_rework(core: Core, run: BatchRun, changes: list[WalkChange], phase: Phase | None, told_to: int) -> None:
    """Tell the news that a rework found, and bring the alarms into step with the new record.

    If the part of the record that was examined before still ends in the phase that was told, every later change is told as
    usual: data that always arrive a little out of order must not swallow a notice. Else one change of phase is told.

    Args:
        core: The engine's ports.
        run: The batch, worked out again.
        changes: All its changes since it was built.
        phase: The phase that was told last, or None.
        told_to: The instant up to which the record had been examined, UTC ms.
    """
    changes = _named(core, run, changes)
    phases = [change for change in changes if change.kind is ChangeKind.PHASE]
    known = [change for change in phases if change.since <= told_to]
    if phase is not None and known and known[-1].after == phase:
        fresh = (ChangeKind.PHASE, ChangeKind.REHEATING, ChangeKind.SUGGESTED)
        tell_walk(core, run, [change for change in changes if change.kind in fresh and change.since > told_to])
    elif phases and phases[-1].after != phase:
        _tell_one(core, run, phase, phases[-1])
    _tell_rule(core, run, told_to)
    for alarm in WALK_ALARMS:
        if alarm in run.walk.alarms:
            _begin(core, run, next(one for one in reversed(changes) if one.axis == alarm and one.after == ON))
        else:
            core.ends(core.pile_of(run), alarm)


def refresh_latent(core: Signals, run: BatchRun) -> None:
    """Ring alarms that were too old to tell once the record has come up to the present."""
    place = core.pile_of(run)
    for alarm, since in run.walk.alarms.items():
        record = core.state.alarms.get(alarm_key(place, alarm))
        if record is not None and record.waits:
            core.begins(
                place,
                alarm,
                since=since,
                last=run.walk.now,
                probe=record.probe,
                values=record.values,
                stage=record.stage,
            )


def _named(core: Places, run: BatchRun, changes: list[WalkChange]) -> list[WalkChange]:
    """Name the series read by hand in changes that a round's line decided, since people know of no such lines."""
    if not changes:
        return changes
    series = hand_series(core.pile_of(run))
    return [replace(change, probe=series) if change.probe in ROUND_LINES else change for change in changes]


def _tell_one(core: Core, run: BatchRun, before: Phase | None, last: WalkChange) -> None:
    reason = Reason.BUILT.value if before is None else RECORD_CHANGED
    after = Phase(last.after)
    core.emit(_phase_draft(core, run, before, last, reason))
    if after is Phase.READY and not core.quiet:
        _notice(core, run, last)
    elif after is Phase.HOLDING and "holding" not in run.tellings:
        run.tellings.append("holding")


def _tell_rule(core: Core, run: BatchRun, told_to: int) -> None:
    progress = run.walk.progress
    if progress is not None and run.walk.void_told:
        progress = replace(progress, state=RuleState.NOT_BEGUN, since=run.walk.void_at)
    if progress is None and run.rule in (RuleState.RUNNING, RuleState.MET):
        # The batch's last reading was taken back, so its heat is unknown.
        core.emit(_rule_draft(core, run, run.rule, RuleState.NOT_BEGUN, core.at, RECORD_CHANGED, {}))
        _enter(run, RuleState.NOT_BEGUN)
        _rearm_all(core, core.pile_of(run))
    if progress is None or progress.state is run.rule:
        return
    since = progress.since if progress.since is not None else run.walk.now
    reason = Reason.RULE.value if since > told_to else RECORD_CHANGED
    if progress.state is RuleState.NOT_BEGUN and since in (run.walk.raw_at, run.walk.void_at):
        reason = Reason.RAW_ADDED.value
    core.emit(_rule_draft(core, run, run.rule, progress.state, since, reason, progress.values))
    _enter(run, progress.state)
    _rearm_all(core, core.pile_of(run))
    if progress.state is RuleState.MET and not core.quiet:
        _rule_met(core, run, since, progress.values)


def _phase(core: Core, run: BatchRun, change: WalkChange) -> None:
    before = None if change.before is None else Phase(change.before)
    core.emit(_phase_draft(core, run, before, change, change.reason.value))


def _phase_draft(core: Places, run: BatchRun, before: Phase | None, change: WalkChange, reason: str) -> Draft:
    place, after = core.pile_of(run), Phase(change.after)
    name = core.settings.place_name(place)
    because = next((text for key, text in _PHASE_WHY.items() if key.value == reason), reason)
    if is_hand(change.probe):
        because = because.replace("probe", "spot")
    return Draft(
        place=place,
        kind=EffectKind.PHASE,
        axis="phase",
        before=before.value if before is not None else None,
        after=after.value,
        why=f"{name} is {PHASE_SHOWN[after]}: {because}.",
        since=change.since,
        reason=reason,
        probe=change.probe,
        values=with_batch(change.heat(), run.batch),
    )


def _rule(core: Core, run: BatchRun, change: WalkChange) -> None:
    before, after = RuleState(change.before or RuleState.NOT_BEGUN), RuleState(change.after)
    core.emit(_rule_draft(core, run, before, after, change.since, change.reason.value, change.progress))
    _enter(run, after)
    _rearm_all(core, core.pile_of(run))


def _enter(run: BatchRun, state: RuleState) -> None:
    run.rule = state
    if state is RuleState.NOT_BEGUN and "rule-met" in run.tellings:
        # A rule whose progress is void may be met again, and that is told.
        run.tellings.remove("rule-met")


def _rule_draft(
    core: Places, run: BatchRun, before: RuleState, after: RuleState, since: int, reason: str,
    numbers: Mapping[str, int | float],
) -> Draft:  # fmt: skip
    place = core.pile_of(run)
    return Draft(
        place=place,
        kind=EffectKind.RULE,
        axis=run.rule_id,
        before=before.value,
        after=after.value,
        why=f"{core.settings.place_name(place)}: rule {run.rule_id} is {after.value}.",
        since=since,
        reason=reason,
        values=with_batch({k: v for k, v in numbers.items() if not k.endswith("_c")}, run.batch),
    )


def _rearm_all(core: Signals, place: str) -> None:
    for probe, _ in core.probes_of(place):
        rearm(core, probe)


def _alarm(core: Signals, run: BatchRun, change: WalkChange) -> None:
    if change.after == ON:
        _begin(core, run, change)
    else:
        core.ends(core.pile_of(run), change.axis)


def _begin(core: Signals, run: BatchRun, change: WalkChange) -> None:
    if core.pile(core.pile_of(run)) is None:
        return  # the settings know the pile no longer
    thresholds = core.thresholds_of(run)
    alarm, reason = change.axis, change.reason
    cooled = alarm == Alarm.TURNING_DUE and reason is not Reason.EVERY_FEW_DAYS
    never_hot = alarm == Alarm.STALLED and reason is Reason.NEVER_HOT
    corner, of_rule = alarm == Alarm.COLD_CORNER, alarm in (Alarm.TURNING_DUE, Alarm.COOLED_UNMET)
    at_coldest = corner or (alarm == Alarm.TURNING_DUE and not cooled)
    shown = change.coldest_milli if at_coldest else change.hottest_milli
    limit = thresholds.warm_milli_c if alarm == Alarm.STALLED and not never_hot else hold_milli(run, thresholds)
    progress = progress_now(run) if of_rule else None
    values = AlarmValues(
        variant="no-hold" if never_hot else "cooled" if cooled else "",
        hottest_of_heap_milli=change.hottest_milli if corner else None,
        value_milli=shown,
        limit_milli=None if shown is None else limit,
        rule=run.rule_id if of_rule else "",
        progress={} if progress is None else progress.values,
    )
    # A heap that went cold with its rule unmet is told afresh, even if its turning was due already.
    core.begins(
        core.pile_of(run), alarm, since=change.since, last=run.walk.now, probe=change.probe, values=values,
        stage=int(cooled),
    )  # fmt: skip


def _notice(core: Core, run: BatchRun, change: WalkChange) -> None:
    if change.kind is ChangeKind.RULE:
        if change.after == RuleState.MET:
            _rule_met(core, run, change.since, change.progress)
    elif change.kind is ChangeKind.REHEATING:
        limit = core.thresholds_of(run).warm_milli_c
        _tell(core, run, "reheating", Priority.MEDIUM, _of_change(core, run, change, change.hottest_milli, limit))
    elif change.kind is ChangeKind.SUGGESTED:
        _suggest(core, run, change)
    elif change.after == Phase.HOLDING and "holding" not in run.tellings:
        limit, coldest = hold_milli(run, core.thresholds_of(run)), change.coldest_milli
        if is_hand(change.probe):
            # Between rounds nobody knows whether the heap holds; the newest round may show that it no longer does.
            last = last_read(core.state.hands, core.pile_of(run))
            if last is None or last.low < limit:
                return
            coldest = last.low
        run.tellings.append("holding")
        # Nobody need act on it, so it can wait for the digest.
        _tell(core, run, "holding", Priority.LINE, _of_change(core, run, change, coldest, limit))
    elif change.after == Phase.READY:
        limit = core.thresholds_of(run).ready_milli_c
        air = any(one.quantity is Quantity.TEMPERATURE for _, one in core.probes_of(AMBIENT))
        facts = _of_change(core, run, change, change.hottest_milli, limit)
        facts = replace(facts, rule_met=run.rule is RuleState.MET, no_air=not air)
        _tell(core, run, "ready", Priority.MEDIUM, facts)


def _rule_met(core: Core, run: BatchRun, since: int, numbers: Mapping[str, int | float]) -> None:
    if "rule-met" in run.tellings:
        return
    run.tellings.append("rule-met")
    place = core.pile_of(run)
    facts = Facts(
        place=place,
        since=since,
        now=core.at,
        rule=run.rule_id,
        progress=Progress.of(numbers),
        outside=outside(core, place),
    )
    _tell(core, run, "rule-met", Priority.LOW, facts)


def _of_change(core: Places, run: BatchRun, change: WalkChange, milli: int | None, limit: int) -> Facts:
    """Return the facts of a change, with the value that is told and its limit, thousandths of °C."""
    return Facts(
        place=core.pile_of(run),
        probe=change.probe,
        value_milli=milli,
        limit_milli=limit,
        since=change.since,
        now=core.at,
    )


def _suggest(core: Core, run: BatchRun, change: WalkChange) -> None:
    place = core.pile_of(run)
    until = change.since + core.thresholds_of(run).suggested_mute_ms
    since = change.since if change.fell_at is None else change.fell_at
    facts = Facts(place=place, probe="", value_milli=change.hottest_milli, since=since, now=core.at)
    _tell(core, run, "suggested-turning", Priority.LOW, facts)
    if until > core.at:
        probes = tuple(probe for probe, _ in core.probes_of(place))
        mute(core, place, until, probes=probes)


def _tell(core: Core, run: BatchRun, notice: str, priority: Priority, facts: Facts) -> None:
    # News of long ago is a line of the digest, not a message.
    line = run.walk.lines.get(COLDEST)
    by_hand = line is not None and line.serving and core.in_time_by_hand(facts.place, COLDEST)
    if core.true_now - run.walk.now < FRESH_MS or by_hand:
        tell_once(core, notice, facts, key=f"{facts.place}/{notice}", priority=priority)
    else:
        note_line(core, facts.place, written(core, notice, facts).short)
