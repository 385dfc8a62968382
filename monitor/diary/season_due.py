"""The first frost and the first great heat of earlier years, by the yard's own record of its air.

A day is the first of its kind if the 60 days before it had none, of which at least 45 were measured. Only the latest such year
speaks; where the yard has no such record, nobody says anything. The limits and the counts are ours: frost at 32 °F (0 °C), heat
at 90 °F (32.2 °C).
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from zoneinfo import ZoneInfo

from monitor.diary.due import Due, What
from monitor.model.settings import YARD
from monitor.model.units import celsius_milli, show_temperature
from monitor.notices import instant

QUIET_DAYS, MEASURED_DAYS = 60, 45
YEARS = 5
"""How many years back the record is looked at."""
NOON = 12 * 60
FROST_MILLI_C, HEAT_MILLI_C = 0, celsius_milli(90, "degF")


@dataclass(frozen=True, slots=True)
class AirDay:
    """The coldest and the hottest reading of the air on one local day, thousandths of °C."""

    low: int
    high: int


def season_dues(
    air: Mapping[date, AirDay], today: date, days: int, temperature_unit: str, zone: ZoneInfo
) -> Iterator[Due]:
    """Yield the first frost and heat that earlier years let expect within some days.

    Args:
        air: The air by local day, as far as it is known.
        today: The local date.
        days: How many days ahead.
        temperature_unit: The site's, `degF` or `degC`.
        zone: The yard's time zone.
    """
    for kind, advice in (
        ("frost", "bring in or wrap what must not freeze"),
        ("heat", "see to shade and water for the bins"),
    ):
        frost = kind == "frost"
        if any(_has(air, today - timedelta(days=back), frost=frost) for back in range(QUIET_DAYS)):
            continue  # it has come already, or goes on
        then, year = next(
            ((then, year) for year in range(1, YEARS + 1) for then in _years_ago(today, days, year)
             if _is_first(air, then[1], frost=frost)),
            (None, 0),
        )  # fmt: skip
        if then is None:
            continue
        ahead, was = then
        milli = air[was].low if frost else air[was].high
        when = f"{was.day} {was:%b}" + (" last year" if year == 1 else f" {was.year}")
        yield Due(
            due_ms=instant(ahead, NOON, zone),
            place=YARD,
            what=What.EXPECT,
            why=f"first {kind} came on {when}, {show_temperature(milli, temperature_unit)}: {advice}",
            of=f"{kind}/{ahead.year}",
        )


def _years_ago(today: date, days: int, years: int) -> Iterator[tuple[date, date]]:
    """Yield each of the days ahead with its like of some years ago; 29 February has none."""
    for ahead in (today + timedelta(days=number) for number in range(days)):
        try:
            yield ahead, ahead.replace(year=ahead.year - years)
        except ValueError:
            continue


def _has(air: Mapping[date, AirDay], day: date, *, frost: bool) -> bool:
    found = air.get(day)
    return found is not None and (found.low <= FROST_MILLI_C if frost else found.high >= HEAT_MILLI_C)


def _is_first(air: Mapping[date, AirDay], day: date, *, frost: bool) -> bool:
    if not _has(air, day, frost=frost):
        return False
    before = [day - timedelta(days=back) for back in range(1, QUIET_DAYS + 1)]
    return sum(one in air for one in before) >= MEASURED_DAYS and not any(_has(air, one, frost=frost) for one in before)
