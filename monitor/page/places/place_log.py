"""The log of a place: work and readings by hand, without entries that were taken back; each leads to its own sheet."""

from dataclasses import dataclass
from itertools import groupby
from urllib.parse import urlencode

from monitor.model.readings import HandRead, hand_series
from monitor.model.settings import Settings
from monitor.model.units import show_temperature, to_milli
from monitor.model.work import Work, WorkKind
from monitor.model.work_kinds import PROBE_WORK, declared
from monitor.notices import clean
from monitor.page.places.work_lines import NOTE_LENGTH, probe_name, work_words
from monitor.page.ports import Entry, Look

ENTRY = "/entry"
"""The address that finds an entry's sheet by the event that brought it; the sheet's own has the entry's number behind it."""


@dataclass(frozen=True, slots=True)
class LogLine:
    """A line of the log.

    Attributes:
        at: When the work was done or the reading taken, UTC ms.
        entries: The words of each entry on it, and the address of the entry's sheet.
        after: Words behind the entries, which they share, or "".
        by: Who did it, or "".
        photo: The name of the photo that goes with it, or "".
    """

    at: int
    entries: tuple[tuple[str, str], ...]
    after: str
    by: str
    photo: str = ""


def log_of(look: Look, place: str, after: int, most: int) -> list[LogLine]:
    """Return the newest entries of a place, the newest first.

    Probes put in, or taken out, by one person at one time share a line.

    Args:
        look: The look.
        place: Id of the place.
        after: Exclusive lower bound of their time, UTC ms.
        most: The most lines.
    """
    settings = look.engine.state.settings
    lines: list[LogLine] = []
    entries = list(reversed(look.works(place, after)))
    for (at, kind, by, _), group in groupby(entries, key=_together):
        some = list(group)
        if len(some) > 1:
            named = tuple(sorted((probe_name(settings, one.work.probe), _address(one)) for one in some))
            lines.append(LogLine(at, named, declared(kind).past, _name(by)))
        else:
            work = some[0].work
            lines.append(LogLine(at, ((work_words(settings, work), _address(some[0])),), "", _name(by), work.photo))
    for read in look.by_hand(place, after):
        series = hand_series(place, read.spot)
        address = f"{ENTRY}?{urlencode({'at': read.at, 'series': series, 'time': read.time})}"
        lines.append(LogLine(read.time, ((_hand_words(settings, read), address),), "", _name(read.by)))
    return sorted(lines, key=lambda line: -line.at)[:most]


def _address(entry: Entry) -> str:
    return f"{ENTRY}?{urlencode({'at': entry.at, 'row': entry.row})}"


def _name(by: str) -> str:
    return clean(by) if by else ""


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
    if work.kind in PROBE_WORK and not work.note and not work.photo:
        return work.time, work.kind, work.by, None
    # Entries of one import share their instant, so the content must also tell them apart.
    return work.time, work.kind, work.by, (entry.at, work)
