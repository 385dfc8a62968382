"""Reactions of people to messages, as hints of which messages were worth sending; never as good as a label.

Rules:
1. An alarm that somebody answered *seen* was worth its message: somebody took it on. An alarm that was *put off* was not worth
   it then: somebody wanted quiet. Of several answers to one call the first counts.
2. A message that asks for a turning was worth it if the heap was turned within `CONFIRMED_MS` of the message. The work log
   *confirms* it.
3. Hints make no trouble and no fine stretch: they enter no score. Beside the score stands how many of the worthy calls a
   set would still have sent, and how many of those put off.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum

from monitor.model.alarm_kinds import CATALOG
from monitor.model.events import Answer, Event, EventKind
from monitor.model.times import DAY_MS, HOUR_MS
from monitor.model.work import WorkKind
from monitor.tuning.calls import Call

CONFIRMED_MS = 2 * DAY_MS
"""A turning within this time after a message that asks for a turning confirms the message (our choice)."""

NEAR_MS = 6 * HOUR_MS
"""A call of another run is the same if its message comes this near, or while the alarm was on (our choice)."""


class Hinted(StrEnum):
    """The meaning of somebody's reaction to a call."""

    SEEN = "seen"
    TURNED = WorkKind.TURNED.value
    PUT_OFF = "put off"


@dataclass(frozen=True, slots=True, kw_only=True)
class Hint:
    """One call of today's run that somebody reacted to; times are UTC ms."""

    key: str
    first: int
    over: int | None
    said: Hinted


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """The numbers of hinted calls, and of those among them that a run sent as well."""

    worthy: int
    worthy_told: int
    put_off: int
    put_off_told: int


def hints_of(events: Iterable[Event], calls: Sequence[Call], place: str) -> tuple[Hint, ...]:
    """Collect the hints in a place's record.

    Args:
        events: The record; only answers and work matter.
        calls: The calls of the settings that were in force.
        place: The pile or bin.

    Returns:
        One hint for each call that somebody reacted to, in the order of the calls.
    """
    answers: list[tuple[int, str, Answer]] = []
    turnings: list[int] = []
    for event in events:
        if event.kind is EventKind.ANSWER:
            answers.append((event.at, str(event.payload["alarm"]), Answer(event.payload["answer"])))
        elif event.kind is EventKind.WORK and _turned(event, place):
            turnings.append(int(event.payload.get("time") or event.at))
    found = [_hint(call, answers, turnings) for call in calls]
    return tuple(hint for hint in found if hint is not None)


def _turned(event: Event, place: str) -> bool:
    return event.payload.get("kind") == WorkKind.TURNED and event.payload.get("place") == place


def _hint(call: Call, answers: Sequence[tuple[int, str, Answer]], turnings: Sequence[int]) -> Hint | None:
    until = call.over if call.over is not None and call.over >= call.first else None
    for number, (at, key, answer) in enumerate(answers):
        if key != call.key or at < call.first or (until is not None and at > until):
            continue
        if answer in (Answer.SEEN, Answer.PUT_OFF) and not _taken_back(answers[number + 1 :], key):
            said = Hinted.SEEN if answer is Answer.SEEN else Hinted.PUT_OFF
            return Hint(key=call.key, first=call.first, over=call.over, said=said)
    if CATALOG[call.alarm].asks_turning and any(call.first <= at <= call.first + CONFIRMED_MS for at in turnings):
        return Hint(key=call.key, first=call.first, over=call.over, said=Hinted.TURNED)
    return None


def _taken_back(later: Sequence[tuple[int, str, Answer]], key: str) -> bool:
    """Return whether the next answer to an alarm takes the *seen* back."""
    return next((answer for _, one, answer in later if one == key), None) is Answer.NOT_ME


def kept(calls: Sequence[Call], hints: Sequence[Hint]) -> Kept:
    """Count the hinted calls that are among those of a run."""
    told: dict[str, list[int]] = {}
    for call in calls:
        told.setdefault(call.key, []).append(call.first)

    def there(hint: Hint) -> bool:
        last = max(hint.over if hint.over is not None else hint.first, hint.first) + NEAR_MS
        return any(hint.first - NEAR_MS <= at <= last for at in told.get(hint.key, ()))

    worthy = [hint for hint in hints if hint.said is not Hinted.PUT_OFF]
    unwanted = [hint for hint in hints if hint.said is Hinted.PUT_OFF]
    return Kept(
        worthy=len(worthy),
        worthy_told=sum(map(there, worthy)),
        put_off=len(unwanted),
        put_off_told=sum(map(there, unwanted)),
    )
