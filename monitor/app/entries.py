"""What people write down: from their words to the event that is asked for, checked before anything is asked.

The forms: a piece of work; an answer to an alarm. (Temperatures taken by hand stand in `hand_entries`, taking back and
correcting in `amendments`.) What does not go together is refused with a sentence that says what would be right.
"""

import difflib
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from monitor.app.refusals import ended, near
from monitor.configuration import Configuration
from monitor.model.errors import MisuseError
from monitor.model.events import Answer, EventKind
from monitor.model.settings import Settings
from monitor.model.work import WorkKind

KINDS: dict[str, WorkKind] = {kind.value.replace(" ", "-"): kind for kind in WorkKind} | {
    "turning-now": WorkKind.TURNED
}
"""Kinds of work by the word that is typed."""
ANSWERS: dict[str, Answer] = {
    "acknowledge": Answer.SEEN,
    "not-me": Answer.NOT_ME,
    "put-off": Answer.PUT_OFF,
    "take-up": Answer.TAKEN_UP,
    "taken-up": Answer.TAKEN_UP,
    "out-of-service": Answer.OUT_OF_SERVICE,
    "back": Answer.BACK,
}
"""Answers to alarms by the word that is typed; `seen` is one too, where an alarm is named."""
MOVES = (WorkKind.MOVED, WorkKind.SPLIT, WorkKind.MERGED)
_PROBES = (WorkKind.PROBE_IN, WorkKind.PROBE_OUT)
_AMOUNT = re.compile(r"\d+(?:\.\d+)?")


@dataclass(frozen=True, slots=True)
class Entry:
    """An event to ask for.

    Attributes:
        time: When it was, UTC ms.
        words: What it says, to people.
        remark: Something worth knowing about it, or "".
    """

    kind: EventKind
    payload: dict[str, Any]
    time: int
    words: str
    remark: str = field(default="", compare=False)


def allow(what: str, given: Mapping[str, Any], options: Iterable[str]) -> None:
    """Refuse options that mean nothing here.

    Raises:
        MisuseError: One is given that is not among `options`.
    """
    options = sorted(options)
    for name, value in given.items():
        if value is not None and name not in options:
            right = ", ".join(f"--{option}" for option in options)
            raise MisuseError(f'--{name} does not go with "{what}"; {right} do.')


def work_entry(settings: Settings, what: str, place: str, given: Mapping[str, Any], at: int) -> Entry:
    """Return a piece of work that was done at `at` (UTC ms).

    Raises:
        MisuseError: It cannot be meant.
    """
    kind = KINDS.get(what)
    if kind is None:
        right = near(what, [*KINDS, *ANSWERS, "reading", "round", "undo", "correct"])
        raise MisuseError(ended(f'"{what}" cannot be written down; {right}'))
    allow(what, given, options_of(kind) - ({"at"} if what == "turning-now" else set()))
    payload = {"time": at, "place": place, "kind": kind.value} | work_fields(given)
    return Entry(EventKind.WORK, payload, at, work_words(settings, payload))


def options_of(kind: WorkKind) -> set[str]:
    """Return the options that go with a kind of work."""
    own = {"to"} if kind in MOVES else {"probe"} if kind in _PROBES else set()
    return {"at", "amount", "measure", "by", "note"} | own


def work_fields(given: Mapping[str, Any]) -> dict[str, Any]:
    """Return the fields of a piece of work that were given as options.

    Raises:
        MisuseError: The amount is no number, or a measure stands alone.
    """
    fields = {name: given[name] for name in ("to", "probe", "amount", "measure", "by", "note") if given.get(name)}
    if "amount" in fields:
        fields["amount"] = fields["amount"].replace(",", ".")
        if not _AMOUNT.fullmatch(fields["amount"]):
            raise MisuseError(f"--amount: {given['amount']!r} is no number; write --amount 20 --measure L.")
    return fields


def work_words(settings: Settings, payload: Mapping[str, Any]) -> str:
    """Return what a work payload says, to people."""
    amount = f" {payload['amount']} {payload.get('measure', '')}".rstrip() if payload.get("amount") else ""
    to = f" to {settings.place_name(payload['to'])}" if payload.get("to") else ""
    probe = f" {payload['probe']}" if payload.get("probe") else ""
    return f"{settings.place_name(payload['place'])} {payload['kind']}{probe}{amount}{to}"


def answer_entry(
    configuration: Configuration, what: str, key: str, given: Mapping[str, Any], until: int | None, now: int
) -> Entry:
    """Return an answer to an alarm, given at `now` (UTC ms); `until` is the end of a put-off.

    Raises:
        MisuseError: There is no such alarm, or the answer means nothing in its present state.
    """
    answer = ANSWERS.get(what, Answer.SEEN)
    allow(what, given, ("by", "until") if answer is Answer.PUT_OFF else ("by",))
    payload: dict[str, Any] = {"alarm": key, "answer": answer.value, "by": given["by"] or ""}
    if answer is Answer.PUT_OFF:
        if until is None:
            raise MisuseError('A put-off needs its end: --until "in 2 h".')
        if until <= now:
            raise MisuseError("--until lies in the past; a put-off ends later than now.")
        payload["until"] = until
    _check_alarm(configuration, key, answer)
    return Entry(EventKind.ANSWER, payload, now, f"{key} {answer.value}")


def _check_alarm(configuration: Configuration, key: str, answer: Answer) -> None:
    from monitor.app.yard_view import yard_view  # noqa: PLC0415 (only an answer needs to look)
    from monitor.engine.answerable import why_unanswerable  # noqa: PLC0415

    with yard_view(configuration) as view:
        alarms = view.engine.state.alarms
        wrong = why_unanswerable(view.engine.state, key, answer)
    if wrong:
        meant = "" if key in alarms else next((one for one in _close(key, alarms)), "")
        raise MisuseError(ended(f'{wrong}; did you mean "{meant}"?' if meant else wrong))


def _close(key: str, alarms: Iterable[str]) -> list[str]:
    return difflib.get_close_matches(key, sorted(alarms), 1, 0.8)
