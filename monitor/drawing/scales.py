"""Scales of a plot: from values and instants to places on the sheet, and ticks at round numbers.

Values come as thousandths of °C or of a percent and are shown in the unit that the site chose.
"""

from dataclasses import dataclass
from enum import StrEnum
from math import ceil, floor

from monitor.model.units import MILLI, show_percent, show_temperature


class Unit(StrEnum):
    """The unit in which a plot shows its values; for temperatures the words of the configuration."""

    DEGF = "degF"
    DEGC = "degC"
    PERCENT = "%"

    @property
    def sign(self) -> str:
        """The unit as people write it: `°F`, `°C`, `%`."""
        return {Unit.DEGF: "°F", Unit.DEGC: "°C", Unit.PERCENT: "%"}[self]

    @property
    def other(self) -> "Unit | None":
        """The other unit of temperature; None for percent."""
        return {Unit.DEGF: Unit.DEGC, Unit.DEGC: Unit.DEGF, Unit.PERCENT: None}[self]

    def shown(self, milli: float) -> float:
        """Return thousandths of the canonical unit as a number in this unit."""
        return milli * 9 / 5000 + 32 if self is Unit.DEGF else milli / MILLI

    def milli(self, shown: float) -> float:
        """Return a number in this unit as thousandths of the canonical unit."""
        return (shown - 32) * 5000 / 9 if self is Unit.DEGF else shown * MILLI

    def say(self, milli: int) -> str:
        """Return a value for people, such as `131 °F` or `72.5 %`."""
        return show_percent(milli) if self is Unit.PERCENT else show_temperature(milli, self.value)


@dataclass(frozen=True, slots=True)
class Scale:
    """A straight scale: `low` falls on `at_low`, `high` on `at_high`; low and high differ."""

    low: float
    high: float
    at_low: float
    at_high: float

    def place(self, value: float) -> float:
        """Return the place of a value, in units, also beyond the ends."""
        return self.at_low + (value - self.low) * (self.at_high - self.at_low) / (self.high - self.low)

    def within(self, value: float) -> float:
        """Return the place of a value, no further out than the ends."""
        return self.place(min(max(value, self.low), self.high))


def round_step(span: float, most: int) -> float:
    """Return the smallest step of 1, 2, 5 or 10 times a power of ten that makes at most `most` steps of a span."""
    step = 1e-3
    while True:
        for factor in (1, 2, 5):
            if span <= step * factor * most:
                return step * factor
        step *= 10


def ticks(low: float, high: float, most: int) -> list[float]:
    """Choose round numbers within a range.

    Args:
        low: Lower end.
        high: Upper end; above `low`.
        most: Rough limit on how many.

    Returns:
        Multiples of 1, 2 or 5 times a power of ten, in rising order.
    """
    step = round_step(high - low, max(most, 1))
    return [step * index for index in range(ceil(low / step - 1e-9), floor(high / step + 1e-9) + 1)]


def say_tick(value: float) -> str:
    """Return a tick's number: `120`, `0.5`."""
    return f"{value:.3f}".rstrip("0").rstrip(".").replace("-0", "0") if abs(value) < 5e-4 else f"{value:g}"


def room(low: float, high: float, least: float) -> tuple[float, float]:
    """Widen a range of values a little.

    Args:
        low: Lowest value.
        high: Highest value.
        least: Least width of the result.

    Returns:
        (low, high), about 6 % wider at either end.
    """
    spare = max((high - low) * 0.06, (least - (high - low)) / 2)
    return low - spare, high + spare
