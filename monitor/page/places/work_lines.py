"""Words pieces of work for the page, as their declaration does, safe for one line."""

from dataclasses import replace
from zoneinfo import ZoneInfo

from monitor.model.settings import Settings
from monitor.model.times import parse_time
from monitor.model.work import Work
from monitor.model.work_kinds import declared
from monitor.model.work_words import work_said
from monitor.notices import clean, say_date, say_time

NOTE_LENGTH = 400
"""The longest note, in characters, that a line shows; the record keeps all of it."""
_LONGEST = 40


def work_words(settings: Settings, work: Work, *, with_note: bool = True) -> str:
    """Return a piece of work in words: `watered 60 L (while turning)`; for a note at a place, the note alone.

    Args:
        settings: The yard's settings, for names.
        work: The work.
        with_note: Whether to add its note.
    """
    kind = declared(work.kind)
    if kind.remark_only and work.note and not kind.of_yard:
        return clean(work.note, NOTE_LENGTH) if with_note else kind.past
    shown = replace(
        work,
        amount=_short(work.amount, 16),
        measure=_short(work.measure, 16),
        what=_short(work.what),
        source=_short(work.source),
        spot=_short(work.spot),
        moisture=_short(work.moisture, 16),
        fines=_short(work.fines),
        middle=_short(work.middle),
        overs=_short(work.overs),
        depth=_short(work.depth, 16),
        refused=_short(work.refused, NOTE_LENGTH),
        lot=_short(work.lot, 80),
        receiver=_short(work.receiver),
        price=_short(work.price),
        test=_short(work.test),
        note=_short(work.note, NOTE_LENGTH),
    )
    return work_said(
        shown,
        lambda place: clean(settings.place_name(place), _LONGEST),
        lambda probe: probe_name(settings, probe),
        with_note=with_note,
        contact_name=lambda contact: clean(settings.contact_name(contact), _LONGEST),
        instant=lambda text: _instant(settings, text),
    )


def _short(text: str, most: int = _LONGEST) -> str:
    return clean(text, most) if text else ""


def _instant(settings: Settings, text: str) -> str:
    """Return an instant of the record in words: `Fri 4 Dec 17:00`; another text as it is."""
    try:
        at = parse_time(text)
    except ValueError:
        return _short(text)
    zone = ZoneInfo(settings.site.time_zone)
    return f"{say_date(at, zone)} {say_time(at, at, zone)}"


def probe_name(settings: Settings, probe: str) -> str:
    """Return a probe's name, safe for one line."""
    known = settings.probes.get(probe)
    return clean(known.name if known is not None and known.name else probe, 24)
