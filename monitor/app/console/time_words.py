"""Reads times as people type them.

RFC 3339, `14:05` or `9:30pm` (today, local), `yesterday 18:00`, `Sunday 2pm` (the last one), `Oct 5 9am`, `5 Oct 2026 14:05`,
`now`, `20 min ago`, `in 2 h`, `2026-07-18`, `2026-07-18 14:05`. A day without a year is the most recent day of that name, or
the next if a future time is asked for. `10/5` and `5.10.` may be two different days, so they are refused with a question.
"""

import re
from dataclasses import dataclass
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from monitor.model.errors import MisuseError
from monitor.model.times import has_a_day_everywhere, parse_time

_SPAN = re.compile(r"(\d{1,4})\s*(m|min|minutes?|h|hours?|d|days?)", re.IGNORECASE | re.ASCII)
_CLOCK = re.compile(
    r"(\d{1,2})(?:[:.](\d\d))?\s*([ap])\.?m\.?|(\d{1,2}):(\d\d)|(noon|midnight)", re.IGNORECASE | re.ASCII
)
_DATE = re.compile(r"(\d{4})-(\d\d)-(\d\d)", re.ASCII)
_DAY_MONTH = re.compile(r"(\d{1,2})(?:st|nd|rd|th|\.)?\s+([a-z]{3,9})\.?(?:,?\s+(\d{4}))?", re.IGNORECASE | re.ASCII)
_MONTH_DAY = re.compile(r"([a-z]{3,9})\.?\s+(\d{1,2})(?:st|nd|rd|th)?(?:,?\s+(\d{4}))?", re.IGNORECASE | re.ASCII)
_NUMERIC = re.compile(r"(\d{1,2})[/.](\d{1,2})(?:[/.](\d{2,4})?)?", re.ASCII)
_UNIT_MS = {"m": 60_000, "h": 3_600_000, "d": 86_400_000}
_DAY = {"yesterday": -1, "tomorrow": 1, "today": 0}
_WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
_MONTHS = (
    "january", "february", "march", "april", "may", "june",
    "july", "august", "september", "october", "november", "december",
)  # fmt: skip
_PAST = "write 14:05, 9:30pm, yesterday 18:00, Oct 5 9am, 20 min ago, 2026-07-18, or 2026-07-18T14:05:00-04:00"
_TO_COME = "write 14:05, 9:30pm, Oct 5 9am, in 2 h, or 2026-07-18T14:05:00-04:00"


@dataclass(frozen=True, slots=True)
class _Asked:
    """The context of a typed time: local now, whether the time lies ahead, and the option that asked for it."""

    now: datetime
    ahead: bool
    option: str


def parse_when(text: str, now_ms: int, time_zone: str, option: str, *, ahead: bool = False) -> int:
    """Return the instant (UTC ms) that a person typed.

    Args:
        text: The typed text.
        now_ms: Now, UTC ms.
        time_zone: The site's time zone, in which clock times and days are read.
        option: The option that asked for a time; refusals name it.
        ahead: Whether the time lies ahead, so that a day without a year is the next one.

    Raises:
        MisuseError: The text is no time, or can be read as two; the message says what to write.
    """
    text = " ".join(text.split())
    if text.lower() == "now":
        return now_ms
    ago, later = text.lower().endswith(" ago"), text.lower().startswith("in ")
    span = _SPAN.fullmatch(text[: -len(" ago")].strip() if ago else text[len("in ") :].strip() if later else "")
    if span is not None:
        length = int(span[1]) * _UNIT_MS[span[2][0].lower()]
        return now_ms - length if ago else now_ms + length
    asked = _Asked(datetime.fromtimestamp(now_ms / 1000, ZoneInfo(time_zone)), ahead, option)
    try:
        moment = _local(text, asked)
        found = parse_time(text) if moment is None else round(moment.timestamp() * 1000)
        if not has_a_day_everywhere(found):
            raise ValueError("it lies at the end of the calendar")
    except ValueError as fault:
        raise MisuseError(f"{option}: {text[:40]!r} is no time; {_TO_COME if ahead else _PAST}.") from fault
    return found


