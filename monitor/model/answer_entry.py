"""From what a person answers to an alarm to its event: one parser for command line and page."""

from typing import Any

from monitor.model.alarm_kinds import BRIEF_MS, CATALOG
from monitor.model.errors import MisuseError
from monitor.model.events import Answer


def answer_payload(key: str, answer: Answer, by: str, until: int | None, now: int) -> dict[str, Any]:
    """Return the payload of an answer's event; whether it means anything now is the engine's to say.

    Args:
        key: The alarm's key, `PLACE/ALARM` or `PLACE/ALARM/PROBE`.
        answer: The answer.
        by: Who gives it, "" where nobody said.
        until: The end of a put-off, UTC ms; of no meaning with any other answer.
        now: UTC ms.

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
