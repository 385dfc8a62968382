"""The diary in words for a screen or a sheet of paper, and as JSON."""

from collections.abc import Iterable, Iterator, Sequence
from typing import Any
from zoneinfo import ZoneInfo

from monitor.diary import Due, by_day, clock_words, reason, slack_words, title
from monitor.model.settings import YARD, Settings
from monitor.model.times import SECOND_MS, show_time
from monitor.notices import clean, say_date


def place_words(settings: Settings, place: str) -> str:
    """Return people's name for a place of the diary."""
    return "The yard" if place == YARD else clean(settings.place_name(place))


def diary_lines(found: Sequence[Due], settings: Settings, now: int, until: int) -> Iterator[str]:
    """Yield the diary's lines, by day.

    Args:
        found: The things in order.
        settings: Names and time zone.
        now: When it is read, UTC ms.
        until: Where it ends, UTC ms.
    """
    zone = ZoneInfo(settings.site.time_zone)
    if not found:
        yield f"{clean(settings.site.name)}: nothing falls due before {say_date(until, zone)}."
        return
    for day in by_day(found, now, zone):
        yield f"{day.heading}"
        for one in day.dues:
            yield f"  {clock_words(one, now, zone):>5}  {thing_words(one, settings, now)}"


def thing_words(one: Due, settings: Settings, now: int) -> str:
    """Return one thing in words: its place, what to do, how long it can wait, and why.

    Args:
        one: The thing.
        settings: Names.
        now: When it is read, UTC ms.
    """
    place = place_words(settings, one.place)
    if one.expected:
        return f"{place}: {one.why}."
    slack = slack_words(one, now)
    return f"{place}: {title(one)}{f', {slack}' if slack else ''}. {reason(one)}"


def diary_json(found: Iterable[Due], now: int) -> list[dict[str, Any]]:
    """Return the diary as plain JSON.

    Args:
        found: The things in order.
        now: When it is read, UTC ms.
    """
    return [
        {
            "due": show_time(one.due_ms),
            "place": one.place,
            "what": one.what.value,
            "why": one.why,
            "slack_s": one.slack_ms(now) // SECOND_MS,
            "expected": one.expected,
            "id": one.id,
        }
        for one in found
    ]
