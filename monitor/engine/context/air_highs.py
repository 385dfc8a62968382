"""The air's highest temperature of the last day, by the hour, which a warm bin is compared with before a message names food.

An hour counts as long as any of it lies within the 24 h asked for, so the span is up to an hour longer (ours).
"""

from collections.abc import Iterable

from monitor.model.times import DAY_MS, HOUR_MS

Highs = list[tuple[int, int]]
"""(hour since 1970, highest of it in thousandths of a degree Celsius), by hour."""

_KEPT = 26
"""Hours kept behind the newest one."""


def note_high(highs: Highs, time: int, milli: int) -> None:
    """Take in an accepted reading of the air; readings may come in any order.

    Args:
        highs: The highest by the hour; changed in place.
        time: When it was measured, UTC ms.
        milli: The temperature, thousandths of °C.
    """
    hour = time // HOUR_MS
    if not highs or highs[-1][0] != hour:
        note_highs(highs, [(hour, milli)])
    elif milli > highs[-1][1]:
        highs[-1] = (hour, milli)


def note_highs(highs: Highs, parts: Iterable[tuple[int, int]]) -> None:
    """Take in the highest of some hours, which may have been heard of before."""
    for hour, milli in parts:
        place = len(highs)
        while place and highs[place - 1][0] > hour:
            place -= 1
        if place and highs[place - 1][0] == hour:
            highs[place - 1] = (hour, max(milli, highs[place - 1][1]))
        elif not highs or hour >= highs[-1][0] - _KEPT:
            highs.insert(place, (hour, milli))
    while highs and highs[0][0] < highs[-1][0] - _KEPT:
        del highs[0]


def highest(highs: Highs, at: int) -> int | None:
    """Return the air's highest of the 24 h before `at` (UTC ms), thousandths of a degree Celsius; None if not known."""
    first = (at - DAY_MS) // HOUR_MS
    return max((milli for hour, milli in highs if first <= hour <= at // HOUR_MS), default=None)
