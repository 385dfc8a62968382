"""Ranges of a threshold as people write them: `bins.b1.overheating=80..90 degF:0.5`, `overheating_dwell=5..60m:5`.

Rules:
1. Left of `=` is the key as in the configuration, or its last part if the place is given. Right of it: lowest, `..` (or
   `to`), highest, the unit once (or with each), and after `:` (or `by`) the step in the same unit.
2. A range without a step has ten even steps, rounded to a tenth of the unit (whole for durations and counts).
3. Every value is read as if it stood in the configuration, and keeps the text it would have there.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

from monitor.configuration.config_problems import KeyPath, Problems, UnfitError, suggestion
from monitor.configuration.layers import assignment
from monitor.configuration.thresholds import Kind, Threshold, check_order, keys_of, read_value, show_value
from monitor.model.errors import ConfigurationError
from monitor.model.settings import Settings
from monitor.model.thresholds import BinThresholds, PileThresholds

MOST_VALUES = 1_000
"""Most values of one range; with more, neighbours would not differ for any purpose."""

_NUMBER = r"([-+]?\d+(?:\.\d+)?)\s*([^\d\s.:]*)"
_RANGE = re.compile(
    rf"\s*{_NUMBER}\s*(?:\.\.+|–|\bto\b)\s*{_NUMBER}\s*(?:(?::|\bby\b|\bstep\b)\s*{_NUMBER})?\s*", re.IGNORECASE
)
_EVEN_STEPS = 10
_SPOKEN = {"min": "m", "mins": "m", "minute": "m", "minutes": "m", "hour": "h", "hours": "h", "day": "d", "days": "d"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Range:
    """One threshold of one place and the values to try, rising.

    Attributes:
        section: `bins` or `piles`.
        place: The bin or pile.
        threshold: The key, its field and its kind.
        values: As used inside.
        texts: The same as written in the configuration.
    """

    section: str
    place: str
    threshold: Threshold
    values: tuple[int, ...]
    texts: tuple[str, ...]

    @property
    def path(self) -> KeyPath:
        """The threshold's key path in the configuration."""
        return self.section, self.place, "thresholds", self.threshold.key

    def text(self, value: int) -> str:
        """Return a value as written in the configuration; a value outside the range in its usual unit."""
        if value in self.values:
            return self.texts[self.values.index(value)]
        return show_value(self.threshold.kind, value)


def read_range(text: str, settings: Settings, place: str | None = None) -> Range:
    """Read a range.

    Args:
        text: `KEY=LOW..HIGH UNIT:STEP`.
        settings: Hold the places there are.
        place: The place that a bare key belongs to, or None.

    Returns:
        The threshold and its values.

    Raises:
        ConfigurationError: The text cannot be read; the sentence says what would be right.
    """
    try:
        return _range(text, settings, place)
    except UnfitError as fault:
        right = fault.right if fault.right.endswith(("?", ".")) else f"{fault.right}."
        raise ConfigurationError([f"--vary {text}: {fault.wrong}; {right}"]) from fault


def place_named(text: str) -> str | None:
    """Return the place that a range's full key names; None if the key is short or cannot be read."""
    try:
        path, _ = assignment(text)
    except UnfitError:
        return None
    return path[1] if len(path) == 4 and path[0] in {"bins", "piles"} else None


def fits(thresholds: BinThresholds | PileThresholds) -> bool:
    """Return whether limits that belong together stand in the required order."""
    return not _misfits(thresholds).found


def misfit(thresholds: BinThresholds | PileThresholds) -> str:
    """Return the sentence about limits in the wrong order, as the configuration would report it; "" if all are right."""
    return " ".join(_misfits(thresholds).sentences()[:1]).removeprefix(": ")


def _misfits(thresholds: BinThresholds | PileThresholds) -> Problems:
    problems = Problems("")
    check_order(thresholds, {}, (), problems)
    return problems


