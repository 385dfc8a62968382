"""Instants of the yard's local days, and times in words.

Rules:
1. A local time that comes twice (clocks go back) means the first of the two; a missing one (clocks go forward) counts on
   past the change: 02:30 becomes 03:30. So each minute of a local date has exactly one instant.
2. A daily span such as quiet hours lasts from its start's instant to its end's; minutes are never compared. So quiet hours
   that are over do not begin again when the clock strikes the same hour twice.

Source: PEP 495 (the `fold` of repeated and missing local times).
"""

from collections.abc import Iterator
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from monitor.model.times import DAY_MS, show_duration

DAY_MINUTES = 1440
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_MILLISECOND = timedelta(milliseconds=1)
WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def local(at: int, zone: ZoneInfo) -> datetime:
    """Return an instant (UTC ms) as the yard's local time."""
    return (_EPOCH + at * _MILLISECOND).astimezone(zone)


def instant(day: date, minute: int, zone: ZoneInfo) -> int:
    """Return the instant of a local time.

    Args:
        day: The local date.
        minute: Minutes after midnight; 1440 and more run into the next day.
        zone: The yard's time zone.

    Returns:
        UTC ms.
    """
    days, rest = divmod(minute, DAY_MINUTES)
    moment = datetime.combine(day + timedelta(days=days), time(rest // 60, rest % 60), tzinfo=zone)
    return (moment.astimezone(UTC) - _EPOCH) // _MILLISECOND


def spans_near(at: int, start_minute: int, end_minute: int, zone: ZoneInfo) -> Iterator[tuple[date, int, int]]:
    """Yield a daily span on the dates on which it can hold an instant.

    Args:
        at: The instant, UTC ms.
        start_minute: The span's start, minutes after midnight.
        end_minute: Its end; at or before the start it runs into the next day.
        zone: The yard's time zone.

    Yields:
        (local date of the start, start, end), instants in UTC ms; the end is not part of the span.
    """
    end = end_minute if end_minute > start_minute else end_minute + DAY_MINUTES
    today = local(at, zone).date()
    for day in (today - timedelta(days=1), today):
        yield day, instant(day, start_minute, zone), instant(day, end, zone)


def next_daily(after: int, minute: int, zone: ZoneInfo) -> int:
    """Return the next instant of a daily time.

    Args:
        after: The result is later than this, UTC ms.
        minute: Local minutes after midnight.
        zone: The yard's time zone.

    Returns:
        UTC ms.
    """
    day = local(after, zone).date() - timedelta(days=1)
    while (found := instant(day, minute, zone)) <= after:
        day += timedelta(days=1)
    return found


def say_time(at: int, now: int, zone: ZoneInfo) -> str:
    """Return an instant in words: `14:05`, `yesterday 14:05`, `Mon 14:05`, `3 Mar 14:05`, `tomorrow 14:05`.

    The last six days have their weekdays, other days their date, with the year if it is not this year. A time that comes
    twice on its date carries the name of its zone.

    Args:
        at: The instant, UTC ms.
        now: When the words are read, UTC ms.
        zone: The yard's time zone.
    """
    moment = local(at, zone)
    today = local(now, zone).date()
    clock = f"{moment.hour:02d}:{moment.minute:02d}"
    if moment.replace(fold=0).utcoffset() != moment.replace(fold=1).utcoffset():
        clock += f" {moment.tzname()}"
    behind = (today - moment.date()).days
    if behind == 0:
        return clock
    if behind in (1, -1):
        return f"{'yesterday' if behind > 0 else 'tomorrow'} {clock}"
    if 1 < behind < 7:
        return f"{WEEKDAYS[moment.weekday()]} {clock}"
    year = f" {moment.year}" if moment.year != today.year else ""
    return f"{moment.day} {MONTHS[moment.month - 1]}{year} {clock}"


def say_date_time(at: int, now: int, zone: ZoneInfo) -> str:
    """Return an instant with its date in words: `3 Mar 14:05`.

    Args:
        at: The instant, UTC ms.
        now: The year stands there if it is another than that of `now` (UTC ms).
        zone: The yard's time zone.
    """
    moment, today = local(at, zone), local(now, zone).date()
    year = f" {moment.year}" if moment.year != today.year else ""
    return f"{moment.day} {MONTHS[moment.month - 1]}{year} {say_time(at, at, zone)}"


def say_date(at: int, zone: ZoneInfo, now: int | None = None) -> str:
    """Return the local date of an instant: `Wed 4 Mar`.

    Args:
        at: The instant, UTC ms.
        zone: The yard's time zone.
        now: The year stands there if it is another than that of `now` (UTC ms). None: it never does.
    """
    moment = local(at, zone)
    year = f" {moment.year}" if now is not None and moment.year != local(now, zone).year else ""
    return f"{WEEKDAYS[moment.weekday()]} {moment.day} {MONTHS[moment.month - 1]}{year}"


def say_span(duration_ms: int) -> str:
    """Return a duration (ms) no finer than people need: `25 min`, `3 h`, `26 h`, `5 days`."""
    span = max(duration_ms, 0)
    if span > 3 * DAY_MS:
        return f"{span // DAY_MS} days"
    if span >= 10 * 3_600_000:
        return f"{span // 3_600_000} h"
    return show_duration(span)
