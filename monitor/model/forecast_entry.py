"""A forecast of the air as a person tells it, for one day; and as the record keeps it: `2026-07-19`, `97 degF`, `71 degF`.

No reading of the yard's: nothing is judged by it but what may be coming (`monitor/forecast/`).
"""

import re
from collections.abc import Mapping
from datetime import date, timedelta
from typing import Any

from monitor.model.errors import FieldError
from monitor.model.units import celsius_milli, show_temperature

FORECAST = ("day", "high", "low")
"""Fields of a forecast: the day that it is for, and the air's high and low on it."""
AHEAD_DAYS = 10
"""How far ahead a forecast may reach; none is worth much beyond (ours)."""
COLDEST_MILLI_C, HOTTEST_MILLI_C = -60_000, 56_700
"""What a forecast may say. The hottest is the highest air temperature on record, 134 °F (56.7 °C; WMO, from memory)."""
_DEGREES = re.compile(r"([+-]?[0-9]{1,3}(?:\.[0-9]+)?)\s*°?\s*(f|c|degf|degc|fahrenheit|celsius)?", re.IGNORECASE)


def degrees_understood(text: str, temperature_unit: str) -> str:
    """Return a temperature of the air as the record keeps it: its number and its unit; "" stays "".

    Args:
        text: As typed, such as `97`, `97 °F` or `36C`.
        temperature_unit: The site's, which a bare number is in.

    Raises:
        ValueError: It is no temperature.
    """
    if not text.strip():
        return ""
    found = _DEGREES.fullmatch(text.strip())
    if found is None:
        raise ValueError(f'"{text.strip()[:20]}" is no temperature; write a number, such as 97 or 36 °C')
    letter = (found[2] or temperature_unit[-1]).lower().removeprefix("deg")[0]
    return f"{found[1].removeprefix('+')} deg{letter.upper()}"


def degrees_of(text: str) -> int | None:
    """Return a temperature of the record in thousandths of °C; None if there is none, or it cannot be read."""
    number, _, unit = text.partition(" ")
    try:
        return celsius_milli(float(number), unit)
    except (KeyError, ValueError):
        return None


def day_of(text: str) -> date | None:
    """Return the day of a forecast in the record; None if it cannot be read."""
    try:
        return date.fromisoformat(text)
    except ValueError:
        return None


def day_after(day: date) -> date:
    """Return the day after a day."""
    return day + timedelta(days=1)


def forecast_fault(fields: Mapping[str, Any], today: date, temperature_unit: str) -> tuple[str, str]:
    """Return the field of a forecast from which nothing can be expected, and why, as a sentence without its full stop.

    Args:
        fields: The entry's fields.
        today: The local date on which it is given.
        temperature_unit: The site's, `degF` or `degC`.

    Returns:
        The field and the sentence; ("", "") for a good forecast, and where there is none.
    """
    told = {name: str(fields.get(name) or "") for name in FORECAST}
    if not any(told.values()):
        return "", ""
    if not told["high"] and not told["low"]:
        return "high", "a forecast says a high or a low, such as a high of 97"
    if wrong := day_fault(told["day"], today):
        return "day", wrong
    milli = {name: degrees_of(told[name]) for name in ("high", "low") if told[name]}
    for name, value in milli.items():
        if wrong := _fault_of_degrees(name, value, told[name], temperature_unit):
            return name, wrong
    high, low = milli.get("high"), milli.get("low")
    if high is not None and low is not None and low > high:
        shown = [show_temperature(one, temperature_unit, whole=True) for one in (low, high)]
        return "low", f"its low, {shown[0]}, is above its high, {shown[1]}; the high is the warmer of the two"
    return "", ""


def day_fault(text: str, today: date) -> str:
    """Return why a forecast cannot be for a day, as a sentence without its full stop; "" if it can.

    Args:
        text: The day as the record keeps it.
        today: The local date on which the forecast is given.
    """
    day = day_of(text)
    if day is None:
        return f'"{text[:20]}" is no day; write one such as {today + timedelta(days=1)}'
    if day < today:
        return f"{day} is over; a forecast is for today or a day to come"
    if day > today + timedelta(days=AHEAD_DAYS):
        return (
            f"{day} is more than {AHEAD_DAYS} days ahead, and no forecast is worth much so far off; write a nearer day"
        )
    return ""


def _fault_of_degrees(name: str, value: int | None, text: str, temperature_unit: str) -> str:
    right = show_temperature({"high": 36_111, "low": -2_222}[name], temperature_unit, whole=True)
    if value is None:
        return f'"{text[:20]}" is no temperature; write a number, such as {right}'
    if COLDEST_MILLI_C <= value <= HOTTEST_MILLI_C:
        return ""
    shown = show_temperature(value, temperature_unit, whole=True)
    return f"no air has a {name} of {shown}; write the {name} of the air, such as {right}"


def check_forecast(fields: Mapping[str, Any], today: date, temperature_unit: str) -> None:
    """Refuse a forecast from which nothing can be expected.

    Args:
        fields: The entry's fields.
        today: The local date on which it is given.
        temperature_unit: The site's, `degF` or `degC`.

    Raises:
        FieldError: It is one; the error names the field.
    """
    name, wrong = forecast_fault(fields, today, temperature_unit)
    if wrong:
        raise FieldError(f"{wrong[:1].upper()}{wrong[1:]}.", name)


def forecast_said(day: str, high: str, low: str) -> str:
    """Return a forecast in words: `forecast for Sun 19 Jul: high 97 °F, low 71 °F`; "" for none.

    Args:
        day: The day as the record keeps it.
        high: The air's high, likewise, or "".
        low: Its low, likewise, or "".
    """
    told = [f"{name} {_shown(text)}" for name, text in (("high", high), ("low", low)) if text]
    when = day_of(day)
    said = day if when is None else f"{when:%a} {when.day} {when:%b}"
    return f"forecast for {said}: {', '.join(told)}" if told else ""


def _shown(text: str) -> str:
    number, _, unit = text.partition(" ")
    return f"{number} °{unit[-1:]}"
