"""The first frost and heat of earlier years, by the readings of the yard's own probes in the air."""

from collections.abc import Iterator
from datetime import date, timedelta

from monitor.app.diary.sources import Asked
from monitor.conditioning import calibrate
from monitor.diary import QUIET_DAYS, YEARS, AirDay, Due, season_dues
from monitor.model.flags import ACCEPTED
from monitor.model.settings import AMBIENT
from monitor.model.times import DAY_MS, HOUR_MS
from monitor.model.units import Quantity
from monitor.notices import local

YEAR_DAYS = 366


def seasons(asked: Asked) -> Iterator[Due]:
    """Yield the first frost and heat that earlier years let expect; nothing where no probe measured the air in one."""
    today = local(asked.now, asked.zone).date()
    days = min((local(asked.until - 1, asked.zone).date() - today).days + 1, YEAR_DAYS)
    air: dict[date, AirDay] = {}
    for year in range(YEARS + 1):
        middle = asked.now - year * 365 * DAY_MS
        # A week more on both sides: leap days, and the day that is cut.
        start, end = middle - (QUIET_DAYS + 7) * DAY_MS, min(middle + (days + 7) * DAY_MS, asked.now)
        for day, one in _air(asked, start, end).items():
            known = air.get(day)
            air[day] = one if known is None else AirDay(min(known.low, one.low), max(known.high, one.high))
    if any(day < today - timedelta(days=300) for day in air):
        yield from season_dues(air, today, days, asked.settings.site.temperature_unit, asked.zone)


def _air(asked: Asked, start: int, end: int) -> dict[date, AirDay]:
    """Return the air by local day between two instants (UTC ms), by the readings that count."""
    found: dict[date, AirDay] = {}
    dates: dict[int, date] = {}
    for name, probe in asked.settings.probes.items():
        if probe.place != AMBIENT or probe.quantity is not Quantity.TEMPERATURE:
            continue
        bad = {kept.time for kept in asked.store.flags(name, start, end) if kept.flag not in ACCEPTED}
        for column in asked.store.columns(name, start, end):
            for time, micro in zip(column.time.tolist(), column.micro.tolist(), strict=True):
                milli = None if time in bad else calibrate(micro, column.unit, probe, time)
                if milli is None:
                    continue
                hour = time // (HOUR_MS // 2)  # zones differ by half hours too
                day = dates.get(hour)
                if day is None:
                    day = dates[hour] = local(time, asked.zone).date()
                known = found.get(day)
                if known is None:
                    found[day] = AirDay(milli, milli)
                elif milli < known.low or milli > known.high:
                    found[day] = AirDay(min(known.low, milli), max(known.high, milli))
    return found
