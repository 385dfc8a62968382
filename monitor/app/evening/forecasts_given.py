"""Forecasts of the air that were given: entries *weather* of the log, typed in, read from a file or sent by a source."""

from collections.abc import Iterable, Sequence
from datetime import date, timedelta
from zoneinfo import ZoneInfo

from monitor.app.entries.work_log import Entered
from monitor.forecast import Outlook, Predicted, Trouble, Whence, outlook
from monitor.model.forecast_entry import FORECAST, day_of, degrees_of, forecast_fault
from monitor.model.settings import Settings
from monitor.model.units import show_temperature
from monitor.model.work_kinds import declared
from monitor.notices import clean, local


def forecasts_given(entries: Iterable[Entered], settings: Settings) -> list[Predicted]:
    """Return the forecasts of the log in the order in which they were given; one from which nothing follows is left out.

    Args:
        entries: All entries of the log, with corrections applied.
        settings: The yard's, for its time zone.
    """
    zone, found = ZoneInfo(settings.site.time_zone), list[Predicted]()
    for one in entries:
        work = one.work
        if work is None or one.imported or not declared(work.kind).foretells or not work.day:
            continue
        given = one.at if one.corrected is None else one.corrected
        fields = {name: getattr(work, name) for name in FORECAST}
        day = day_of(work.day)
        if day is None or forecast_fault(fields, local(one.at, zone).date(), settings.site.temperature_unit)[1]:
            continue
        found.append(
            Predicted(
                day=day,
                low=degrees_of(work.low),
                high=degrees_of(work.high),
                given=given,
                whence=Whence.SENT if work.source and not work.by else Whence.TYPED,
                by=work.by or work.source,
            )
        )
    return sorted(found, key=lambda one: one.given)


def air_ahead_words(given: Sequence[Predicted], settings: Settings, now: int, *, names: bool) -> str:
    """Return the forecast for tomorrow, else for today, in one line: `tomorrow 97 °F, low 71 °F, typed in by Ann`; or "".

    Args:
        given: Forecasts.
        settings: The yard's.
        now: When it is read, UTC ms.
        names: Whether it may say who typed it in.
    """
    today = local(now, ZoneInfo(settings.site.time_zone)).date()
    for day, word in ((today + timedelta(days=1), "tomorrow"), (today, "today")):
        high, low = (outlook(given, trouble, day, now) for trouble in (Trouble.HEAT, Trouble.FROST))
        first = high or low
        if first is not None:
            figures = [_figure(high, "", settings), _figure(low, "low ", settings)]
            return f"{word} {', '.join(one for one in figures if one)}, {whence_words(first, names=names)}"
    return ""


def whence_words(one: Outlook, *, names: bool) -> str:
    """Return where a figure comes from: `typed in by Ann`, `forecast from mqtt`, `as today`.

    Args:
        one: The figure.
        names: Whether it may say who typed it in.
    """
    if one.whence is Whence.TODAY:
        return "as today"
    by = clean(one.by, 40) if one.by else ""
    if one.whence is Whence.TYPED:
        return f"typed in by {by}" if by and names else "typed in"
    return f"forecast from {by}" if by else "forecast"


def said_before(given: Sequence[Predicted], trouble: Trouble, evenings: Iterable[tuple[date, int]]) -> dict[date, int]:
    """Return the forecasts that stood on past evenings, by the day that they were for, with the sign of the trouble.

    Args:
        given: Forecasts.
        trouble: Heat or frost.
        evenings: Each evening's local date, and its instant (UTC ms).
    """
    found: dict[date, int] = {}
    if not given:
        return found
    for day, at in evenings:
        one = outlook(given, trouble, day + timedelta(days=1), at)
        if one is not None:
            found[one.day] = trouble.sign * one.milli_c
    return found


def _figure(one: Outlook | None, word: str, settings: Settings) -> str:
    if one is None:
        return ""
    return f"{word}{show_temperature(one.milli_c, settings.site.temperature_unit, whole=True)}"
