"""Times as people type them: RFC 3339, `14:05` (today, local), `yesterday 18:00`, `20 min ago`, `in 2 h`, `2026-07-18`."""

import re
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from monitor.model.errors import MisuseError
from monitor.model.times import parse_time

_SPAN = re.compile(r"(\d{1,4})\s*(m|min|minutes?|h|hours?|d|days?)", re.IGNORECASE)
_CLOCK = re.compile(r"(?:(yesterday|tomorrow|today)\s+)?(\d{1,2}):(\d\d)", re.IGNORECASE)
_DATE = re.compile(r"(\d{4})-(\d\d)-(\d\d)", re.ASCII)
_UNIT_MS = {"m": 60_000, "h": 3_600_000, "d": 86_400_000}
_DAY = {"yesterday": -1, "tomorrow": 1, "today": 0, "": 0}


def parse_when(text: str, now_ms: int, time_zone: str, option: str) -> int:
    """Return the instant (UTC ms) that a person typed.

    Raises:
        MisuseError: It is none; the text says what would be right.
    """
    text = text.strip()
    ago, ahead = text.lower().endswith(" ago"), text.lower().startswith("in ")
    span = _SPAN.fullmatch(text[: -len(" ago")].strip() if ago else text[len("in ") :].strip() if ahead else "")
    if span is not None:
        length = int(span[1]) * _UNIT_MS[span[2][0].lower()]
        return now_ms - length if ago else now_ms + length
    clock = _CLOCK.fullmatch(text)
    if clock is not None and int(clock[2]) < 24 and int(clock[3]) < 60:
        local = datetime.fromtimestamp(now_ms / 1000, ZoneInfo(time_zone))
        day = local + timedelta(days=_DAY[(clock[1] or "").lower()])
        moment = day.replace(hour=int(clock[2]), minute=int(clock[3]), second=0, microsecond=0)
        return round(moment.timestamp() * 1000)
    date = _DATE.fullmatch(text)
    try:
        if date is not None:
            midnight = datetime(int(date[1]), int(date[2]), int(date[3]), tzinfo=ZoneInfo(time_zone))
            return round(midnight.timestamp() * 1000)
        return parse_time(text)
    except ValueError as fault:
        right = "write 14:05, yesterday 18:00, 20 min ago, in 2 h, or 2026-07-18T14:05:00-04:00"
        raise MisuseError(f"{option}: {text!r} is no time; {right}.") from fault
