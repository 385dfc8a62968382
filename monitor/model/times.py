"""RFC 3339 times and plain durations as integer milliseconds; no clock is read here.

Source: RFC 3339, section 5.6 (Internet date/time format).
"""

import re
from datetime import UTC, datetime, timedelta

SECOND_MS = 1_000
MINUTE_MS = 60 * SECOND_MS
HOUR_MS = 60 * MINUTE_MS
DAY_MS = 24 * HOUR_MS

YEAR_2000_MS = 946_684_800_000
"""2000-01-01T00:00:00Z; a reading older than this has no usable clock."""

_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_RFC3339 = re.compile(
    r"(\d{4})-(\d\d)-(\d\d)[Tt ](\d\d):(\d\d):(\d\d)(?:\.(\d{1,12}))?(?:[Zz]|([+-])(\d\d):(\d\d))", re.ASCII
)
_DURATION = re.compile(r"(\d{1,9})\s*(ms|s|m|h|d)", re.ASCII)
_UNIT_MS = {"ms": 1, "s": SECOND_MS, "m": MINUTE_MS, "h": HOUR_MS, "d": DAY_MS}


def parse_time(text: str) -> int:
    """Return an RFC 3339 time as UTC milliseconds; digits below a millisecond are cut off.

    Raises:
        ValueError: The text is not an RFC 3339 time with a zone (`Z` or `+hh:mm`).
    """
    found = _RFC3339.fullmatch(text.strip())
    if found is None:
        raise ValueError(f"{text!r} is not a time like 2026-03-01T09:00:00Z (date, time and zone)")
    year, month, day, hour, minute, second, fraction, sign, zone_h, zone_m = found.groups()
    leap = second == "60"
    try:
        moment = datetime(
            int(year), int(month), int(day), int(hour), int(minute), 59 if leap else int(second), tzinfo=UTC
        )
    except ValueError as fault:
        raise ValueError(f"{text!r} is not a time: {fault}") from fault
    whole_s = (moment - _EPOCH) // timedelta(seconds=1) + (1 if leap else 0)
    if sign is not None:
        if int(zone_h) > 23 or int(zone_m) > 59:
            raise ValueError(f"{text!r} is not a time: its zone is beyond 23:59")
        offset_s = int(zone_h) * 3600 + int(zone_m) * 60
        whole_s -= offset_s if sign == "+" else -offset_s
    return whole_s * 1000 + int((fraction or "0").ljust(3, "0")[:3])


def in_calendar(time_ms: int) -> int:
    """Return an instant (UTC ms) as it is.

    Raises:
        ValueError: The instant is outside the years 1 to 9999, so that it cannot be shown.
    """
    if not -62_135_596_800_000 <= time_ms < 253_402_300_800_000:
        raise ValueError(f"{time_ms} ms is outside the years 1 to 9999")
    return time_ms


def has_a_day_everywhere(time_ms: int) -> bool:
    """Return whether an instant (UTC ms) lies in the calendar in every time zone; else a local time of it cannot be shown."""
    return -62_135_596_800_000 + DAY_MS <= time_ms < 253_402_300_800_000 - DAY_MS


def show_time(time_ms: int) -> str:
    """Return UTC milliseconds as `YYYY-MM-DDThh:mm:ss.sssZ`.

    Raises:
        ValueError: The instant is outside the years 1 to 9999.
    """
    try:
        moment = _EPOCH + timedelta(milliseconds=time_ms)
    except OverflowError as fault:
        raise ValueError(f"{time_ms} ms is outside the years 1 to 9999") from fault
    return f"{moment:%Y-%m-%dT%H:%M:%S}.{moment.microsecond // 1000:03d}Z".rjust(24, "0")


def parse_duration(text: str) -> int:
    """Return a duration such as `90s`, `20m`, `72h` or `15d` as milliseconds.

    Raises:
        ValueError: The text is not one whole number and one of the units s, m, h, d (or ms).
    """
    found = _DURATION.fullmatch(text.strip())
    if found is None:
        raise ValueError(f"{text!r} is not a duration like 90s, 20m, 72h or 15d")
    return int(found[1]) * _UNIT_MS[found[2]]


def show_duration(duration_ms: int) -> str:
    """Return a duration as people say it, two parts at most: `61 h 20 min`, `4 min`, `3 days 2 h`.

    Durations of up to 72 h are in hours, as in the published rules; below a second it is `0 s`.
    """
    seconds = abs(duration_ms) // SECOND_MS
    if seconds < 60:
        text = f"{seconds} s"
    elif seconds < 3600:
        text = f"{seconds // 60} min"
    elif seconds <= 72 * 3600:
        hours, minutes = seconds // 3600, seconds % 3600 // 60
        text = f"{hours} h" + (f" {minutes} min" if minutes else "")
    else:
        days, hours = seconds // 86400, seconds % 86400 // 3600
        text = f"{days} days" + (f" {hours} h" if hours else "")
    return ("-" if duration_ms < 0 else "") + text
