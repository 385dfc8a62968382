"""Says in one sentence why an entry cannot be taken in, and what would be right."""

import difflib
from collections.abc import Iterable, Mapping
from typing import Any
from zoneinfo import ZoneInfo

from monitor.model.absence_entry import absence_fault
from monitor.model.errors import FieldError
from monitor.model.events import Answer, EventKind, withdrawn_of
from monitor.model.forecast_entry import FORECAST, forecast_fault
from monitor.model.readings import is_hand
from monitor.model.settings import AMBIENT, YARD, Settings
from monitor.model.work import WorkKind
from monitor.model.work_entry import EMPTY_NOTE, check_needs
from monitor.model.work_kinds import ABSENCE, GOING, PROBE_WORK, KindOfWork, Where, declared
from monitor.notices import local


def refusal(kind: EventKind, payload: Mapping[str, Any], settings: Settings) -> str:
    """Return why an event cannot be taken in, or "" if it can.

    Args:
        kind: The kind of event.
        payload: The event's payload, as JSON values.
        settings: The settings in force, which know all places and probes.
    """
    if kind is EventKind.WORK:
        return _work(payload, settings)
    if kind is EventKind.CORRECTION:
        if readings := withdrawn_of(payload):
            probes = {str(reading.get("probe", "")) for reading in readings}
            by_hand = all(map(is_hand, probes))
            return _probes(probes, settings) if by_hand else "only a reading taken by hand can be taken back"
        return _work(payload["work"], settings) if payload.get("work") else ""
    if kind in (EventKind.READINGS, EventKind.IMPORTED):
        wrong = _probes({str(row[1]) for row in payload.get("rows", ())}, settings)
        return wrong or next((one for one in (_work(work, settings) for work in payload.get("work", ())) if one), "")
    if kind is EventKind.ANSWER and payload.get("answer") not in set(Answer):
        return f"{payload.get('answer')!r} is no answer to an alarm; those are {', '.join(Answer)}"
    return ""


def near(word: str, known: Iterable[str]) -> str:
    """Return a hint at the known word closest to a mistyped one, or the list of known words, as the end of a sentence."""
    names = sorted(known)
    close = difflib.get_close_matches(word, names, 1)
    if close:
        return f'did you mean "{close[0]}"?'
    return f"there are {', '.join(names)}" if names else "there are none"


def ended(sentence: str) -> str:
    """Return a sentence with a full stop, unless it already has an end."""
    return sentence if sentence.endswith(("?", ".")) else f"{sentence}."


def _work(payload: Mapping[str, Any], settings: Settings) -> str:
    place, to = str(payload.get("place", "")), str(payload.get("to", ""))
    if payload.get("kind") not in set(WorkKind):
        return f'"{payload.get("kind")}" is no kind of work; {near(str(payload.get("kind")), WorkKind)}'
    row = declared(WorkKind(payload["kind"]))
    if wrong := _places(row, place, to, settings):
        return wrong
    probe = str(payload.get("probe", ""))
    if probe and probe not in settings.probes:
        return f'there is no probe "{probe}"; {near(probe, settings.probes)}'
    if payload["kind"] in PROBE_WORK and not probe:
        return "name the probe that was put in or taken out"
    if payload["kind"] in GOING and not to:
        return f"say where to; {near('', settings.piles)}"
    if row.remark_only and (wrong := _remark(row, payload, settings)):
        return wrong
    try:
        check_needs(settings, row.kind, payload)
    except FieldError as fault:
        return str(fault)
    return absence_fault(payload) if row.fields == ABSENCE else ""


def _remark(row: KindOfWork, payload: Mapping[str, Any], settings: Settings) -> str:
    says, given = ("note", *(FORECAST if row.foretells else ())), payload.get("time")
    if not any(str(payload.get(name) or "").strip() for name in says):
        return EMPTY_NOTE
    if not row.foretells or not isinstance(given, int):
        return ""
    today = local(given, ZoneInfo(settings.site.time_zone)).date()
    return forecast_fault(payload, today, settings.site.temperature_unit)[1]


def _places(row: KindOfWork, place: str, to: str, settings: Settings) -> str:
    places = [*settings.piles, *settings.bins]
    for named in filter(None, (place, to)):
        if named not in places and named not in (AMBIENT, YARD):
            return f'there is no pile or bin "{named}"; {near(named, places)}'
    if row.of_yard and place != YARD:
        return f'"{row.kind.value}" concerns the whole yard; its place is "{YARD}"'
    if to == YARD or (place == YARD and Where.YARD not in row.where):
        return f'"{row.kind.value}" is not done to the whole yard; {near("", places)}'
    return "" if place else f"the place is missing; {near('', places)}"


def _probes(named: set[str], settings: Settings) -> str:
    for probe in sorted(named):
        by_hand = settings.place_of_hand(probe) is not None
        if probe not in settings.probes and not by_hand:
            return f'there is no probe "{probe}"; {near(probe, settings.probes)}'
    return ""
