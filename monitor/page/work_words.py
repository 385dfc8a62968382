"""Pieces of work and answers in the page's words."""

from monitor.model.settings import Settings
from monitor.model.work import Work, WorkKind
from monitor.notices import clean

NOTE_LENGTH = 400
"""Longest note that is shown in a line; the record keeps all of it."""


def work_words(settings: Settings, work: Work, *, with_note: bool = True) -> str:
    """Return what a piece of work says: `watered, 60 L (while turning)`."""
    words = work.kind.value
    if work.kind is WorkKind.NOTE and work.note:
        return clean(work.note, NOTE_LENGTH) if with_note else "note"
    if work.probe:
        words = f"{probe_name(settings, work.probe)} {'put in' if work.kind is WorkKind.PROBE_IN else 'taken out'}"
    if work.to:
        words += f" to {clean(settings.place_name(work.to))}"
    if work.amount:
        words += f", {clean(work.amount, 16)} {clean(work.measure, 16) if work.measure else ''}".rstrip()
    if work.note and with_note:
        words += f" ({clean(work.note, NOTE_LENGTH)})"
    return words


def probe_name(settings: Settings, probe: str) -> str:
    """Return what people call a probe, safe for one line."""
    known = settings.probes.get(probe)
    return clean(known.name if known is not None and known.name else probe, 24)
