"""Forecasts of the air that a source sends: values at the addresses `forecast-high` and `forecast-low`, in any payload form.

1. A value's own time names the day that it is for, by the yard's calendar; one without a time is for the day after it came.
2. What follows becomes an entry *weather* of the log, in whole degrees of the site's unit, if it is news: a source that
   sends the same every hour fills no log. After a start the first one counts as news.
3. What cannot be is set aside with its reason, like any value.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any
from zoneinfo import ZoneInfo

from monitor.intake import Arrival
from monitor.model.forecast_entry import day_after, forecast_fault
from monitor.model.quarantine import SetAside
from monitor.model.readings import Heard
from monitor.model.settings import YARD, Settings
from monitor.model.units import CANONICAL_UNIT, UNITS_OF, Quantity, show_temperature, to_milli
from monitor.model.work import WorkKind
from monitor.notices import local

FIELDS = {"forecast-high": "high", "forecast-low": "low"}
"""The addresses of forecasts, and the fields that they fill."""


@dataclass(slots=True)
class HeardForecasts:
    """The forecasts of one arrival: entries for the log, and what was refused, as (reason, detail)."""

    entries: list[dict[str, Any]] = field(default_factory=list)
    refused: list[tuple[SetAside, str]] = field(default_factory=list)


def heard_forecasts(arrival: Arrival, values: Iterable[Heard], settings: Settings) -> HeardForecasts:
    """Return the forecasts of an arrival.

    Args:
        arrival: The arrival.
        values: Those of its values that are at an address of a forecast.
        settings: The yard's, for its unit and calendar.
    """
    found, by_day, zone = HeardForecasts(), dict[str, dict[str, str]](), ZoneInfo(settings.site.time_zone)
    came = local(arrival.received, zone).date()
    for one in values:
        unit = one.unit or CANONICAL_UNIT[Quantity.TEMPERATURE]
        if one.quantity not in (None, Quantity.TEMPERATURE.value):
            found.refused.append((SetAside.WRONG_QUANTITY, f"{one.address} is a temperature, not {one.quantity}"))
        elif unit not in UNITS_OF[Quantity.TEMPERATURE]:
            found.refused.append((SetAside.WRONG_UNIT, f"{one.address} is a temperature; {unit} is no unit of one"))
        else:
            day = str(local(one.time, zone).date() if one.time is not None else day_after(came))
            by_day.setdefault(day, {})[FIELDS[one.address]] = _degrees(to_milli(one.micro, unit), settings)
    for day, figures in by_day.items():
        fields = {"day": day, **figures}
        wrong = forecast_fault(fields, came, settings.site.temperature_unit)[1]
        if wrong:
            found.refused.append((SetAside.MALFORMED, f"a forecast: {wrong}"))
            continue
        entry = {"time": arrival.received, "place": YARD, "kind": WorkKind.WEATHER.value, "source": arrival.source}
        found.entries.append(entry | fields)
    return found


def _degrees(milli: int, settings: Settings) -> str:
    unit = settings.site.temperature_unit
    return f"{show_temperature(milli, unit, whole=True).split(' ')[0]} {unit}"


class ForecastNews:
    """Remembers the last forecast of each source for each day, so that the same one is written down once."""

    def __init__(self) -> None:
        self._last: dict[tuple[str, str], dict[str, str]] = {}

    def is_news(self, entry: dict[str, Any]) -> bool:
        """Return whether an entry says something else than the last one of its source for its day."""
        key = (str(entry["source"]), str(entry["day"]))
        figures = {name: str(entry[name]) for name in FIELDS.values() if name in entry}
        known = self._last.get(key, {})
        if known.items() >= figures.items():
            return False
        self._last = {one: said for one, said in self._last.items() if one[1] >= key[1] or one[0] != key[0]}
        self._last[key] = known | figures
        return True
