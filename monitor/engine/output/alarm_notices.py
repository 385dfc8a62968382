"""The effects and notices that a move of an alarm causes."""

from zoneinfo import ZoneInfo

from monitor.alarms import TOLD_AS, AlarmRecord, Move, Signal, Telling
from monitor.engine.context.agenda import DESK, Deadline, DueKind
from monitor.engine.context.core import Core, with_batch
from monitor.engine.context.current_values import speaks
from monitor.engine.context.read_spots import hand_gap_ms, spots_at
from monitor.engine.context.signals import Signals
from monitor.engine.output.alarm_facts import over_words, past_facts, past_words, words_for, written
from monitor.engine.output.empty_yet_warm import empty_words, warm_though_empty
from monitor.engine.output.unwatched_places import thermometers
from monitor.model.alarm_kinds import CATALOG, alarm_key
from monitor.model.effects import Draft, EffectKind
from monitor.model.times import show_time
from monitor.model.words import AlarmState, Priority
from monitor.notices import Cause, Facts, LineKind, dated, mark


def settle(core: Core) -> None:
    """Tell what happened to alarms while an event or deadline was served: ends first, then alarms that ring."""
    if not core.moves and not core.touched:
        return
    moves, core.moves = core.moves, []
    touched, core.touched = core.touched, []
    for key in dict.fromkeys(touched):
        moves += core.alarms.settle(core.at, key)
    tell_moves(core, moves)


def tell_moves(core: Core, moves: list[Move], *, recorded: bool = False) -> None:
    """Record the moves of alarms as effects, and hand the notice desk those that people should hear of.

    Args:
        core: The engine's ports.
        moves: The moves, in order.
        recorded: Whether the effects are recorded already.
    """
    for move in moves:
        if not recorded:
            record_move(core, move)
        record = move.record
        if move.telling in (Telling.RING, Telling.AGAIN, Telling.WORSE):
            anew = move.telling is Telling.WORSE
            emit_notices(core, core.desk.cause(core.at, cause_of(core, move.key, record), anew=anew))
        elif move.telling is Telling.OVER or (move.before is AlarmState.SHELVED and move.after is AlarmState.NORMAL):
            mistyped = record.values.taken_back
            emit_notices(core, core.desk.over(core.at, move.key, over_words(core, record), everybody=mistyped))
        elif move.telling in (Telling.PAST, Telling.PAST_OLD):
            _tell_past(core, move)
        elif move.after is AlarmState.SUPPRESSED:
            core.desk.hush(move.key)
            arm_desk(core)
        wait_for(core, move.key)


def cause_of(core: Core, key: str, record: AlarmRecord) -> Cause:
    """Return the cause that the desk is given for an alarm that is on.

    Args:
        core: The engine's ports.
        key: The alarm's key (`alarm_key`).
        record: Its record.
    """
    kind = CATALOG[record.alarm]
    message = words_for(core, record)
    return Cause(
        key=key,
        place=record.place,
        alarm=record.alarm,
        priority=record.priority,
        since=record.limit_since,
        text=message.text,
        short=message.short,
        act=message.act,
        through_quiet=kind.wakes,
        evening=kind.evening and bool(record.stage),
        at_once=kind.at_once,
        batch=core.batch_at(record.place) or "",
    )


def tell_once(core: Core, notice: str, facts: Facts, *, key: str, priority: Priority, wakes: bool = False) -> None:
    """Tell something that is no alarm (a phase, a met rule, a suggestion) once; nobody need answer.

    Args:
        core: The engine's ports.
        notice: Its id.
        facts: The facts to put into words.
        key: Names the telling.
        priority: How urgent it is.
        wakes: Whether it goes through quiet hours.
    """
    message = written(core, notice, facts)
    cause = Cause(
        key=key,
        place=facts.place,
        alarm=notice,
        priority=priority,
        since=facts.since,
        text=message.text,
        short=message.short,
        act=message.act,
        one_time=True,
        through_quiet=wakes,
        batch=core.batch_at(facts.place) or "",
    )
    emit_notices(core, core.desk.cause(core.at, cause))


def note_line(core: Core, place: str, text: str) -> None:
    """Put a line into the digest.

    Args:
        core: The engine's ports.
        place: Pile, bin, or "" for the yard.
        text: The line.
    """
    core.desk.line(core.at, place, text, LineKind.NOTED)
    arm_desk(core)


def serve_desk(core: Core) -> None:
    """Serve the desk's deadlines: repeats, passing on, ends of quiet hours, the digest."""
    if core.desk.digest_begins(core.at):
        _note_still_probes(core)
        _note_unread_bins(core)
        _ask_of_empty_places(core)
    emit_notices(core, core.desk.serve(core.at))


def _note_still_probes(core: Core) -> None:
    """Put a line into the digest for each probe that has shown one value for a day while nothing says it is stuck."""
    for still in core.late_flags.still():
        watch, place = core.state.watches.get(still.probe), core.place_of(still.probe)
        if watch is None or watch.accepted_milli is None or not place or not speaks(core, still.probe):
            continue
        facts = Facts(
            place=place, probe=still.probe, value_milli=watch.accepted_milli, since=still.since, now=core.at,
            quantity=core.settings.probes[still.probe].quantity,
        )  # fmt: skip
        # A digest holds what came before its own instant.
        core.desk.line(core.at - 1, place, written(core, "flat-line", facts).short, LineKind.NOTED)


