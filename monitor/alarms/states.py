"""The states of an alarm and what moves it from one to another, as a table.

Source: ISA-18.2 / IEC 62682 (states and transitions as restated in `docs/sources.md`); *put off* is the standard's
shelving, and may be given another end; *not me after all* (ours) takes a *seen* back.
"""

from enum import StrEnum

from monitor.model.words import AlarmState


class Signal(StrEnum):
    """What can happen to an alarm."""

    ON = "condition begins"
    OFF = "condition ends"
    WORSE = "got worse"
    SEEN = "seen"
    NOT_ME = "not me after all"
    PUT_OFF = "put off"
    TAKEN_UP = "taken up again"
    MUTE = "muted by design"
    UNMUTE = "mute ends"
    OUT = "out of service"
    BACK = "back"


_S = AlarmState

# Where a state is left by its own end (taken up again, mute ends, back), what follows depends on whether the condition
# is on: the table names the state for "on", `RESTING` the one for "off".
TRANSITIONS: dict[tuple[AlarmState, Signal], AlarmState] = {
    (_S.NORMAL, Signal.ON): _S.UNACKNOWLEDGED,
    (_S.NORMAL, Signal.MUTE): _S.SUPPRESSED,
    (_S.NORMAL, Signal.OUT): _S.OUT_OF_SERVICE,
    (_S.UNACKNOWLEDGED, Signal.OFF): _S.RETURNED,
    (_S.UNACKNOWLEDGED, Signal.WORSE): _S.UNACKNOWLEDGED,
    (_S.UNACKNOWLEDGED, Signal.SEEN): _S.ACKNOWLEDGED,
    (_S.UNACKNOWLEDGED, Signal.PUT_OFF): _S.SHELVED,
    (_S.UNACKNOWLEDGED, Signal.MUTE): _S.SUPPRESSED,
    (_S.UNACKNOWLEDGED, Signal.OUT): _S.OUT_OF_SERVICE,
    (_S.ACKNOWLEDGED, Signal.OFF): _S.NORMAL,
    (_S.ACKNOWLEDGED, Signal.WORSE): _S.UNACKNOWLEDGED,
    (_S.ACKNOWLEDGED, Signal.NOT_ME): _S.UNACKNOWLEDGED,
    (_S.ACKNOWLEDGED, Signal.PUT_OFF): _S.SHELVED,
    (_S.ACKNOWLEDGED, Signal.MUTE): _S.SUPPRESSED,
    (_S.ACKNOWLEDGED, Signal.OUT): _S.OUT_OF_SERVICE,
    (_S.RETURNED, Signal.ON): _S.UNACKNOWLEDGED,
    (_S.RETURNED, Signal.SEEN): _S.NORMAL,
    (_S.RETURNED, Signal.MUTE): _S.SUPPRESSED,
    (_S.RETURNED, Signal.OUT): _S.OUT_OF_SERVICE,
    (_S.SHELVED, Signal.TAKEN_UP): _S.UNACKNOWLEDGED,
    (_S.SHELVED, Signal.WORSE): _S.UNACKNOWLEDGED,
    (_S.SHELVED, Signal.PUT_OFF): _S.SHELVED,
    (_S.SHELVED, Signal.OUT): _S.OUT_OF_SERVICE,
    (_S.SUPPRESSED, Signal.UNMUTE): _S.UNACKNOWLEDGED,
    (_S.SUPPRESSED, Signal.OUT): _S.OUT_OF_SERVICE,
    (_S.OUT_OF_SERVICE, Signal.BACK): _S.UNACKNOWLEDGED,
}

RESTING = _S.NORMAL
"""What follows TAKEN_UP, UNMUTE and BACK when the condition is no longer on."""

STILL_MUTED = _S.SUPPRESSED
"""What follows TAKEN_UP and BACK when the condition is on and muted by design all the while."""

BY_OWN_END = (Signal.TAKEN_UP, Signal.UNMUTE, Signal.BACK)
"""What leaves a state by its own end."""

GOING_ON = (_S.UNACKNOWLEDGED, _S.ACKNOWLEDGED, _S.SHELVED)
"""States of an alarm whose condition may well go on."""

TOLD_AS: dict[AlarmState, str] = {
    _S.NORMAL: "over",
    _S.UNACKNOWLEDGED: "new",
    _S.ACKNOWLEDGED: "seen",
    _S.RETURNED: "over",
    _S.SHELVED: "put off until",
    _S.SUPPRESSED: "muted",
    _S.OUT_OF_SERVICE: "out of service",
}
"""What people read in place of the standard's state."""


def after(state: AlarmState, signal: Signal, on: bool, muted: bool = False) -> AlarmState | None:
    """Return the state that follows, or None where the signal means nothing in this state.

    Args:
        state: The state now.
        signal: What happened.
        on: Whether the alarm's condition is on (asked only where a state is left by its own end).
        muted: Whether it is muted by design all the while (asked likewise): then it rings when that ends.
    """
    follows = TRANSITIONS.get((state, signal))
    if follows is None or signal not in BY_OWN_END:
        return follows
    if not on:
        return RESTING
    return STILL_MUTED if muted and signal is not Signal.UNMUTE else follows
