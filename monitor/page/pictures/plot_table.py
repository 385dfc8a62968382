"""The table behind the plots: for each day (each hour, in a short span) the lowest and highest value of each probe."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from monitor.model.times import DAY_MS, HOUR_MS
from monitor.model.units import Quantity, show_percent, show_temperature
from monitor.notices import local, say_date, say_time

if TYPE_CHECKING:
    from monitor.page.pictures.place_plots import Plot
    from monitor.page.pictures.plot_series import PlotSeries

HOURS_UP_TO_MS = 2 * DAY_MS
MOST_ROWS = 120


@dataclass(frozen=True, slots=True)
class Table:
    """Columns by probe, rows by time, newest first; `left_out` older rows are not shown."""

    columns: tuple[str, ...]
    rows: tuple[tuple[str, tuple[str, ...]], ...]
    step: str
    left_out: int


def table_of(plots: Sequence[Plot], start: int, end: int, unit: str, zone: ZoneInfo, now: int) -> Table:
    """Return the table behind some plots.

    Args:
        plots: The plots.
        start: First instant, UTC ms.
        end: Last instant, UTC ms.
        unit: The site's unit of temperature, `degF` or `degC`.
        zone: The site's time zone, which decides where days begin.
        now: The daemon's time, UTC ms.
    """
    shown_series = [_within(series, start, end) for plot in plots for series in plot.series]
    by_hour = end - start <= HOURS_UP_TO_MS
    edges = _edges(start, end, zone, by_hour=by_hour)
    spans = list(pairwise(edges))[::-1]
    shown = spans[:MOST_ROWS]
    rows = []
    for low, high in shown:
        cells = tuple(_cell(series, low, high, unit) for series in shown_series)
        when = say_time(low, now, zone) if by_hour else say_date(low, zone)
        rows.append((when, cells))
    step = "hour" if by_hour else "day"
    return Table(tuple(series.probe for series in shown_series), tuple(rows), step, len(spans) - len(shown))


def _within(series: PlotSeries, start: int, end: int) -> PlotSeries:
    """Return a series without the readings on either side of the span, which only carry its line to the edges."""
    first, last = (int(place) for place in series.time.searchsorted([start, end + 1]))
    return replace(series, time=series.time[first:last], milli=series.milli[first:last])


def _edges(start: int, end: int, zone: ZoneInfo, *, by_hour: bool) -> list[int]:
    if by_hour:
        return list(range(start // HOUR_MS * HOUR_MS, end + HOUR_MS, HOUR_MS))
    edges = []
    at = start
    while at <= end:
        moment = local(at, zone).replace(hour=0, minute=0, second=0, microsecond=0)
        midnight = round(moment.timestamp() * 1000)
        edges.append(midnight)
        # A local day has 23 to 25 hours, so step to about noon of the next day and back to its midnight.
        at = midnight + DAY_MS + DAY_MS // 2
        at = round(local(at, zone).replace(hour=0, minute=0, second=0, microsecond=0).timestamp() * 1000)
    return [*edges, at]


def _cell(series: PlotSeries, low: int, high: int, unit: str) -> str:
    first, last = (int(place) for place in series.time.searchsorted([low, high]))
    if first == last:
        outside = any(out.start < high and (out.end is None or out.end > low) for out in series.outings)
        fresh = any(out.start < high and (out.fit is None or out.fit > low) for out in series.outings)
        return "out" if outside else "not counted" if fresh else "–"
    values = series.milli[first:last]
    least, most = int(values.min()), int(values.max())
    if series.quantity is Quantity.TEMPERATURE:
        shown = [show_temperature(value, unit) for value in (least, most)]
    else:
        shown = [show_percent(value) for value in (least, most)]
    return shown[0] if shown[0] == shown[1] else f"{shown[0].split(' ')[0]} to {shown[1]}"
