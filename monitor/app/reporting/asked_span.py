"""Finds the days that a report is asked for."""

from datetime import date
from zoneinfo import ZoneInfo

from monitor.app.console.time_words import parse_when
from monitor.model.errors import MisuseError
from monitor.notices import local
from monitor.reports import Span, last_whole_month, month_named, season_named

EARLIEST = date(1970, 1, 1)
"""No yard has a record of earlier days."""


def asked_span(month: str, season: str, since: str, until: str, now: int, zone: str) -> Span:
    """Return the days that a person asked for; the last whole month if they named none.

    Args:
        month: A month, `2026-10`, or "".
        season: A year, or "".
        since: Their first day as typed, or "".
        until: Their last day as typed, which counts whole, or "": today.
        now: The present, UTC ms.
        zone: The yard's time zone.

    Raises:
        MisuseError: A text names no such time, two of them were given, or nothing of it has come yet.
    """
    named = [word for word, text in (("--month", month), ("--season", season), ("--from", since or until)) if text]
    if len(named) > 1:
        raise MisuseError(f"{' and '.join(named)} are two times; name one of them.")
    if until and not since:
        raise MisuseError("--to needs --from: the first day of the report.")
    site = ZoneInfo(zone)
    today = local(now, site).date()
    try:
        if month:
            span = month_named(month, site)
        elif season:
            span = season_named(season, site)
        elif since:
            first = local(parse_when(since, now, zone, "--from"), site).date()
            last = local(parse_when(until, now, zone, "--to") if until else now, site).date()
            if first > today:
                raise MisuseError(f"--from ({first}) is still to come, so there is nothing to report of it.")
            if last < first:
                raise MisuseError(f"--to ({last}) lies before --from ({first}).")
            span = Span(max(first, EARLIEST), min(max(last, EARLIEST), today), site)
        else:
            span = last_whole_month(now, site)
    except ValueError as fault:
        raise MisuseError(f"{named[0]}: {fault}.") from fault
    if span.start > now:
        raise MisuseError(f"{span.name} is still to come, so there is nothing to report of it.")
    return span
