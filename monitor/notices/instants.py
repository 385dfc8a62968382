"""Instants in texts that are kept: they stand as numbers, and become words when somebody reads the text.

A text may wait for the morning, for the digest or for *while you were away*, and *yesterday* must mean the reader's yesterday.
Nobody can type a mark: names are cleaned of control characters (`names.clean`).
"""

import re
from datetime import date, timedelta
from zoneinfo import ZoneInfo

from monitor.model.times import MINUTE_MS
from monitor.notices.localtime import MONTHS, WEEKDAYS, local, say_date_time, say_time

_DAY = re.compile(rf"\b(yesterday|{'|'.join(WEEKDAYS)})(?= [0-9]{{2}}:[0-9]{{2}})")
_SIGN = "\x1f"
_DAY_SIGN = "\x1e"
_DAY_MARK = re.compile(rf"{_DAY_SIGN}(-?[0-9]+){_DAY_SIGN}")
_AIR_ON = re.compile(r"(?<= in the air )(today|tomorrow)\b")
"""The day after a figure of the air, as `day_mark` says it."""
_MARK = re.compile(rf"(?:\b(?P<at>at )(?P<about>about )?)?{_SIGN}(?P<ms>-?[0-9]+){_SIGN}")
_SINCE = re.compile(rf",? since {_SIGN}(?P<ms>-?[0-9]+){_SIGN}(?! in )")
_CLOCK = re.compile(r"[0-9]{2}:")


def mark(at: int) -> str:
    """Return the mark of an instant (UTC ms), to stand in a text that is kept."""
    return f"{_SIGN}{at}{_SIGN}"


def day_mark(at: int) -> str:
    """Return the mark of the local day of an instant (UTC ms): it becomes *tomorrow*, *today* or *on 19 Jul*."""
    return f"{_DAY_SIGN}{at}{_DAY_SIGN}"


def said(text: str, now: int, zone: ZoneInfo) -> str:
    """Return a kept text with its marks as times: *since yesterday 14:05*.

    Args:
        text: The text, whose instants stand as marks.
        now: When it is read, UTC ms.
        zone: The yard's time zone.
    """
    text = _DAY_MARK.sub(lambda found: _day_words(int(found[1]), now, zone), text)
    return _MARK.sub(lambda found: _after_at(found, say_time(int(found["ms"]), now, zone)), text)


def _day_words(at: int, now: int, zone: ZoneInfo) -> str:
    then, today = local(at, zone).date(), local(now, zone).date()
    words = {-1: "yesterday", 0: "today", 1: "tomorrow"}.get((then - today).days)
    return words or f"on {_date(then, today)}"


def _date(then: date, today: date) -> str:
    return f"{then.day} {MONTHS[then.month - 1]}{'' if then.year == today.year else f' {then.year}'}"


def without_since(text: str, at: int) -> str:
    """Return a kept text without a *since* of the same minute as `at` (UTC ms), for a line that begins with that time."""
    return _SINCE.sub(lambda found: "" if int(found["ms"]) // MINUTE_MS == at // MINUTE_MS else found[0], text)


def dated(text: str, at: int, zone: ZoneInfo) -> str:
    """Return a kept text for the record, in which other days than that of `at` have dates, so that it reads right at any time.

    Args:
        text: The text, whose instants stand as marks.
        at: The instant of the record, UTC ms.
        zone: The yard's time zone.
    """
    if _SIGN not in text and _DAY_SIGN not in text:
        return text
    day = local(at, zone).date()
    text = _DAY_MARK.sub(lambda found: f"on {_date(local(int(found[1]), zone).date(), day)}", text)

    def words(found: re.Match[str]) -> str:
        instant = int(found["ms"])
        today = local(instant, zone).date() == day
        return _after_at(found, say_time(instant, instant, zone) if today else say_date_time(instant, at, zone))

    return _MARK.sub(words, text)


def _after_at(found: re.Match[str], words: str) -> str:
    """Join an instant's words to those before its mark: *at 14:05*, but *yesterday 14:05*, never *at yesterday*."""
    at = found["at"] or "" if _CLOCK.match(words) else ""
    return f"{at}{found['about'] or ''}{words}"


def redated(text: str, at: int, zone: ZoneInfo) -> str:
    """Return a sent message with dates for its *yesterday* and weekdays, so that it reads right at any time.

    Args:
        text: The message as it was sent.
        at: When it was sent, UTC ms.
        zone: The yard's time zone.
    """
    sent = local(at, zone).date()

    def words(found: re.Match[str]) -> str:
        behind = 1 if found[1] == "yesterday" else (sent.weekday() - WEEKDAYS.index(found[1])) % 7
        day = sent - timedelta(days=behind)
        return f"{day.day} {MONTHS[day.month - 1]}"

    def air_day(found: re.Match[str]) -> str:
        return f"on {_date(sent + timedelta(days=1 if found[1] == 'tomorrow' else 0), sent)}"

    return _AIR_ON.sub(air_day, _DAY.sub(words, text))
