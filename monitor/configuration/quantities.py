"""Reads texts with a unit into the integers used inside, and local times of day.

Rules: a bare number is refused, because 85 may be either scale; a difference is not a temperature (5 K is 9 degF, not
-450); everything is rounded once, half-even; nothing here depends on the key that is read.
"""

import re
from collections.abc import Mapping

from monitor.configuration.config_problems import UnfitError, nearest
from monitor.model.amounts import Dimension, parse_amount
from monitor.model.settings import DutyWindow
from monitor.model.times import parse_duration, parse_time
from monitor.model.units import MICRO, divide_half_even, to_micro, to_milli, unit_code

_AMOUNT = re.compile(r"([+-]?\d{1,12}(?:\.\d{1,9})?)\s*(\S.*)?", re.ASCII)
_SPAN = re.compile(r"(\d\d):(\d\d)\s*-\s*(\d\d):(\d\d)", re.ASCII)
_CLOCK = re.compile(r"(\d\d):(\d\d)", re.ASCII)
_DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")

_CELSIUS = ("degC", "°C", "Cel")
_FAHRENHEIT = ("degF", "°F", "[degF]")
_PERCENT = ("%", "percent")
_LENGTH_MICRO_M = {"mm": 1_000, "cm": 10_000, "m": 1_000_000, "in": 25_400, "ft": 304_800}
"""Micrometres in each unit; the inch is exactly 25.4 mm (international inch of 1959)."""

_DENSITY_TO_KG_M3 = {"kg/m3": 1, "g/L": 1, "kg/L": 1_000}


def _split(value: object, right: str) -> tuple[int, str]:
    """Return a text's number as millionths and its unit."""
    if isinstance(value, bool) or not isinstance(value, int | float | str):
        raise UnfitError(f"{show(value)} is not a number with its unit", right)
    if isinstance(value, int | float):
        raise UnfitError(f"{value} has no unit", right)
    found = _AMOUNT.fullmatch(value.strip())
    if found is None:
        raise UnfitError(f"{show(value)} is not a number with its unit", right)
    if found[2] is None:
        raise UnfitError(f"{show(value)} has no unit", right)
    return to_micro(float(found[1])), found[2].strip()


def show(value: object) -> str:
    """Return a value as it stands in TOML, shortened: texts in quotes."""
    text = f'"{value}"' if isinstance(value, str) else str(value)
    return text if len(text) <= 60 else text[:57] + "..."


def temperature_milli_c(value: object, example: str = "85 degF") -> int:
    """Return a temperature such as `85 degF` or `29.4 degC` in thousandths of a degree Celsius.

    Raises:
        UnfitError: No unit, an unknown one, or kelvin (which stand for differences only).
    """
    right = f'write it with its unit, such as "{example}"'
    micro, unit = _split(value, right)
    if unit in _CELSIUS:
        return to_milli(micro, "Cel")
    if unit in _FAHRENHEIT:
        return to_milli(micro, "[degF]")
    if unit == "K":
        raise UnfitError(f"{show(value)} is in kelvin, which stand for differences only", right)
    raise UnfitError(f'{show(value)} has the unit "{unit}", which is not one of temperature', right)


def difference_milli_k(value: object, example: str = "5 K") -> int:
    """Return a difference of temperatures such as `5 K`, `5 degC` or `9 degF` in thousandths of a kelvin.

    Raises:
        UnfitError: No unit or an unknown one, or the difference is negative.
    """
    right = f'write a difference with its unit, such as "{example}"'
    micro, unit = _split(value, right)
    if micro < 0:
        raise UnfitError(f"{show(value)} is below zero", right)
    if unit == "K" or unit in _CELSIUS:
        return divide_half_even(micro, 1000)
    if unit in _FAHRENHEIT:
        return divide_half_even(micro * 5, 9 * 1000)
    raise UnfitError(f'{show(value)} has the unit "{unit}", which is not one of temperature', right)


def percent_milli(value: object, example: str = "60 %") -> int:
    """Return a share such as `60 %` in thousandths of a percent, 0 to 100 %.

    Raises:
        UnfitError: No percent sign, or beyond 0 to 100.
    """
    right = f'write it in percent, such as "{example}"'
    micro, unit = _split(value, right)
    if unit not in _PERCENT:
        raise UnfitError(f'{show(value)} has the unit "{unit}", which is not percent', right)
    if not 0 <= micro <= 100 * MICRO:
        raise UnfitError(f"{show(value)} is not between 0 and 100 %", right)
    return to_milli(micro, "%")


