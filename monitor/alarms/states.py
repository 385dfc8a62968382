"""The states of an alarm and the signals that move it from state to state, as a table.

Source: ISA-18.2 / IEC 62682 (states and transitions as restated in `docs/sources.md`); *put off* is the standard's
shelving, and its end may be changed; *not me after all* (our addition) takes a *seen* back.
"""

from enum import StrEnum

from monitor.model.words import AlarmState


class Signal(StrEnum):
    """The signals that can reach an alarm."""

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

# If a state ends by itself (taken up again, mute ends, back), the next state depends on whether the condition
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
"""The state after TAKEN_UP, UNMUTE and BACK if the condition is no longer on."""

STILL_MUTED = _S.SUPPRESSED
"""The state after TAKEN_UP and BACK if the condition is on and still muted by design."""

BY_OWN_END = (Signal.TAKEN_UP, Signal.UNMUTE, Signal.BACK)
"""Signals with which a state ends by itself."""

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
"""Words for people in place of the standard's state."""


def after(state: AlarmState, signal: Signal, on: bool, muted: bool = False) -> AlarmState | None:
    """Look up the next state.

    Args:
        state: The state now.
        signal: The signal.
        on: Whether the alarm's condition is on (matters only if a state ends by itself).
        muted: Whether it is still muted by design (matters likewise): then it rings when the mute ends.

    Returns:
        The next state, or None if the signal means nothing in this state.
    """
    follows = TRANSITIONS.get((state, signal))
    if follows is None or signal not in BY_OWN_END:
        return follows
    if not on:
        return RESTING
    return STILL_MUTED if muted and signal is not Signal.UNMUTE else follows
