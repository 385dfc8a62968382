"""The choices for putting an alarm off."""

from zoneinfo import ZoneInfo

from monitor.model.errors import MisuseError
from monitor.model.settings import Settings
from monitor.model.times import DAY_MS, HOUR_MS
from monitor.notices import instant, local, say_time
from monitor.page.places.page_times import from_field

PUT_OFFS = ("2h", "evening", "morning", "week")


def put_off_words(settings: Settings, now: int) -> list[tuple[str, str]]:
    """Return the choices of one tap, the shortest first, each as the form's value and people's words; `now` is UTC ms."""
    zone = ZoneInfo(settings.site.time_zone)
    plain = {"2h": "for 2 h", "week": "for a week"}
    ends = sorted((put_off_until(one, settings, now), one) for one in PUT_OFFS)
    return [(one, plain.get(one) or f"until {say_time(until, now, zone)}") for until, one in ends]


def put_off_until(text: str, settings: Settings, now: int) -> int:
    """Return the end of a put-off, UTC ms.

    Args:
        text: `2h`, `evening`, `morning`, `week`, or a local time of a field.
        settings: The yard's settings, for the time zone.
        now: The daemon's time, UTC ms.

    Raises:
        MisuseError: The text is none of these, or its time is past or too far ahead.
    """
    zone = ZoneInfo(settings.site.time_zone)
    if text == "2h":
        return now + 2 * HOUR_MS
    if text == "week":
        return now + 7 * DAY_MS
    if text in ("evening", "morning"):
        minute = 18 * 60 if text == "evening" else 7 * 60
        until = instant(local(now, zone).date(), minute, zone)
        return until if until > now else instant(local(now + DAY_MS, zone).date(), minute, zone)
    until_or_none = from_field(text, zone)
    if until_or_none is None or until_or_none <= now:
        raise MisuseError("Say until when: a time that is still to come.")
    if until_or_none > now + 60 * DAY_MS:
        raise MisuseError("That is more than 60 days ahead; put it off for a shorter time.")
    return until_or_none
