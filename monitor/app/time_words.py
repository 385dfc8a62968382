"""Times as people type them.

RFC 3339, `14:05` (today, local), `yesterday 18:00`, `Sunday 14:00` (the last one), `now`, `20 min ago`, `in 2 h`,
`2026-07-18`, `2026-07-18 14:05`.
"""

import re
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from monitor.model.errors import MisuseError
from monitor.model.times import parse_time

_SPAN = re.compile(r"(\d{1,4})\s*(m|min|minutes?|h|hours?|d|days?)", re.IGNORECASE)
_CLOCK = re.compile(r"(?:([a-z]+)\s+)?(\d{1,2}):(\d\d)", re.IGNORECASE | re.ASCII)
_DATE = re.compile(r"(\d{4})-(\d\d)-(\d\d)(?:[T ](\d{1,2}):(\d\d))?", re.ASCII)
_UNIT_MS = {"m": 60_000, "h": 3_600_000, "d": 86_400_000}
_DAY = {"yesterday": -1, "tomorrow": 1, "today": 0, "": 0}
_WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")


def parse_when(text: str, now_ms: int, time_zone: str, option: str) -> int:
    """Return the instant (UTC ms) that a person typed.

    Raises:
        MisuseError: It is none; the text says what would be right.
    """
    text = text.strip()
    if text.lower() == "now":
        return now_ms
    ago, ahead = text.lower().endswith(" ago"), text.lower().startswith("in ")
    span = _SPAN.fullmatch(text[: -len(" ago")].strip() if ago else text[len("in ") :].strip() if ahead else "")
    if span is not None:
        length = int(span[1]) * _UNIT_MS[span[2][0].lower()]
        return now_ms - length if ago else now_ms + length
    clock = _CLOCK.fullmatch(text)
    local = datetime.fromtimestamp(now_ms / 1000, ZoneInfo(time_zone))
    days = None if clock is None else _days_away((clock[1] or "").lower(), local.weekday())
    if clock is not None and days is not None and int(clock[2]) < 24 and int(clock[3]) < 60:
        day = local + timedelta(days=days)
        moment = day.replace(hour=int(clock[2]), minute=int(clock[3]), second=0, microsecond=0)
        return round(moment.timestamp() * 1000)
    date = _DATE.fullmatch(text)
    try:
        if date is not None:
            parts = [int(one or 0) for one in date.groups()]
            moment = datetime(parts[0], parts[1], parts[2], parts[3], parts[4], tzinfo=ZoneInfo(time_zone))
            return round(moment.timestamp() * 1000)
        return parse_time(text)
    except ValueError as fault:
        right = "write 14:05, yesterday 18:00, 20 min ago, in 2 h, or 2026-07-18T14:05:00-04:00"
        raise MisuseError(f"{option}: {text!r} is no time; {right}.") from fault


def _days_away(word: str, today: int) -> int | None:
    """Return how many days away a word is (a weekday: the last one, today included), or None where it is no day."""
    if word in _DAY:
        return _DAY[word]
    named = [number for number, day in enumerate(_WEEKDAYS) if len(word) >= 3 and day.startswith(word)]
    return -((today - named[0]) % 7) if len(named) == 1 else None
