"""The diary as an iCalendar file, which phones and calendars read.

1. A thing keeps its UID at every look, so a calendar that reads the file again moves an entry and does not add a second. The
   UID depends on the yard's name, since two yards may have a place of one id.
2. Calendars show nothing of yesterday. So a thing that is overdue moves on by whole days, at its hour, and SEQUENCE counts
   these days. Nobody keeps when a thing changed, so there is no LAST-MODIFIED, and DTSTAMP is the instant of the look.
3. All times are UTC. An entry takes half an hour and blocks nobody's time.

Source: RFC 5545; RFC 7986 for the calendar's name and how often to read it again.
"""

from collections.abc import Iterable
from datetime import UTC, datetime, timedelta
from uuid import NAMESPACE_DNS, uuid5
from zoneinfo import ZoneInfo

from icalendar import Calendar, Event

from monitor.app.diary.diary_words import place_words
from monitor.diary import Due, reason, title
from monitor.model.settings import Settings
from monitor.model.times import DAY_MS, MINUTE_MS
from monitor.notices import clean, say_date, say_time

TAKES = timedelta(minutes=30)
READ_AGAIN = timedelta(hours=1)
_OURS = uuid5(NAMESPACE_DNS, "diary.heaptender.invalid")


def calendar_bytes(found: Iterable[Due], settings: Settings, now: int) -> bytes:
    """Return the diary as iCalendar, lines folded at 75 octets.

    Args:
        found: The things in order.
        settings: Names and time zone.
        now: The instant of the look, UTC ms.
    """
    calendar = Calendar()
    site = clean(settings.site.name)
    calendar.add("prodid", "-//Heaptender//diary//EN")
    calendar.add("version", "2.0")
    calendar.add("method", "PUBLISH")
    calendar.add("name", f"{site}: diary")
    calendar.add("refresh-interval", READ_AGAIN)
    for one in found:
        calendar.add_component(_event(one, settings, now))
    return bytes(calendar.to_ical())


def uid(one: Due, site: str) -> str:
    """Return the UID of a thing, the same at every look.

    Args:
        one: The thing.
        site: The yard's name.
    """
    return str(uuid5(_OURS, f"{site}/{one.id}"))


def _event(one: Due, settings: Settings, now: int) -> Event:
    event = Event()
    late_days = 0 if one.expected else max(0, (now - one.due_ms) // DAY_MS)
    event.add("uid", uid(one, settings.site.name))
    event.add("dtstamp", _utc(now))
    event.add("dtstart", _utc(one.due_ms + late_days * DAY_MS))
    event.add("duration", TAKES)
    event.add("sequence", late_days)
    event.add("summary", f"{place_words(settings, one.place)}: {title(one)}")
    event.add("description", " ".join((reason(one), *_waits(one, settings, now))))
    event.add("location", clean(settings.site.name))
    event.add("categories", [one.what.value])
    event.add("status", "TENTATIVE" if one.expected else "CONFIRMED")
    event.add("transp", "TRANSPARENT")
    return event


def _waits(one: Due, settings: Settings, now: int) -> list[str]:
    """Return until when a thing can wait, and since when it is due if that was not today: a calendar is read at any time."""
    if one.expected:
        return []
    zone, said = ZoneInfo(settings.site.time_zone), []
    if now - one.due_ms >= DAY_MS:
        said.append(f"Due since {say_date(one.due_ms, zone)}.")
    if one.latest_ms is not None and one.latest_ms > one.due_ms:
        day = say_date(one.latest_ms, zone)
        said.append(f"It can wait until {day} {say_time(one.latest_ms, one.latest_ms, zone)}.")
    return said


def _utc(at: int) -> datetime:
    return datetime.fromtimestamp(at // MINUTE_MS * 60, UTC)
