"""The log of a place: work and readings by hand, without entries that were taken back."""

from itertools import groupby

from monitor.model.readings import HandRead
from monitor.model.settings import Settings
from monitor.model.units import show_temperature, to_milli
from monitor.model.work import Work, WorkKind
from monitor.model.work_kinds import PROBE_WORK, declared
from monitor.notices import clean
from monitor.page.places.work_lines import NOTE_LENGTH, probe_name, work_words
from monitor.page.ports import Entry, Look


def log_of(look: Look, place: str, after: int, most: int) -> list[tuple[int, str, str]]:
    """Return the newest entries of a place as (time, words, who), the newest first.

    Probes put in, or taken out, by one person at one time share a line.

    Args:
        look: The look.
        place: Id of the place.
        after: Exclusive lower bound of their time, UTC ms.
        most: The most lines.
    """
    settings = look.engine.state.settings
    lines: list[tuple[int, str, str]] = []
    entries = list(reversed(look.works(place, after)))
    for (at, kind, by, _), group in groupby(entries, key=_together):
        some = list(group)
        if len(some) > 1:
            names = sorted(probe_name(settings, entry.work.probe) for entry in some)
            lines.append((at, f"{', '.join(names)} {declared(kind).past}", by))
        else:
            lines.append((at, work_words(settings, some[0].work), by))
    lines += [(read.time, _hand_words(settings, read), read.by) for read in look.by_hand(place, after)]
    return sorted(lines, key=lambda line: -line[0])[:most]


def _hand_words(settings: Settings, read: HandRead) -> str:
    shown = show_temperature(to_milli(read.micro, read.unit), settings.site.temperature_unit)
    said = f"{shown} by hand at {clean(read.spot, 24)}" if read.spot else f"{shown} by hand"
    more = [
        clean(text, NOTE_LENGTH) for text in (f"with {read.thermometer}" if read.thermometer else "", read.note) if text
    ]
    return f"{said} ({'; '.join(more)})" if more else said


def _together(entry: Entry) -> tuple[int, WorkKind, str, tuple[int, Work] | None]:
    """Return the key that entries in one line of the log share."""
    work = entry.work
    if work.kind in PROBE_WORK and not work.note:
        return work.time, work.kind, work.by, None
    # Entries of one import share their instant, so the content must also tell them apart.
    return work.time, work.kind, work.by, (entry.at, work)
