"""The word of the evening before: when it is told, and from how many days of the record."""

from dataclasses import dataclass

from monitor.model.units import celsius_milli


@dataclass(frozen=True, slots=True, kw_only=True)
class EveningPolicy:
    """The settings of the word of the evening before.

    Attributes:
        tell: Whether it is told at all.
        frost: Whether of frost too.
        minute: When, local minutes after midnight.
        within_milli_k: How far a day's air and the place may have been from tomorrow's and today's to be like them.
        days: How many such days must have taken the place past its limit.
    """

    tell: bool = True
    frost: bool = False
    minute: int = 19 * 60
    within_milli_k: int = celsius_milli(8 + 32, "degF")
    days: int = 3
