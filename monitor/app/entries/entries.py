"""Turns typed words into the event to ask for, and checks them before anything is asked.

This module knows work and answers to alarms; `hand_entries` knows temperatures taken by hand, `amendments` undoing and
correcting. Words that do not go together are refused with a sentence that says what would be right.
"""

import difflib
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from monitor.app.console.refusals import ended, near
from monitor.app.entries.naming import place_meant, probe_meant
from monitor.app.yard.effect_words import local_time
from monitor.configuration import Configuration
from monitor.model.alarm_kinds import Alarm
from monitor.model.answer_entry import answer_payload
from monitor.model.errors import MisuseError
from monitor.model.events import Answer, EventKind
from monitor.model.settings import YARD, Settings
from monitor.model.sightings import UNWELL
from monitor.model.times import parse_time
from monitor.model.work import WorkKind, work_from
from monitor.model.work_entry import fields_that_go_with, work_fields
from monitor.model.work_kinds import typed_words
from monitor.model.work_words import work_said
from monitor.notices import Facts, compose

ANSWERS: dict[str, Answer] = {
    "acknowledge": Answer.SEEN,
    "not-me": Answer.NOT_ME,
    "put-off": Answer.PUT_OFF,
    "take-up": Answer.TAKEN_UP,
    "taken-up": Answer.TAKEN_UP,
    "out-of-service": Answer.OUT_OF_SERVICE,
    "back": Answer.BACK,
}
"""Answers to alarms by the typed word; `seen`, followed by an alarm, is an answer as well."""


@dataclass(frozen=True, slots=True)
class Entry:
    """An event to ask for.

    Attributes:
        time: When it happened, UTC ms.
        words: The entry in words for people.
        remark: A remark to show beside it, or "".
    """

    kind: EventKind
    payload: dict[str, Any]
    time: int
    words: str
    remark: str = field(default="", compare=False)


def allow(what: str, given: Mapping[str, Any], options: Iterable[str]) -> None:
    """Refuse options that mean nothing here.

    Args:
        what: The words of the command, for the refusal.
        given: All options by name; None stands for one that was not given.
        options: Names of the options that are allowed.

    Raises:
        MisuseError: An option is given that is not allowed.
    """
    options = sorted(options)
    for name, value in given.items():
        if value is not None and name not in options:
            right = ", ".join(f"--{option}" for option in options)
            raise MisuseError(f'--{name} does not go with "{what}"; {right} do.')


OPTIONS: dict[str, str] = {"source": "from", "start": "from", "end": "to"}
"""The options whose name differs from their field's, by the field's name."""
_TROUBLE = (
    "If that lasted, label the time as trouble, so that tuning learns from it: heaptender label {} START END trouble."
)


LastUnit = Callable[[WorkKind, str, str], str]
"""Returns the unit used last for a kind of work at a place and with a material, "" for none."""


def _no_unit(kind: WorkKind, place: str, what: str) -> str:
    del kind, place, what
    return ""


def work_entry(
    settings: Settings, what: str, place: str, given: Mapping[str, Any], at: int, last_unit: LastUnit = _no_unit
) -> Entry:
    """Return the entry of a piece of work.

    Args:
        settings: The settings in force.
        what: The typed word for the kind of work.
        place: Id of the pile or bin.
        given: The command's options by name; None stands for one that was not given.
        at: When the work was done, UTC ms.
        last_unit: Tells the unit that an amount without one most likely means.

    Raises:
        MisuseError: The word is unknown, or an option does not fit it.
    """
    known = typed_words()
    kind = known.get(what)
    if kind is None:
        right = near(what, [*known, *ANSWERS, "reading", "round", "rounds", "slip", "list", "undo", "correct"])
        raise MisuseError(ended(f'"{what}" cannot be written down; {right}'))
    allow(what, given, options_of(kind) - ({"at"} if what == "turning-now" else set()))
    payload = {"time": at, "place": place, "kind": kind.value} | fields_given(
        settings, kind, given, last_unit=lambda: last_unit(kind, place, str(given.get("what") or ""))
    )
    remark = _unwell(settings, payload) if payload.get("worms") in UNWELL else ""
    return Entry(EventKind.WORK, payload, at, work_words(settings, payload), remark)


