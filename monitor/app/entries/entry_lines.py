"""Shows the log on the command line, and which earlier turning a new entry counts with."""

from collections.abc import Sequence
from typing import Any

from monitor.app.entries.amendments import entry_words
from monitor.app.entries.entry_log import Numbered, author_of
from monitor.app.yard.effect_words import local_time
from monitor.journal import Store
from monitor.model.settings import Settings
from monitor.model.times import MINUTE_MS, show_time
from monitor.model.turnings import counted_firsts
from monitor.model.work_kinds import turned_at

LINES = 30
"""How many entries are shown if the command names no beginning."""
_LATE_MS = 15 * MINUTE_MS
"""An entry made later than this after the work shows both times."""


def list_lines(store: Store, settings: Settings, entries: Sequence[Numbered], now: int) -> list[str]:
    """Return a line for each entry: number, time, what was done and by whom, and when it was entered if much later.

    Args:
        store: The journal, which knows who took readings by hand.
        settings: Names, units and time zone to show.
        entries: The entries to list.
        now: When the list is read, UTC ms; the year stands beside days of another one.
    """
    wide = max((len(str(one.number)) for one in entries), default=1)
    return [
        f"{one.number:>{wide}}  {local_time(one.time, settings, now)}  {_line(store, settings, one, now)}"
        for one in entries
    ]


def list_rows(store: Store, settings: Settings, entries: Sequence[Numbered]) -> list[dict[str, Any]]:
    """Return the lines of `list_lines` as JSON objects.

    Args:
        store: The journal, which knows who took readings by hand.
        settings: Names and units to show.
        entries: The entries to list.
    """
    return [
        {
            "number": one.number,
            "time": show_time(one.time),
            "entered": show_time(_entered(one)),
            "by": author_of(store, one),
            "place": one.place,
            "kind": "reading" if one.work is None else one.work.kind.value,
            "what": entry_words(settings, one),
            "photo": "" if one.work is None else one.work.photo,
            "undone": one.undone,
            "imported": one.imported,
        }
        for one in entries
    ]


def counts_with(entries: Sequence[Numbered], at: int) -> Numbered | None:
    """Return the earlier turning that counts as one with the event's entry; None if the entry counts by itself."""
    new = next((one for one in entries if one.at == at and one.work is not None), None)
    place = None if new is None else _turned_at(new)
    if new is None or place is None:
        return None
    same = sorted((one for one in entries if not one.undone and _turned_at(one) == place), key=_when)
    firsts = [first for first in counted_firsts(one.time for one in same) if first <= new.time]
    first = next(one for one in same if one.time == firsts[-1])
    return None if first is new or first.at == new.at else first


def _when(one: Numbered) -> tuple[int, int]:
    return one.time, one.number


def _turned_at(one: Numbered) -> str | None:
    return None if one.work is None else turned_at(one.work)


def _line(store: Store, settings: Settings, one: Numbered, now: int) -> str:
    parts = [entry_words(settings, one)]
    if one.work is not None and one.work.photo:
        parts.append("with a photo")
    if by := author_of(store, one):
        parts.append(by)
    if one.imported:
        parts.append(f"from a file on {local_time(one.at, settings, now)}")
    elif _entered(one) - one.time >= _LATE_MS:
        parts.append(f"entered {local_time(_entered(one), settings, now)}")
    if one.entered is not None and one.entered.corrected is not None and not one.undone:
        parts.append(f"put right {local_time(one.entered.corrected, settings, now)}")
    if one.undone:
        parts.append("TAKEN BACK")
    return "; ".join(parts)


def _entered(one: Numbered) -> int:
    return one.at if one.entered is None else one.entered.entered
