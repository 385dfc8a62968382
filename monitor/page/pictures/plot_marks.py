"""The lettered marks under a plot: the work at a place, and the messages about it."""

from dataclasses import replace
from typing import NamedTuple
from zoneinfo import ZoneInfo

from monitor.drawing import Note, NoteKind
from monitor.model.alarm_kinds import CATALOG
from monitor.model.effects import EffectKind, Occasion
from monitor.model.notice_values import keys_of
from monitor.model.words import AlarmState
from monitor.model.work import WorkKind
from monitor.model.work_kinds import PROBE_WORK
from monitor.notices import redated
from monitor.page.places.needs import name_of
from monitor.page.places.work_lines import work_words
from monitor.page.ports import Look

MOST_MARKS = 24
"""The most lettered marks under a plot; older ones are left out, and the page says so."""
_LEFT_OUT = PROBE_WORK | {WorkKind.TURNED}
"""Turnings have their own marks; probes in and out stand in the log below."""


class PlotMarks(NamedTuple):
    """The marks that are shown, the oldest first, and how many older ones were left out."""

    shown: tuple[Note, ...] = ()
    left_out: int = 0


def marks_between(look: Look, place: str, start: int, end: int) -> PlotMarks:
    """Return the lettered marks of a place over a span.

    Args:
        look: The look.
        place: Id of the place.
        start: First instant, UTC ms.
        end: Last instant, inclusive, UTC ms.
    """
    settings = look.engine.state.settings
    marks = [
        Note(at=entry.work.time, words=work_words(settings, entry.work))
        for entry in look.works(place, start - 1)
        if entry.work.kind not in _LEFT_OUT and entry.work.time <= end
    ]
    marks += [Note(at=at, words=words, kind=NoteKind.NOTICE) for at, words in _told(look, place, start, end)]
    marks.sort(key=lambda mark: mark.at)
    shown = tuple(replace(mark, number=number) for number, mark in enumerate(marks[-MOST_MARKS:], 1))
    return PlotMarks(shown, len(marks) - len(shown))


def _told(look: Look, place: str, start: int, end: int) -> list[tuple[int, str]]:
    """Return the messages about a place as (time, words): alarms that began, in the record's words, and other news.

    A message says *yesterday* for the day before it went out; here the day is named, so that it can be read at any time.
    """
    found: list[tuple[int, str]] = []
    rang: dict[tuple[int, str], list[str]] = {}
    told: set[str] = set()
    name = f"{name_of(look.engine, place)}: "
    zone = ZoneInfo(look.engine.state.settings.site.time_zone)
    for effect in look.effects(start - 1, end, place):
        draft = effect.draft
        if draft.kind is EffectKind.ALARM and draft.after == AlarmState.UNACKNOWLEDGED:
            rang.setdefault((effect.at, draft.axis), []).append(draft.why.removeprefix(name).removesuffix("."))
        elif draft.kind is EffectKind.NOTICE and draft.axis == Occasion.NEW and draft.text not in told:
            told.add(draft.text)
            keys = [key.split("/") for key in keys_of(draft.values)]
            if not any(len(key) > 1 and key[1] in CATALOG for key in keys):
                words = draft.text.split(". ", 1)[0].removeprefix(name)
                found.append((effect.at, redated(words, effect.at, zone)))
    for (at, _), whys in rang.items():
        more = f"; {len(whys) - 1} more likewise" if len(whys) > 1 else ""
        found.append((at, whys[0][:1].upper() + whys[0][1:] + more))
    return found
