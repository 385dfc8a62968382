"""Thresholds by their keys: a key is the field's name without its unit ending, a value is a text with its unit.

Rules: the dataclasses of `model.thresholds` are the only list of keys; the ending of a field selects the reader of its
value; limits that belong together must stand in the required order, and within the range of a probe.
"""

from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from enum import Enum
from typing import Any, TypeVar

from monitor.configuration import quantities
from monitor.configuration.config_problems import KeyPath, Problems, UnfitError, suggestion
from monitor.model.errors import InvariantError
from monitor.model.thresholds import ORDER, BinThresholds, Declared, PileThresholds, ProbeThresholds, Thresholds
from monitor.model.times import DAY_MS, HOUR_MS, MINUTE_MS, SECOND_MS
from monitor.model.units import divide_half_even, show_difference, show_percent, show_temperature

T = TypeVar("T", PileThresholds, BinThresholds, ProbeThresholds)


class Kind(Enum):
    """The kind of a threshold's value; the ending of its field."""

    TEMPERATURE = "_milli_c"
    DIFFERENCE = "_milli_k"
    PERCENT = "_milli_pct"
    DURATION = "_ms"
    SHARE = "_milli"
    COUNT = ""


_KEYS_OF_THEIR_OWN = {"stalled_cold_weather_milli_c": "stalled_cold_weather_below"}
"""Keys of fields whose name without its ending is taken by another field (here `stalled_cold_weather_ms`)."""


@dataclass(frozen=True, slots=True)
class Threshold:
    """One key: its field, the reader of its value, and its declaration."""

    key: str
    field: str
    kind: Kind
    default: int
    said: Declared


def keys_of(cls: type[Thresholds]) -> dict[str, Threshold]:
    """Return every threshold of a class by its key, in the order of the fields."""
    found: dict[str, Threshold] = {}
    for field in fields(cls):
        kind = next(kind for kind in Kind if field.name.endswith(kind.value))
        key = _KEYS_OF_THEIR_OWN.get(field.name, field.name.removesuffix(kind.value))
        if key in found or not isinstance(field.default, int):
            raise InvariantError(f"the field {field.name} has no key of its own")
        found[key] = Threshold(key, field.name, kind, field.default, field.metadata[Declared])
    return found


def _plain(milli: int) -> str:
    return f"{milli / 1000:.3f}".rstrip("0").rstrip(".")


def show_value(kind: Kind, value: int, temperature_unit: str = "degF") -> str:
    """Write a value as in the configuration.

    Args:
        kind: Kind of the threshold.
        value: As used inside: ms, thousandths of °C, of a kelvin or of a percent, or a count.
        temperature_unit: The yard's unit; with `degC` a temperature is written in that, to a tenth.

    Returns:
        The text with its unit; a temperature in whole °F if it is one, else in °C.
    """
    if kind is Kind.TEMPERATURE and temperature_unit == "degC":
        return f"{_plain(divide_half_even(value, 100) * 100)} degC"
    if kind is Kind.TEMPERATURE:
        tenths = divide_half_even(value * 9 + 160_000, 500)
        exact = quantities.temperature_milli_c(f"{tenths / 10} degF") == value
        return f"{tenths // 10} degF" if exact and tenths % 10 == 0 else f"{_plain(value)} degC"
    if kind is Kind.DIFFERENCE:
        return f"{_plain(value)} K"
    if kind is Kind.PERCENT:
        return f"{_plain(value)} %"
    if kind is Kind.SHARE:
        return f"{_plain(value * 100)} %"
    if kind is Kind.DURATION:
        for unit, size in (("d", DAY_MS), ("h", HOUR_MS), ("m", MINUTE_MS), ("s", SECOND_MS)):
            # Use days only from 7 on, because the published rules say 72 h and not 3 d.
            if value % size == 0 and value and not (unit == "d" and value < 7 * DAY_MS):
                return f"{value // size}{unit}"
        return "0s" if value == 0 else f"{value}ms"
    return str(value)