def _range(text: str, settings: Settings, place: str | None) -> Range:
    left, equals, right = text.partition("=")
    example = "write it such as bins.b1.overheating=80..90degF:0.5"
    if not equals or not left.strip():
        raise UnfitError("that is no KEY=LOW..HIGH", example)
    section, named, key = _place(left, settings, place, example)
    known = keys_of(BinThresholds if section == "bins" else PileThresholds)
    if key not in known:
        raise UnfitError(f'there is no threshold "{key}" of a {section[:-1]}', suggestion(key, known, noun="threshold"))
    threshold = known[key]
    found = _RANGE.fullmatch(right)
    if found is None:
        shown = _example(threshold)
        raise UnfitError(
            f'"{right.strip()}" is no range', f"write lowest, highest, unit and step, such as {key}={shown}"
        )
    low, unit, high, unit_2, step, unit_3 = found.groups()
    units = {one for one in (unit, unit_2, unit_3) if one}
    if len(units) > 1:
        raise UnfitError(f"it names two units, {' and '.join(sorted(units))}", "write all of it in one unit")
    numbers = _numbers(Decimal(low), Decimal(high), Decimal(step) if step else None, threshold)
    texts = [_text(number, next(iter(units), ""), threshold) for number in numbers]
    values: Mapping[int, str] = {read_value(threshold, one): one for one in texts}
    return Range(section=section, place=named, threshold=threshold, values=tuple(values), texts=tuple(values.values()))


def _place(left: str, settings: Settings, place: str | None, example: str) -> tuple[str, str, str]:
    path, _ = assignment(f"{left.strip()}=0")
    if len(path) == 1 and place is not None:
        path = ("bins" if place in settings.bins else "piles", place, "thresholds", path[0])
    if len(path) == 1:
        raise UnfitError(
            f'it is not said whose "{path[0]}" is meant', "name the place with --place, or write bins.ID.KEY"
        )
    if path[0] == "thresholds":
        raise UnfitError("that is a threshold of the whole yard", "vary it for one place, such as bins.b1.overheating")
    if len(path) != 4 or path[0] not in {"bins", "piles"} or path[2] != "thresholds":
        raise UnfitError(f'"{left.strip()}" is no threshold of a place', example)
    places = settings.bins if path[0] == "bins" else settings.piles
    if path[1] not in places:
        raise UnfitError(f'there is no {path[0][:-1]} "{path[1]}"', suggestion(path[1], places, noun=path[0][:-1]))
    if place is not None and path[1] != place:
        raise UnfitError(f'that is a threshold of "{path[1]}"', f'one place is tuned at a time, here "{place}"')
    return path[0], path[1], path[3]


def _numbers(low: Decimal, high: Decimal, step: Decimal | None, threshold: Threshold) -> list[Decimal]:
    if high < low:
        raise UnfitError("the range ends below its beginning", "write the lowest value first")
    if step is not None and step <= 0:
        raise UnfitError("the step is not above zero", "write a step such as 0.5, or leave it out")
    if low == high:
        return [low]
    if step is not None:
        count = int((high - low) / step) + 1
        if count > MOST_VALUES:
            raise UnfitError(f"that makes {count} values", f"take larger steps; {MOST_VALUES} values are the most")
        return [low + step * number for number in range(count)]
    whole = threshold.kind in (Kind.DURATION, Kind.COUNT)
    grain = Decimal(1) if whole else Decimal("0.1")
    even = [low + (high - low) * number / _EVEN_STEPS for number in range(_EVEN_STEPS + 1)]
    return list(dict.fromkeys((one / grain).quantize(Decimal(1)) * grain for one in even))


def _text(number: Decimal, unit: str, threshold: Threshold) -> str:
    plain = f"{number.normalize():f}"
    if threshold.kind is Kind.DURATION:
        return f"{plain}{_SPOKEN.get(unit.lower(), unit)}"
    return f"{plain} {unit}".strip()


def _example(threshold: Threshold) -> str:
    usual = show_value(threshold.kind, threshold.default)
    found = re.fullmatch(r"([\d.]+)\s*(.*)", usual)
    if found is None:
        return f"{usual}..{usual}"
    value = Decimal(found[1])
    return f"{(value * Decimal('0.9')).quantize(Decimal(1))}..{(value * Decimal('1.1')).quantize(Decimal(1))}{found[2]}"
