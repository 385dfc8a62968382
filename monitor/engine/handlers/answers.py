"""People's answers to alarms: seen, not me after all, put off until, taken up again, out of service, back."""

from collections.abc import Mapping
from typing import Any

from monitor.alarms import Signal, Telling
from monitor.engine.context.core import Core
from monitor.engine.output.alarm_facts import over_words
from monitor.engine.output.alarm_notices import emit_notices, record_move, tell_moves, wait_for
from monitor.model.events import Answer
from monitor.model.words import AlarmState

_SIGNALS = {
    Answer.SEEN: Signal.SEEN,
    Answer.NOT_ME: Signal.NOT_ME,
    Answer.PUT_OFF: Signal.PUT_OFF,
    Answer.TAKEN_UP: Signal.TAKEN_UP,
    Answer.OUT_OF_SERVICE: Signal.OUT,
    Answer.BACK: Signal.BACK,
}


def take_answer(core: Core, payload: Mapping[str, Any]) -> None:
    """Take an `answer` event. An answer that means nothing in the alarm's present state changes nothing."""
    key, answer = str(payload["alarm"]), Answer(payload["answer"])
    until = payload.get("until")
    by = str(payload.get("by", ""))
    moves = core.alarms.answer(core.at, key, _SIGNALS[answer], until)
    if moves is None:
        return
    for move in moves[:1]:
        record_move(core, move, by)
    record = core.state.alarms[key]
    if answer is Answer.TAKEN_UP and not record.on:
        # The alarm ended while it was put off, and people should hear that.
        emit_notices(core, core.desk.over(core.at, key, over_words(core, record)))
    elif answer is not Answer.TAKEN_UP or record.state is not AlarmState.SUPPRESSED:
        emit_notices(core, core.desk.answered(core.at, key, answer, until, by))
    if answer is Answer.BACK:
        # The desk has forgotten the alarm; if its condition is on, it is told like a new one.
        tell_moves(core, [move for move in moves[:1] if move.telling is Telling.AGAIN], recorded=True)
    tell_moves(core, moves[1:])
    wait_for(core, key)