def _note_unread_bins(core: Core) -> None:
    """Put a line into the digest for each bin without a probe in it whose last reading by hand is too old."""
    for place in core.settings.bins:
        known = [*spots_at(core.state.hands, place).values()]
        emptied = core.bed(place).state.emptied_at is not None
        if not known or emptied or any(core.in_service(probe) for probe in thermometers(core, place)):
            continue
        last = known[-1].time
        if core.true_now - last >= hand_gap_ms(core.settings, place, last):
            facts = Facts(place=place, since=last, now=core.at)
            core.desk.line(core.at - 1, place, written(core, "unread", facts).short, LineKind.NOTED)


def _ask_of_empty_places(core: Core) -> None:
    """Put a question into the digest for each place that is empty by the log while something in it reads warm."""
    for place in (*core.settings.piles, *core.settings.bins):
        warm = warm_though_empty(core, place)
        if warm is not None:
            core.desk.line(core.at - 1, place, empty_words(core, place, warm).short, LineKind.NOTED)


def arm_desk(core: Core) -> None:
    """Keep the agenda in step with the desk."""
    core.wait(DESK, core.desk.due())


def mute(
    core: Core, place: str, until: int, alarms: tuple[str, ...] | None = None, probes: tuple[str, ...] = ()
) -> None:
    """Mute a place's alarms from now on; see `AlarmBook.mute`.

    Args:
        core: The engine's ports.
        place: Pile or bin.
        until: When the mute ends, UTC ms.
        alarms: Ids of the alarms to mute; None: all that a turning mutes.
        probes: Probes of the place whose own alarms are muted too.
    """
    tell_moves(core, core.alarms.mute(core.at, place, until, alarms, probes))
    for key, record in core.state.alarms.items():
        # An alarm that is muted already does not move, but its mute ends later from now on.
        if record.place == place and record.state is AlarmState.SUPPRESSED:
            wait_for(core, key)


def shorten_mute(core: Signals, place: str, alarm: str, until: int) -> None:
    """Let the mute of a place's alarm end sooner.

    Args:
        core: The port of signals.
        place: Pile or bin.
        alarm: The alarm's id.
        until: The mute ends at this instant (UTC ms) if it would end later.
    """
    key = alarm_key(place, alarm, "")
    record = core.state.alarms.get(key)
    if record is not None and record.muted_until is not None and record.muted_until > until:
        record.muted_until = until
        wait_for(core, key)


def serve_alarm(core: Core, key: str) -> None:
    """Serve the deadline of an alarm."""
    tell_moves(core, core.alarms.serve(core.at, key))
    # An alarm that was put off or muted for longer meanwhile still has to wait.
    wait_for(core, key)


def wait_for(core: Signals, key: str) -> None:
    """Keep the agenda in step with an alarm's put-off or mute."""
    record = core.state.alarms[key]
    due = record.until if record.state is AlarmState.SHELVED else None
    if record.muted_until is not None:
        due = record.muted_until if due is None else min(due, record.muted_until)
    core.wait(Deadline(record.place, DueKind.ALARM, key), due)


def emit_notices(core: Core, drafts: list[Draft]) -> None:
    """Emit notices, and keep the agenda in step with the desk."""
    for draft in drafts:
        core.emit(draft)
    arm_desk(core)


def record_move(core: Core, move: Move, by: str = "") -> None:
    """Record a move of an alarm as an effect.

    Args:
        core: The engine's ports.
        move: The move.
        by: Who answered, or "".
    """
    record = move.record
    plain = with_batch(record.values.plain(), core.batch_at(record.place))
    if move.after is AlarmState.SHELVED and record.until is not None:
        plain["until"] = show_time(record.until)
    if by:
        plain["by"] = by
    core.emit(
        Draft(
            place=record.place,
            kind=EffectKind.ALARM,
            axis=record.alarm,
            before=move.before.value,
            after=move.after.value,
            why=core.audience.read(lambda: _why(core, move), ""),
            since=move.since,
            reason="record changed" if record.values.taken_back else move.signal.value,
            probe=record.probe,
            values=plain,
        )
    )


def _why(core: Core, move: Move) -> str:
    return dated(_why_kept(core, move), core.at, ZoneInfo(core.settings.site.time_zone))


def _why_kept(core: Core, move: Move) -> str:
    on = move.record.on and move.after is not AlarmState.SUPPRESSED
    if on and move.signal in (Signal.ON, Signal.WORSE, Signal.UNMUTE, Signal.TAKEN_UP, Signal.BACK):
        return f"{words_for(core, move.record).short}."
    if move.signal is Signal.OFF or move.record.values.lost:
        return f"{over_words(core, move.record).short}."
    if not move.record.on and move.after in (AlarmState.NORMAL, AlarmState.RETURNED):
        # The alarm ended while it was muted; the number in its record is from when it was on.
        return f"{past_words(core, move.record).short}."
    short, until = words_for(core, move.record).short, move.record.until
    if move.after is AlarmState.SHELVED and until is not None:
        return f"Put off until {mark(until)}: {short}."
    return f"{TOLD_AS[move.after].capitalize()} ({move.signal.value}): {short}."


def _tell_past(core: Core, move: Move) -> None:
    record = move.record
    # A probe that needed a look for one reading only, and is fine, is worth no more than a line.
    told = move.telling is Telling.PAST and not CATALOG[record.alarm].of_probe
    if not told:
        note_line(core, record.place, past_words(core, record).short)
        return
    tell_once(
        core,
        "past",
        past_facts(core, record),
        key=move.key,
        priority=record.priority,
        wakes=CATALOG[record.alarm].wakes and CATALOG[record.alarm].always_told,
    )
