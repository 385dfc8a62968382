"""The seam for whatever foresees, and how such a thing is held against its own record before anybody is told.

A model that learns comes through the same seam: it answers `foresee`, and the check below judges it as it judges the rule.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Protocol

from monitor.forecast.outlook import Whence
from monitor.forecast.past_days import Past, Trouble

CALLS = 10
"""How many of its newest forecasts it is judged by (ours)."""
FIRST_CALLS = 3
"""With fewer it is not judged yet (ours)."""
AGAIN_AFTER_DAYS = 3
"""People are told of a place and a trouble again after more than so many days (ours)."""
BAR = 2, 3
"""The share of them that must have been right, else it keeps silent (ours)."""


@dataclass(frozen=True, slots=True)
class Expected:
    """The trouble that a place is to expect tomorrow, and the days that say so.

    Attributes:
        days: How many days of the record speak for it.
        against: How many speak against it.
        last: The newest of those that speak for it.
    """

    days: int
    against: int
    last: date


class Foresees(Protocol):
    """Says whether a place will pass its limit tomorrow."""

    def foresee(self, past: Past, today: date, air: int, place: int) -> Expected | None:
        """Return the trouble to expect, or None.

        Args:
            past: The record of the place.
            today: The local date; later days are not looked at.
            air: How far tomorrow's air goes, thousandths of °C with the sign of the trouble.
            place: How far the place went today, likewise.
        """


@dataclass(frozen=True, slots=True)
class Score:
    """The count of the past evenings on which it was right.

    Attributes:
        right: The evenings on which it would have spoken, and the place passed its limit the next day.
        calls: All evenings on which it would have spoken.
    """

    right: int
    calls: int


def held_against_itself(
    who: Foresees, past: Past, today: date, said: Mapping[date, int], *, after_calm: bool, persists: bool
) -> Score:
    """Return how often it was right on its newest past evenings of the same kind.

    Each evening is judged with what was known then: the record up to that day, and the forecast that stood or else, where
    persistence serves, that day's own air. A day on which somebody had acted, or which was not measured, does not judge it.

    Args:
        who: What foresees.
        past: The record of the place.
        today: The local date; only evenings before it are judged.
        said: The forecast that stood on the evening before, by the day that it was for, with the sign of the trouble.
        after_calm: Whether to judge it by evenings of days on which the place did not pass its limit, else by the others.
        persists: Whether it speaks without a forecast too.
    """
    right = calls = 0
    by_day = {one.day: one for one in past.days}
    for day in sorted(past.place, reverse=True):
        if calls == CALLS:
            break
        if day >= today:
            continue
        tomorrow = by_day.get(day + timedelta(days=1))
        air = said.get(day + timedelta(days=1), past.air.get(day) if persists else None)
        calm = past.place[day] < past.limit
        if tomorrow is None or air is None or calm is not after_calm or not (tomorrow.passed or tomorrow.tells_calm):
            continue
        if who.foresee(past, day, air, past.place[day]) is not None:
            calls, right = calls + 1, right + tomorrow.passed
    return Score(right, calls)


def must_prove_itself(trouble: Trouble, whence: Whence) -> bool:
    """Return whether a place's own evenings must have shown the rule right before anybody is told.

    In the simulator it was right often enough from the start with a forecast of a hot day, and not with tomorrow taken to be as
    today, nor for frost (docs/evening.md).
    """
    return trouble is Trouble.FROST or whence is Whence.TODAY


def enough(score: Score, *, proven: bool = False) -> bool:
    """Return whether it was right often enough to be told, or has spoken too seldom to be judged.

    Args:
        score: How often it was right.
        proven: Whether it must have been judged before it is told.
    """
    share, of = BAR
    if score.calls < FIRST_CALLS:
        return not proven
    return score.right * of >= share * score.calls