def _local(text: str, asked: _Asked) -> datetime | None:
    """Return a local day, a clock time, or both in either order; None if the text is neither.

    Raises:
        ValueError: The calendar has no such day.
    """
    words = re.sub(r"\s+at\s+", " ", text.replace("T", " ", 1) if _DATE.match(text) and len(text) <= 16 else text)
    # A bare *Sunday* names a whole day, which is too vague for the time of a piece of work.
    whole = None if words.isalpha() else _day(words, asked)
    if whole is not None:
        return whole
    clock = _clock(words)
    if clock is not None:
        return _at(asked.now, clock)
    for cut in [found.start() for found in re.finditer(" ", words)]:
        first, second = words[:cut], words[cut + 1 :]
        for day_words, clock_words in ((first, second), (second, first)):
            clock = _clock(clock_words)
            day = _day(day_words.rstrip(","), asked) if clock is not None else None
            if clock is not None and day is not None:
                return _at(day, clock)
    return None


def _at(day: datetime, clock: tuple[int, int]) -> datetime:
    return day.replace(hour=clock[0], minute=clock[1], second=0, microsecond=0)


def _clock(text: str) -> tuple[int, int] | None:
    """Return hour and minute; None if the text is no time of day."""
    found = _CLOCK.fullmatch(text)
    if found is None:
        return None
    if found[6]:
        return (12, 0) if found[6].lower() == "noon" else (0, 0)
    if found[3]:
        hour, minute = int(found[1]), int(found[2] or 0)
        if not 1 <= hour <= 12 or minute > 59:
            return None
        return hour % 12 + (12 if found[3].lower() == "p" else 0), minute
    hour, minute = int(found[4]), int(found[5])
    return (hour, minute) if hour < 24 and minute < 60 else None


def _day(text: str, asked: _Asked) -> datetime | None:
    """Return the midnight at which a day begins; None if the text is no day.

    Raises:
        ValueError: The calendar has no such day.
    """
    midnight = asked.now.replace(hour=0, minute=0, second=0, microsecond=0)
    word = text.lower()
    if word in _DAY:
        return midnight + timedelta(days=_DAY[word])
    named = [number for number, day in enumerate(_WEEKDAYS) if len(word) >= 3 and day.startswith(word)]
    if len(named) == 1:
        away = (midnight.weekday() - named[0]) % 7
        return midnight + timedelta(days=(7 - away) % 7 if asked.ahead else -away)
    if date := _DATE.fullmatch(text):
        return midnight.replace(year=int(date[1]), month=int(date[2]), day=int(date[3]))
    if found := _DAY_MONTH.fullmatch(text):
        return _of_year(int(found[1]), _month(found[2]), found[3], midnight, asked)
    if found := _MONTH_DAY.fullmatch(text):
        return _of_year(int(found[2]), _month(found[1]), found[3], midnight, asked)
    if found := _NUMERIC.fullmatch(text):
        return _in_figures(found, text, midnight, asked)
    return None


def _month(word: str) -> int | None:
    named = [number for number, month in enumerate(_MONTHS, 1) if month.startswith(word.lower())]
    return named[0] if len(named) == 1 else 9 if word.lower() == "sept" else None


def _of_year(day: int, month: int | None, year: str | None, midnight: datetime, asked: _Asked) -> datetime | None:
    if month is None:
        return None
    if year is not None:
        return midnight.replace(year=int(year), month=month, day=day)
    # 29 February exists only in leap years: search up to eight years for the nearest.
    step = 1 if asked.ahead else -1
    for number in (midnight.year + step * one for one in range(9)):
        try:
            found = midnight.replace(year=number, month=month, day=day)
        except ValueError:
            continue
        if (found >= midnight) if asked.ahead else (found <= midnight):
            return found
    raise ValueError(f"there is no {day} in month {month}")


def _in_figures(found: re.Match[str], text: str, midnight: datetime, asked: _Asked) -> datetime | None:
    """Return a day in figures if only one day can be meant; people read `10/5` in two ways.

    Raises:
        MisuseError: Two days can be meant.
    """
    one, two = int(found[1]), int(found[2])
    days = [(day, month) for day, month in dict.fromkeys(((one, two), (two, one))) if month in range(1, 13)]
    year = found[3] and (found[3] if len(found[3]) == 4 else f"20{found[3]:>02}")
    if len(days) == 1:
        return _of_year(*days[0], year, midnight, asked)
    if not days:
        return None
    told = " or ".join(f"{day} {_MONTHS[month - 1][:3].capitalize()}" for day, month in days)
    raise MisuseError(f"{asked.option}: {text!r} is read one way here and another way there; write {told}.")
