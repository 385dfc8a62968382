"""Reads the form of a round's whole sheet: a value, squeeze, smell, time and initials for each spot of each place.

A field is called by what it holds, its place and its spot: `value:p1:west`. In a place, a line without a time or initials has
those of the line above it; the first has those of the sheet.
"""

from collections.abc import Iterable, Mapping
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from monitor.model.errors import FieldError
from monitor.model.natural_order import natural
from monitor.model.round_sheet import SheetLine
from monitor.model.settings import Settings
from monitor.notices import local
from monitor.page.forms.wish import when_of
from monitor.page.places.page_times import from_field
from monitor.page.visitors.sessions import tidy_name

_LONGEST = 40


def sheet_lines(
    settings: Settings, form: Mapping[str, str], by: str, now: int
) -> tuple[list[SheetLine], dict[str, str]]:
    """Return the lines of the sheet that were read, and the faults of others by their key.

    Args:
        settings: The yard's settings.
        form: The form.
        by: Who read where a line does not say.
        now: The daemon's time, UTC ms.

    Raises:
        FieldError: The sheet's own time is none, or lies ahead.
    """
    begun = when_of(form, settings, now)
    found: list[SheetLine] = []
    faults: dict[str, str] = {}
    number = 0
    for place, spots in lines_of_places(settings).items():
        at, who = begun, by
        for spot in spots:
            number += 1
            key = f"{place}:{spot}"
            told = {name: form.get(f"{name}:{key}", "").strip()[:_LONGEST] for name in ("value", "squeeze", "smell")}
            who = tidy_name(form.get(f"by:{key}", "")) or who
            try:
                at = _time(form.get(f"time:{key}", "").strip(), begun, now, settings) or at
            except FieldError as fault:
                if any(told.values()):
                    faults[key] = str(fault)
                continue
            again = bool(form.get("again") or form.get(f"again:{key}"))
            line = SheetLine(number=number, place=place, spot=spot, at=at, by=who, again=again, **told)
            if line.read:
                found.append(line)
    return found, faults


def lines_of_places(settings: Settings) -> dict[str, tuple[str, ...]]:
    """Return the spots of each place that have a line, heaps first, as people count; "" for one without named spots."""

    def count(places: Iterable[str]) -> list[str]:
        return sorted(places, key=lambda place: natural(settings.place_name(place)))

    return {place: settings.spots_of(place) or ("",) for place in (*count(settings.piles), *count(settings.bins))}


def _time(text: str, begun: int, now: int, settings: Settings) -> int | None:
    """Return the instant (UTC ms) of a time of day: of those that have come, the one nearest to the sheet's own time.

    Raises:
        FieldError: The text is no time of day.
    """
    if not text:
        return None
    zone = ZoneInfo(settings.site.time_zone)
    day = local(begun, zone)
    try:
        clock = datetime.strptime(text[:5], "%H:%M").time()  # noqa: DTZ007 (a time of day has no zone)
    except ValueError as fault:
        raise FieldError(f'"{text[:20]}" is no time of day; write such as 14:05.', "time") from fault
    days = (f"{(day + timedelta(days=more)).date()}T{clock:%H:%M}" for more in (-1, 0, 1))
    instants = [at for one in days if (at := from_field(one, zone)) is not None and at <= now]
    return min(instants, key=lambda at: abs(at - begun))