def _unwell(settings: Settings, payload: Mapping[str, Any]) -> str:
    """Return the alarm that a look at worms that suffer rings, with its advice: who logged it may stand at the bin."""
    facts = Facts(place=payload["place"], since=payload["time"], now=payload["time"], variant=payload["worms"])
    return f"{compose(Alarm.WORMS_UNWELL, facts, settings).text} {_TROUBLE.format(payload['place'])}"


def options_of(kind: WorkKind) -> set[str]:
    """Return the names of the options that go with a kind of work."""
    return {"at", "again", *(OPTIONS.get(name, name) for name in fields_that_go_with(kind))}


def fields_given(
    settings: Settings,
    kind: WorkKind,
    given: Mapping[str, Any],
    *,
    whole: bool = True,
    last_unit: Callable[[], str] = str,
) -> dict[str, str]:
    """Return the fields of a piece of work that were given as options; names of places and probes become ids.

    Args:
        settings: The settings in force.
        kind: The kind of work, which decides the units allowed.
        given: The command's options by name.
        whole: Whether these are all its fields, so that none may be missing.
        last_unit: Returns the unit that was used last for such work, "" for none.

    Raises:
        MisuseError: The amount is no number, its unit is unknown, a field is missing, or a name fits two places or probes.
    """
    # Two fields may share an option: `--to` is a place or an instant.
    told = {name: given.get(OPTIONS.get(name, name)) for name in fields_that_go_with(kind)}
    if to := told.get("to"):
        told["to"] = place_meant(settings, to)
    if probe := told.get("probe"):
        told["probe"] = probe_meant(settings, probe)
    return work_fields(settings, kind, told, whole=whole, last_unit=last_unit)


def work_words(settings: Settings, payload: Mapping[str, Any]) -> str:
    """Return a work payload in words for people: `Bay 1 watered 60 L`; of the whole yard without its place."""
    said = work_said(
        work_from(payload, 0),
        settings.place_name,
        lambda probe: probe_name(settings, probe),
        contact_name=settings.contact_name,
        instant=lambda text: local_time(parse_time(text), settings),
    )
    return said if payload["place"] == YARD else f"{settings.place_name(payload['place'])} {said}"


def probe_name(settings: Settings, probe: str) -> str:
    """Return a probe's name, or its id if it has none."""
    known = settings.probes.get(probe)
    return known.name if known is not None and known.name else probe


def answer_entry(
    configuration: Configuration, what: str, key: str, given: Mapping[str, Any], until: int | None, now: int
) -> Entry:
    """Return the entry of an answer to an alarm.

    Args:
        configuration: The yard's configuration.
        what: The typed word for the answer.
        key: The alarm's key, `PLACE/ALARM`.
        given: The command's options by name.
        until: When a put-off ends, UTC ms.
        now: When the answer is given, UTC ms.

    Raises:
        MisuseError: There is no such alarm, the answer means nothing in its present state, or a put-off has no fitting end.
    """
    answer = ANSWERS.get(what, Answer.SEEN)
    allow(what, given, ("by", "until") if answer is Answer.PUT_OFF else ("by",))
    payload = answer_payload(key, answer, given["by"] or "", until, now)
    _check_alarm(configuration, key, answer)
    return Entry(EventKind.ANSWER, payload, now, f"{key} {answer.value}")


def _check_alarm(configuration: Configuration, key: str, answer: Answer) -> None:
    from monitor.app.yard.yard_view import yard_view  # noqa: PLC0415 (only an answer needs to look)
    from monitor.engine import why_unanswerable  # noqa: PLC0415

    with yard_view(configuration) as view:
        alarms = view.engine.state.alarms
        wrong = why_unanswerable(view.engine.state, key, answer)
    if wrong:
        meant = "" if key in alarms else next((one for one in _close(key, alarms)), "")
        raise MisuseError(ended(f'{wrong}; did you mean "{meant}"?' if meant else wrong))


def _close(key: str, alarms: Iterable[str]) -> list[str]:
    return difflib.get_close_matches(key, sorted(alarms), 1, 0.8)
