"""What people write down: from their words to the event that is asked for, checked before anything is asked.

The forms: a piece of work; an answer to an alarm. (Temperatures taken by hand stand in `hand_entries`, taking back and
correcting in `amendments`.) What does not go together is refused with a sentence that says what would be right.
"""

import difflib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from monitor.app.console.refusals import ended, near
from monitor.app.entries.naming import place_meant, probe_meant
from monitor.configuration import Configuration
from monitor.engine.logged import work_from
from monitor.model.answer_entry import answer_payload
from monitor.model.errors import MisuseError
from monitor.model.events import Answer, EventKind
from monitor.model.settings import Settings
from monitor.model.work import WorkKind
from monitor.model.work_entry import fields_that_go_with, work_fields
from monitor.model.work_kinds import typed_words
from monitor.model.work_words import work_said

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


OPTIONS: dict[str, str] = {"source": "from"}
"""What an option is called where its field has another name."""
_WORK_OPTIONS = ("to", "probe", "amount", "measure", "what", "source", "spot", "batch")


def work_entry(settings: Settings, what: str, place: str, given: Mapping[str, Any], at: int) -> Entry:
    """Return a piece of work that was done at `at` (UTC ms).

    Raises:
        MisuseError: It cannot be meant.
    """
    known = typed_words()
    kind = known.get(what)
    if kind is None:
        right = near(what, [*known, *ANSWERS, "reading", "round", "list", "undo", "correct"])
        raise MisuseError(ended(f'"{what}" cannot be written down; {right}'))
    allow(what, given, options_of(kind) - ({"at"} if what == "turning-now" else set()))
    payload = {"time": at, "place": place, "kind": kind.value} | fields_given(settings, kind, given)
    return Entry(EventKind.WORK, payload, at, work_words(settings, payload))


def options_of(kind: WorkKind) -> set[str]:
    """Return the options that go with a kind of work."""
    return {"at", "again", *(OPTIONS.get(name, name) for name in fields_that_go_with(kind))}


def fields_given(settings: Settings, kind: WorkKind, given: Mapping[str, Any]) -> dict[str, str]:
    """Return the fields of a piece of work that were given as options; places and probes may be named.

    Raises:
        MisuseError: The amount is none, its unit is unknown, or a name can be two things.
    """
    told = {name: given.get(OPTIONS.get(name, name)) for name in (*_WORK_OPTIONS, "by", "note")}
    if told["to"]:
        told["to"] = place_meant(settings, told["to"])
    if told["probe"]:
        told["probe"] = probe_meant(settings, told["probe"])
    return work_fields(settings, kind, told)


def work_words(settings: Settings, payload: Mapping[str, Any]) -> str:
    """Return what a work payload says, to people: `Bay 1 watered 60 L`."""
    said = work_said(work_from(payload, 0), settings.place_name, lambda probe: probe_name(settings, probe))
    return f"{settings.place_name(payload['place'])} {said}"


def probe_name(settings: Settings, probe: str) -> str:
    """Return what people call a probe."""
    known = settings.probes.get(probe)
    return known.name if known is not None and known.name else probe


def answer_entry(
    configuration: Configuration, what: str, key: str, given: Mapping[str, Any], until: int | None, now: int
) -> Entry:
    """Return an answer to an alarm, given at `now` (UTC ms); `until` is the end of a put-off.

    Raises:
        MisuseError: There is no such alarm, or the answer means nothing in its present state.
    """
    answer = ANSWERS.get(what, Answer.SEEN)
    allow(what, given, ("by", "until") if answer is Answer.PUT_OFF else ("by",))
    payload = answer_payload(key, answer, given["by"] or "", until, now)
    _check_alarm(configuration, key, answer)
    return Entry(EventKind.ANSWER, payload, now, f"{key} {answer.value}")


def _check_alarm(configuration: Configuration, key: str, answer: Answer) -> None:
    from monitor.app.yard.yard_view import yard_view  # noqa: PLC0415 (only an answer needs to look)
    from monitor.engine.answerable import why_unanswerable  # noqa: PLC0415

    with yard_view(configuration) as view:
        alarms = view.engine.state.alarms
        wrong = why_unanswerable(view.engine.state, key, answer)
    if wrong:
        meant = "" if key in alarms else next((one for one in _close(key, alarms)), "")
        raise MisuseError(ended(f'{wrong}; did you mean "{meant}"?' if meant else wrong))


def _close(key: str, alarms: Iterable[str]) -> list[str]:
    return difflib.get_close_matches(key, sorted(alarms), 1, 0.8)
