"""Turns a person's answer to an alarm into its event: one parser for command line and page."""

from typing import Any

from monitor.model.alarm_kinds import BRIEF_MS, CATALOG
from monitor.model.errors import MisuseError
from monitor.model.events import Answer


def answer_payload(key: str, answer: Answer, by: str, until: int | None, now: int) -> dict[str, Any]:
    """Make the payload of an answer's event; the engine decides whether the answer means anything now.

    Args:
        key: The alarm's key, `PLACE/ALARM` or `PLACE/ALARM/PROBE`.
        answer: The answer.
        by: Name of the person, "" if unknown.
        until: The end of a put-off, UTC ms; ignored with any other answer.
        now: UTC ms.

    Returns:
        The payload, as in `model.events`.

    Raises:
        MisuseError: A put-off has no end, ends in the past, or is too long for a danger.
    """
    payload: dict[str, Any] = {"alarm": key, "answer": answer.value, "by": by}
    if answer is not Answer.PUT_OFF:
        return payload
    if until is None:
        raise MisuseError('A put-off needs its end: --until "in 2 h".')
    if until <= now:
        raise MisuseError("--until lies in the past; a put-off ends later than now.")
    alarm = key.split("/")[1] if "/" in key else ""
    if alarm in CATALOG and CATALOG[alarm].brief and until > now + BRIEF_MS:
        raise MisuseError("This is a danger; it can be put off for 2 h at most.")
    return payload | {"until": until}