_BYTES = {"kB": 1_000, "KB": 1_000, "MB": 1_000_000, "GB": 1_000_000_000}


def room_bytes(value: object, example: str = "500 MB") -> int:
    """Return room on a disk such as `500 MB` in bytes; `0 MB` is none.

    Raises:
        UnfitError: No unit, an unknown one, or less than nothing.
    """
    right = f'write it with its unit, such as "{example}"'
    micro, unit = _split(value, right)
    if unit not in _BYTES:
        raise UnfitError(f'{show(value)} has the unit "{unit}", which is not one of room on a disk', right)
    if micro < 0:
        raise UnfitError(f"{show(value)} is below zero", right)
    return divide_half_even(micro * _BYTES[unit], MICRO)


def duration_ms(value: object, example: str = "20m") -> int:
    """Return a duration such as `20m` in milliseconds.

    Raises:
        UnfitError: Not one whole number and one of the units s, m, h, d.
    """
    right = f'write one whole number and s, m, h or d, such as "{example}"'
    if isinstance(value, int | float) and not isinstance(value, bool):
        raise UnfitError(f"{value} has no unit", right)
    if not isinstance(value, str):
        raise UnfitError(f"{show(value)} is not a duration", right)
    try:
        return parse_duration(value)
    except ValueError as fault:
        bare = value.strip().isdigit()
        raise UnfitError(f"{show(value)} has no unit" if bare else f"{show(value)} is not a duration", right) from fault


def length_milli_m(value: object) -> int:
    """Return a length such as `60 cm` or `24 in` in millimetres.

    Raises:
        UnfitError: No unit or an unknown one, or not above zero.
    """
    return _above_zero(value, 'write it with its unit, such as "60 cm" or "24 in"', "length", _LENGTH_MICRO_M, 1000)


def density_kg_m3(value: object) -> int:
    """Return a bulk density such as `550 kg/m3` in whole kilograms a cubic metre.

    Raises:
        UnfitError: No unit or an unknown one, or not above zero.
    """
    return _above_zero(value, 'write it with its unit, such as "550 kg/m3"', "density", _DENSITY_TO_KG_M3, 1)


def mass_g(value: object) -> int:
    """Return a mass such as `14 kg` or `31 lb` in whole grams.

    Raises:
        UnfitError: No unit or an unknown one, or not above zero.
    """
    return _amount_of(value, Dimension.MASS, 'write it with its unit, such as "14 kg" or "31 lb"')


def volume_ml(value: object) -> int:
    """Return a volume such as `85 L` or `3 ft3` in whole millilitres.

    Raises:
        UnfitError: No unit or an unknown one, or not above zero.
    """
    return _amount_of(value, Dimension.VOLUME, 'write it with its unit, such as "85 L" or "3 ft3"')


def area_mm2(value: object) -> int:
    """Return an area such as `3 m2` or `32 ft2` in whole square millimetres.

    Raises:
        UnfitError: No unit or an unknown one, or not above zero.
    """
    return _amount_of(value, Dimension.AREA, 'write it with its unit, such as "3 m2" or "32 ft2"')


def _amount_of(value: object, dimension: Dimension, right: str) -> int:
    try:
        amount = parse_amount(value) if isinstance(value, str) else None
    except ValueError:
        amount = None
    if amount is None or amount.dimension is not dimension or not amount.base:
        raise UnfitError(f"{show(value)} is no {dimension.value}", right)
    return amount.base


def _above_zero(value: object, right: str, noun: str, units: Mapping[str, int], divisor: int) -> int:
    micro, unit = _split(value, right)
    if unit not in units:
        raise UnfitError(f'{show(value)} has the unit "{unit}", which is not one of {noun}', right)
    found = divide_half_even(micro * units[unit], MICRO * divisor)
    if found <= 0:
        raise UnfitError(f"{show(value)} is not above zero", right)
    return found


def amount_micro(value: object, unit: str, example: str) -> int:
    """Read a value in a probe's own unit.

    Args:
        value: As written, such as `55.2 degC`; `°C` and `degC` are `Cel`.
        unit: UCUM code of the unit that the probe sends.
        example: A value in that unit, for the fault.

    Returns:
        Millionths of the unit.

    Raises:
        UnfitError: The value has no unit, or another one than the probe's.
    """
    right = f'write it in the unit that the probe sends, such as "{example}"'
    micro, given = _split(value, right)
    if unit_code(given) != unit:
        raise UnfitError(f'{show(value)} is not in "{unit}"', right)
    return micro


