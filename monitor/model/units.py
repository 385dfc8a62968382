"""Quantities and units, in integers: thousandths inside, millionths as sent, rounded half-even exactly once.

Unit codes are UCUM (`Cel`, `[degF]`, `K`, `%`, `1`, `V`) and `dBm`. A value as sent is kept as integer millionths of
its own unit ("micro"); a calibrated value is integer thousandths of the canonical unit of its quantity ("milli").

Source: Unified Code for Units of Measure (UCUM), table of units; IEEE 754 round-half-even for the one rounding.
"""

from enum import StrEnum

from monitor.model.number_or_column import Whole

MICRO = 1_000_000
MILLI = 1_000


class Quantity(StrEnum):
    """The quantities that probes measure."""

    TEMPERATURE = "temperature"
    MOISTURE = "moisture"
    OXYGEN = "oxygen"
    BATTERY = "battery"
    SIGNAL = "signal"


CANONICAL_UNIT: dict[Quantity, str] = {
    Quantity.TEMPERATURE: "Cel",
    Quantity.MOISTURE: "%",
    Quantity.OXYGEN: "%",
    Quantity.BATTERY: "V",
    Quantity.SIGNAL: "dBm",
}

# unit -> (numerator, denominator, offset in micro): canonical = (micro - offset) * numerator / denominator
_LINEAR: dict[str, tuple[int, int, int]] = {
    "Cel": (1, 1, 0),
    "[degF]": (5, 9, 32 * MICRO),
    "K": (1, 1, 273_150_000),
    "%": (1, 1, 0),
    "1": (1, 1, 0),
    "V": (1, 1, 0),
    "mV": (1, 1000, 0),
    "dBm": (1, 1, 0),
}

UNITS_OF: dict[Quantity, tuple[str, ...]] = {
    Quantity.TEMPERATURE: ("Cel", "[degF]", "K"),
    Quantity.MOISTURE: ("%", "1"),
    Quantity.OXYGEN: ("%",),
    Quantity.BATTERY: ("V", "mV"),
    Quantity.SIGNAL: ("dBm",),
}

_SPELT: dict[str, str] = {
    spelt: code
    for code, words in {
        "Cel": ("°c", "c", "℃", "degc", "deg c", "celsius"),
        "[degF]": ("°f", "f", "℉", "degf", "deg f", "fahrenheit"),
        "K": ("kelvin",),
        "%": ("percent", "pct"),
    }.items()
    for spelt in words
}


def unit_code(text: str) -> str:
    """Return the code of a unit as people write it (`°F`, `F`, `degF` are `[degF]`); unknown texts are returned unchanged."""
    text = text.strip()
    if text in _LINEAR:
        return text
    folded = " ".join(text.casefold().replace("°", "° ").split()).replace("° ", "°")
    return _SPELT.get(folded, next((code for code in _LINEAR if code.casefold() == folded), text))


DEGREES = {"[degF]": "°F", "Cel": "°C"}
"""Signs of the temperature units that people use, by unit code."""


def unit_sign(unit: str) -> str:
    """Return a unit as people write it: the sign of degrees, else the code."""
    return DEGREES.get(unit, unit)


def divide_half_even(numerator: Whole, denominator: Whole | int) -> Whole:
    """Return numerator / denominator rounded to the nearest integer, ties to even; the denominator is positive."""
    quotient = numerator // denominator
    double = 2 * (numerator - quotient * denominator)
    quotient += (double > denominator) | ((double == denominator) & (quotient & 1 == 1))
    return quotient


def to_micro(value: float) -> int:
    """Return a finite number as integer millionths (the record's form of a value as sent).

    Raises:
        ValueError: The number is not finite or beyond a million million.
    """
    scaled = value * MICRO
    if not -1e18 < scaled < 1e18:
        raise ValueError(f"{value!r} is not a usable number")
    return round(scaled)


def to_milli(micro: int, unit: str) -> int:
    """Return a value as sent (millionths of `unit`) in thousandths of the canonical unit.

    Raises:
        KeyError: The unit is unknown.
    """
    numerator, denominator, offset = _LINEAR[unit]
    return divide_half_even((micro - offset) * numerator, denominator * 1000)


def canonical_fraction(micro: int, unit: str) -> tuple[int, int]:
    """Return the exact canonical value as (numerator, denominator) in thousandths, for a calibration to round once."""
    numerator, denominator, offset = _LINEAR[unit]
    return (micro - offset) * numerator, denominator * 1000


def celsius_milli(degrees: float, unit: str) -> int:
    """Return a limit given in `degC`, `degF` or `K` as thousandths of a degree Celsius (170 degF -> 76667)."""
    code = {"degC": "Cel", "degF": "[degF]", "K": "K"}[unit]
    return to_milli(to_micro(degrees), code)


def _trim(tenths: int) -> str:
    sign = "-" if tenths < 0 else ""
    whole, part = divmod(abs(tenths), 10)
    return f"{sign}{whole}" + (f".{part}" if part else "")


def show_temperature(milli_c: int, temperature_unit: str, *, whole: bool = False) -> str:
    """Return a temperature for people, one decimal at most: `131 °F` or `76.7 °C`.

    Args:
        milli_c: Thousandths of a degree Celsius.
        temperature_unit: `degF` or `degC`, as the site chose.
        whole: Whether it is rounded to a whole degree.
    """
    if whole:
        if temperature_unit == "degF":
            return f"{divide_half_even(milli_c * 9 + 160_000, 5_000)} °F"
        return f"{divide_half_even(milli_c, 1_000)} °C"
    if temperature_unit == "degF":
        # Round to tenths of °F: a limit defined in whole °F was rounded to 0.001 °C and comes back exact at one decimal.
        return _trim(divide_half_even(milli_c * 9 + 160_000, 500)) + " °F"
    return _trim(divide_half_even(milli_c, 100)) + " °C"


def show_difference(milli_k: int, temperature_unit: str) -> str:
    """Return a difference of temperatures for people: 5 K is `9 °F` or `5 °C`."""
    if temperature_unit == "degF":
        return _trim(divide_half_even(milli_k * 9, 500)) + " °F"
    return _trim(divide_half_even(milli_k, 100)) + " °C"


def show_percent(milli_pct: int, *, whole: bool = False) -> str:
    """Return thousandths of a percent for people, one decimal at most or none: `82.5 %`."""
    return f"{divide_half_even(milli_pct, 1_000)} %" if whole else _trim(divide_half_even(milli_pct, 100)) + " %"


def plain_number(milli: int) -> int | float:
    """Return thousandths as the plain number to write in JSON (at most 3 decimals, an int if it is whole)."""
    return milli // MILLI if milli % MILLI == 0 else milli / MILLI


def show_milli(milli: int, quantity: Quantity, temperature_unit: str) -> str:
    """Return a probe's value for people: `131 °F`, `72.5 %`, `3.1 V`.

    Args:
        milli: The value, thousandths of the canonical unit.
        quantity: Its quantity.
        temperature_unit: The site's, `degF` or `degC`.
    """
    if quantity is Quantity.TEMPERATURE:
        return show_temperature(milli, temperature_unit)
    if quantity in (Quantity.MOISTURE, Quantity.OXYGEN):
        return show_percent(milli)
    return f"{plain_number(milli)} {CANONICAL_UNIT[quantity]}"
