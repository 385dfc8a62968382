"""The reason why an answer to an alarm means nothing now: one sentence for the command line and the page alike."""

from monitor.alarms import TRANSITIONS, AlarmRecord, Signal
from monitor.engine.context.state import EngineState
from monitor.model.alarm_kinds import CATALOG
from monitor.model.events import Answer
from monitor.model.words import AlarmState
from monitor.notices import clean


def why_unanswerable(state: EngineState, key: str, answer: Answer) -> str:
    """Return why an answer to an alarm would change nothing, or "" if it would change something.

    Args:
        state: The engine's state.
        key: `PLACE/ALARM` or `PLACE/ALARM/PROBE`.
        answer: The answer.
    """
    record = state.alarms.get(key)
    if record is None or (record.state is AlarmState.NORMAL and not record.since):
        return f'"{clean(key, 80)}" has not rung; {_open(state)}'
    if (record.state, Signal(answer.value)) in TRANSITIONS:
        return ""
    if record.state is AlarmState.NORMAL:
        rung = "has not rung yet" if record.latent else "is over"
        return f'"{key}" {rung}; there is nothing to answer'
    first = ": take it up again first" if record.state is AlarmState.SHELVED else ""
    return f'"{key}" {_standing(state, key, record)}; "{answer.value}" says nothing about it now{first}'


def _standing(state: EngineState, key: str, record: AlarmRecord) -> str:
    telling = state.desk.tellings.get(key)
    shut = state.desk.out_of_service.get(key)
    who = telling.answered_by if telling is not None else shut.by if shut is not None else ""
    by = f" by {clean(who)}" if who else ""
    return {
        AlarmState.UNACKNOWLEDGED: "is open and nobody has answered it",
        AlarmState.ACKNOWLEDGED: f"has been seen already{by}",
        AlarmState.RETURNED: "is over and waits only to be seen",
        AlarmState.SHELVED: f"has been put off{by}",
        AlarmState.SUPPRESSED: "is muted, by work that was logged or by a worse alarm",
        AlarmState.OUT_OF_SERVICE: f"is out of service{by}",
    }.get(record.state, "is over")


def _open(state: EngineState) -> str:
    names = sorted(
        key
        for key, record in state.alarms.items()
        if record.alarm in CATALOG and record.state not in (AlarmState.NORMAL, AlarmState.SUPPRESSED)
    )
    return f"open are {', '.join(names)}" if names else "no alarm is open"