def instant_ms(value: object) -> int:
    """Return a date with time and zone as UTC milliseconds.

    Raises:
        UnfitError: Not a time, or without a zone.
    """
    text = value.isoformat() if hasattr(value, "isoformat") else value
    right = "write date, time and zone, such as 2026-03-01T09:00:00Z"
    if not isinstance(text, str):
        raise UnfitError(f"{show(value)} is not a time", right)
    try:
        return parse_time(text)
    except ValueError as fault:
        raise UnfitError(f"{text} is not a time with a zone", right) from fault


def day_ms(value: object) -> int:
    """Return a day such as `2026-05-01` (its beginning in UTC), or a time with a zone, as UTC milliseconds.

    Raises:
        UnfitError: Neither.
    """
    text = value.isoformat() if hasattr(value, "isoformat") else value
    try:
        return parse_time(f"{text}T00:00:00Z") if isinstance(text, str) and len(text) == 10 else instant_ms(value)
    except ValueError as fault:
        raise UnfitError(f"{show(value)} is not a day", "write one such as 2026-05-01") from fault


def _minute(hour: str, minute: str, value: object, right: str) -> int:
    minutes = int(hour) * 60 + int(minute)
    if int(minute) > 59 or minutes > 1440:
        raise UnfitError(f"{show(value)} is not a time of day", right)
    return minutes


def minute_of_day(value: object) -> int:
    """Return a local time of day such as `07:30` in minutes after midnight.

    Raises:
        UnfitError: Not a time of day from 00:00 to 23:59.
    """
    right = 'write hours and minutes, such as "07:30"'
    found = _CLOCK.fullmatch(value.strip()) if isinstance(value, str) else None
    minutes = _minute(found[1], found[2], value, right) if found else 1440
    if found is None or minutes == 1440:
        raise UnfitError(f"{show(value)} is not a time of day", right)
    return minutes


def quiet_hours(value: object) -> tuple[int, int]:
    """Return quiet hours such as `22:00-07:00` as (start, end) in minutes after midnight; `none` as (0, 0).

    Raises:
        UnfitError: Neither two times of day nor `none`.
    """
    right = 'write "22:00-07:00", or "none"'
    if value == "none":
        return 0, 0
    found = _SPAN.fullmatch(value.strip()) if isinstance(value, str) else None
    if found is None:
        raise UnfitError(f"{show(value)} is not a span of hours", right)
    start, end = _minute(found[1], found[2], value, right), _minute(found[3], found[4], value, right)
    if start == end:
        raise UnfitError(f"{show(value)} begins when it ends", right)
    return start % 1440, end % 1440


def _weekdays(text: str, value: object, right: str) -> tuple[int, ...]:
    days: set[int] = set()
    for part in text.split(","):
        ends = [end.strip().capitalize()[:3] for end in part.split("-")]
        for end, word in zip(ends, part.split("-"), strict=True):
            if end not in _DAYS:
                near = nearest(word.strip(), _DAYS)
                better = f'did you mean "{near}"?' if near else right
                raise UnfitError(f'{show(value)} has the day "{word.strip()}"', better)
        first, last = _DAYS.index(ends[0]), _DAYS.index(ends[-1])
        # The days of "Sat-Mon" wrap around the end of the week.
        days.update((first + step) % 7 + 1 for step in range((last - first) % 7 + 1))
    return tuple(sorted(days))


def duty_window(value: object) -> DutyWindow:
    """Return a duty window such as `Mon-Fri 08:00-18:00`, `Sat,Sun 09:00-12:00`, `Mon-Sun` or `08:00-18:00`.

    Raises:
        UnfitError: Neither days nor hours can be read from it.
    """
    right = 'write days and hours, such as "Mon-Fri 08:00-18:00"'
    if not isinstance(value, str) or not value.strip():
        raise UnfitError(f"{show(value)} is not a duty window", right)
    text = value.strip()
    span = re.search(r"(?:^|\s)(\d\d:\d\d\s*-\s*\d\d:\d\d)$", text, re.ASCII)
    start, end = 0, 1440
    if span is not None:
        found = _SPAN.fullmatch(span[1])
        assert found is not None
        start, end = _minute(found[1], found[2], value, right), _minute(found[3], found[4], value, right)
        text = text[: span.start()].strip()
    elif ":" in text:
        raise UnfitError(f"{show(value)} is not a duty window", right)
    days = _weekdays(text, value, right) if text else (1, 2, 3, 4, 5, 6, 7)
    return DutyWindow(days=days, start_minute=start, end_minute=end)
