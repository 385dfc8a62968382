"""Rounds that fall due: readings by hand prove a rule only while one round follows another in time.

1. A chain is watched from its last round on, while a batch's rule runs and rounds prove it (`hand_rounds`). If a core probe
   proves it, the rule has not begun or is met, or nothing lies there, no round can be missed.
2. The next round is *due* two hours before `hand_gap` is over; one hour before, the alarm `round-due` rings; when it is over,
   the chain is broken and the same alarm tells that. If `hand_gap` is shorter than 4 h, the round is due after half of it and
   the alarm rings after three quarters (our choice). A gap over 26 h keeps no chain whole: for the rule it ends there.
3. If all who would be told have quiet hours when the alarm would ring, it rings an hour before these begin, but not before the
   last round. If the round is due within that hour, it rings half an hour after it is due, and five minutes before they begin
   at the latest (our choice): people who read every evening are some minutes late every other time.
4. The next round ends the alarm, whenever it is logged. If a round is taken back, the chain of the round before counts again.
   A chain that was broken already when its last round was logged is not told: nothing can be saved.
"""

from monitor.engine.context.agenda import Deadline, DueKind
from monitor.engine.context.batch_runs import BatchRun
from monitor.engine.context.core import Core
from monitor.engine.context.signals import Signals
from monitor.engine.context.state import Chain
from monitor.model.alarm_kinds import Alarm, alarm_key
from monitor.model.alarm_values import AlarmValues
from monitor.model.thresholds import RULE_HAND_GAP_MS
from monitor.model.times import HOUR_MS, MINUTE_MS
from monitor.model.words import RuleState
from monitor.piles import COLDEST

_DUE_BEFORE_MS = 2 * HOUR_MS
_LENIENCE_MS = 30 * MINUTE_MS
_STILL_UP_MS = 5 * MINUTE_MS


def follow_chains(core: Core, *, anew: bool = False) -> None:
    """Bring deadlines and alarms into step with the rounds of every batch, after records may have changed.

    Args:
        core: The engine's ports.
        anew: Whether quiet hours may have changed, so that the time of each alarm is worked out again.
    """
    known, now = core.state.chains, _chains(core, anew=anew)
    for place in [*known, *(one for one in now if one not in known)]:
        was, chain = known.get(place), now.get(place)
        if chain == was:
            continue
        if chain is None:
            del known[place]
            core.wait(Deadline(place, DueKind.ROUND), None)
            core.ends(place, Alarm.ROUND_DUE)
            continue
        known[place] = chain
        _arm(core, place, chain, taken_back=was is not None and chain.last < was.last)


def serve_chain(core: Signals, place: str) -> None:
    """Ring for a round that is missed, or for a chain that is broken."""
    chain = core.state.chains.get(place)
    if chain is None:
        return
    broken = core.at >= chain.breaks
    if not broken:
        core.wait(Deadline(place, DueKind.ROUND), chain.breaks)
    variant = "broken" if broken else "early" if core.at < chain.due else ""
    values = AlarmValues(read=chain.last, breaks=chain.breaks, variant=variant)
    since = chain.last if broken else min(chain.due, core.at)
    core.begins(place, Alarm.ROUND_DUE, since=since, last=core.at, values=values, stage=int(broken))


def _arm(core: Signals, place: str, chain: Chain, *, taken_back: bool) -> None:
    record = core.state.alarms.get(alarm_key(place, Alarm.ROUND_DUE))
    on = record is not None and record.on
    if record is not None and on and record.stage and core.at < chain.breaks:
        # The chain was told as broken and is not, so the next alarm is told from the beginning.
        core.ends(place, Alarm.ROUND_DUE)
        on = False
    if core.at < chain.rings:
        core.ends(place, Alarm.ROUND_DUE)
        core.wait(Deadline(place, DueKind.ROUND), chain.rings)
    elif core.at < chain.breaks or on or taken_back:
        core.wait(Deadline(place, DueKind.ROUND), core.at)
    else:
        core.wait(Deadline(place, DueKind.ROUND), None)


def _chains(core: Core, *, anew: bool) -> dict[str, Chain]:
    found: dict[str, Chain] = {}
    for run in core.state.runs.values():
        place = core.pile_of(run)
        if run.touched is not None:
            # The record waits to be worked out again; until then the chain stays as it was.
            if place in core.state.chains:
                found[place] = core.state.chains[place]
            continue
        last = _last_round(run)
        if last is not None and run.rule is RuleState.RUNNING and place in core.settings.piles:
            known, gap = core.state.chains.get(place), min(core.thresholds_of(run).hand_gap_ms, RULE_HAND_GAP_MS)
            same = not anew and known is not None and (known.last, known.breaks) == (last, last + gap)
            found[place] = known if same and known is not None else _chain(core, place, last, gap)
    return found


def _last_round(run: BatchRun) -> int | None:
    """Return when the last proving round was taken, UTC ms; None if rounds do not prove, or none has come since they do."""
    line = run.walk.lines.get(COLDEST)
    return line.time if line is not None and line.serving and line.heard else None


def _chain(core: Core, place: str, last: int, gap_ms: int) -> Chain:
    before = min(_DUE_BEFORE_MS, gap_ms // 2)
    due, rings = last + gap_ms - before, core.desk.last_waking(place, last + gap_ms - before // 2)
    if rings <= due < rings + HOUR_MS:
        # It is due in the hour before they sleep: people who read at about that time must not be called every day.
        rings = max(due, min(due + min(_LENIENCE_MS, before // 2), rings + HOUR_MS - _STILL_UP_MS))
    return Chain(last=last, due=due, rings=max(rings, last), breaks=last + gap_ms)
