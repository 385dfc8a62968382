"""Writes times and spans for the page: local time, short and in full."""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

from monitor.model.times import DAY_MS, HOUR_MS, MINUTE_MS, has_a_day_everywhere
from monitor.notices import instant, local, say_span

_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


def in_full(at: int, zone: ZoneInfo) -> str:
    """Return `Sun 19 Jul 2026, 14:05`."""
    moment = local(at, zone)
    return f"{moment:%a} {moment.day} {moment:%b %Y, %H:%M}"


def day_words(at: int, zone: ZoneInfo) -> str:
    """Return the head of a day's sheet: `Mon 20 July, 07:52`."""
    moment = local(at, zone)
    return f"{moment:%a} {moment.day} {moment:%B, %H:%M}"


def for_field(at: int, zone: ZoneInfo) -> str:
    """Return an instant as the value of a form's `datetime-local` field: `2026-07-19T14:05`."""
    return f"{local(at, zone):%Y-%m-%dT%H:%M}"


def from_field(text: str, zone: ZoneInfo) -> int | None:
    """Return the instant (UTC ms) of a `datetime-local` field; None if it has none."""
    try:
        moment = datetime.fromisoformat(text.strip())
    except ValueError:
        return None
    if moment.tzinfo is None:
        moment = moment.replace(tzinfo=zone)
    at = (moment - _EPOCH) // timedelta(milliseconds=1)
    return at if has_a_day_everywhere(at) else None


def from_text(text: str, zone: ZoneInfo) -> int | None:
    """Return the instant (UTC ms) in an address or a hidden field, as a number or as `from_field`; None if it has none."""
    return int(text) if text.isdecimal() and len(text) <= 14 else from_field(text, zone)


def ago(at: int, now: int) -> str:
    """Return how long ago something was: `just now`, `4 min ago`, `3 h ago`, `5 days ago`."""
    span = now - at
    return "just now" if span < MINUTE_MS else f"{say_span(span)} ago"


def coarse(span_ms: int) -> str:
    """Return a span (ms) as large numbers show it, rounded down: `40 min`, `5 h`, `3 days`."""
    span = max(0, span_ms)
    if span < HOUR_MS:
        return f"{span // MINUTE_MS} min"
    return f"{span // HOUR_MS} h" if span < 2 * DAY_MS else f"{span // DAY_MS} days"


def age(at: int, now: int) -> str:
    """Return the age of a batch: `3 h old` on its first day, then `4 days old`."""
    days = max(0, now - at) // DAY_MS
    if not days:
        return f"{say_span(max(0, now - at))} old"
    return f"{days} days old" if days > 1 else "1 day old"


def last_evening(now: int, zone: ZoneInfo) -> int:
    """Return the likely time at which people last went home: 16:00 on the last weekday before today."""
    day = local(now, zone).date() - timedelta(days=1)
    while day.weekday() > 4:
        day -= timedelta(days=1)
    return instant(day, 16 * 60, zone)
