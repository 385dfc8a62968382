"""The log of a place: what was done, and what was read by hand, as it stands after what was taken back."""

from itertools import groupby

from monitor.model.readings import HandRead
from monitor.model.settings import Settings
from monitor.model.units import show_temperature, to_milli
from monitor.model.work import WorkKind
from monitor.model.work_kinds import PROBE_WORK, declared
from monitor.notices import clean
from monitor.page.places.work_lines import NOTE_LENGTH, probe_name, work_words
from monitor.page.ports import Entry, Look


def log_of(look: Look, place: str, after: int, most: int) -> list[tuple[int, str, str]]:
    """Return what was done or read by hand later than `after` (UTC ms), the newest first: (time, words, who).

    Probes that were put in, or taken out, at one moment by one person make one line.
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


def _together(entry: Entry) -> tuple[int, WorkKind, str, int]:
    work = entry.work
    apart = 0 if work.kind in PROBE_WORK and not work.note else entry.at
    # Entries of one import share their instant, so what tells others apart is their content as well.
    return work.time, work.kind, work.by, hash((apart, work.amount, work.note)) if apart else 0