def show_both(kind: Kind, value: int) -> tuple[str, str]:
    """Return a value for people in °F and in °C (twice the same if it is no temperature)."""
    if kind is Kind.TEMPERATURE:
        return show_temperature(value, "degF"), show_temperature(value, "degC")
    if kind is Kind.DIFFERENCE:
        return show_difference(value, "degF"), show_difference(value, "degC")
    if kind in {Kind.PERCENT, Kind.SHARE}:
        text = show_percent(value if kind is Kind.PERCENT else value * 100)
        return text, text
    text = show_value(kind, value)
    return text, text


def read_value(threshold: Threshold, value: object) -> int:
    """Return one threshold's value as the integer used inside.

    Raises:
        UnfitError: The value has no unit, a wrong one, or is out of any sensible range.
    """
    example = show_value(threshold.kind, threshold.default)
    if threshold.kind is Kind.TEMPERATURE:
        milli_c = quantities.temperature_milli_c(value, _temperature_example(value, example))
        if not -60_000 <= milli_c <= 120_000:
            raise UnfitError(
                f"{quantities.show(value)} is beyond what a probe here measures",
                f'the default is "{example}"; is the unit right?',
            )
        return milli_c
    if threshold.kind is Kind.DIFFERENCE:
        return quantities.difference_milli_k(value, example)
    if threshold.kind is Kind.PERCENT:
        return quantities.percent_milli(value, example)
    if threshold.kind is Kind.SHARE:
        return divide_half_even(quantities.percent_milli(value, example), 100)
    if threshold.kind is Kind.DURATION:
        return quantities.duration_ms(value, example)
    number = int(value) if isinstance(value, str) and value.strip().isdigit() else value
    if isinstance(number, bool) or not isinstance(number, int) or not 1 <= number <= 1000:
        wrong = f"{quantities.show(value)} is not a whole number from 1 to 1000"
        raise UnfitError(wrong, f"write a number, such as {example}")
    return number


def _temperature_example(value: object, example: str) -> str:
    """Return the example for a bare number: the number itself, once with each unit."""
    text = str(value).strip()
    if isinstance(value, bool) or not text.replace(".", "", 1).lstrip("-").isdigit():
        return example
    return f'{text} degF" or "{text} degC'


def read_thresholds(base: T, table: Mapping[str, Any], path: KeyPath, problems: Problems) -> T:
    """Replace thresholds by the values of a table.

    Args:
        base: Values in force without the table.
        table: Texts by key.
        path: Key path of the table, for faults.
        problems: Receives faults: an unknown key, or a value that cannot be read.

    Returns:
        `base` with the readable values replaced.
    """
    known = keys_of(type(base))
    values: dict[str, int] = {}
    for key, value in table.items():
        if key not in known:
            problems.add((*path, key), "this threshold is unknown", suggestion(key, known, noun="threshold"))
            continue
        try:
            values[known[key].field] = read_value(known[key], value)
        except UnfitError as fault:
            problems.fault((*path, key), fault)
    return replace(base, **values)


def check_order(
    thresholds: Thresholds,
    written: Mapping[str, KeyPath],
    path: KeyPath,
    problems: Problems,
    temperature_unit: str = "degF",
) -> None:
    """Note every pair of limits in the wrong order.

    Args:
        thresholds: The values in force at a place.
        written: Path of each key that the configuration sets for it; pairs of defaults need no check.
        path: Key path of the place's thresholds, for a fault of no single key.
        problems: Receives the faults.
        temperature_unit: The site's unit, used in the sentences.
    """
    known = {one.field: one for one in keys_of(type(thresholds)).values()}
    for low, sign, high in ORDER[type(thresholds)]:
        one, other = known[low], known[high]
        low_value, high_value = getattr(thresholds, one.field), getattr(thresholds, other.field)
        if low_value < high_value or (sign == "<=" and low_value == high_value):
            continue
        blamed, held, word = (one, other, "below") if one.key in written else (other, one, "above")
        if sign == "<=":
            word = {"below": "at or below", "above": "at or above"}[word]
        values = {
            one.key: show_value(one.kind, low_value, temperature_unit),
            other.key: show_value(other.kind, high_value, temperature_unit),
        }
        problems.add(
            written.get(blamed.key, (*path, blamed.key)),
            f'"{values[blamed.key]}" is not {word} {held.key}, which is "{values[held.key]}"',
            f"lower {one.key}, or raise {other.key}",
        )
