"""Rounds: the readings of one batch taken by hand within an hour, as one point of two lines, the coldest and the hottest.

1. A round runs 60 min from its first reading; its point lies at the last of its readings.
2. A spot read twice counts by its later value; a spot not read holds nothing back. Readings without a named spot
   may each be of another spot: all of them count (our choice).
3. The lower line joins the coldest readings, the upper the hottest: each limit is compared with the line that decides it.
   Between rounds at most `hand_gap` apart both are straight lines, also across a turning; they are assumed, and count.
4. Rounds prove only while no core probe is in service: from the building if there is none, else from a `probe out`
   that is not a turning's to the next `probe in`.
"""

from collections.abc import Iterable
from typing import NamedTuple

from monitor.model.readings import names_spot
from monitor.model.times import MINUTE_MS

ROUND_MS = 60 * MINUTE_MS
GONE_MS = 1_000
"""Time from the last reading of a probe that fell silent to its going out (our choice): less than any spacing of readings."""
COLDEST, HOTTEST = "hand::coldest", "hand::hottest"
"""Ids of the two lines; no place or probe has such an id."""
ROUND_LINES = (COLDEST, HOTTEST)


class RoundPoint(NamedTuple):
    """One round.

    Attributes:
        time: When the last of its readings was taken, UTC ms.
        low, high: Its coldest and its hottest, thousandths of a degree Celsius.
        first: When the first of its readings was taken, UTC ms.
        spots: Number of spots read.
    """

    time: int
    low: int
    high: int
    first: int
    spots: int


def rounds(readings: Iterable[tuple[int, str, int]]) -> list[RoundPoint]:
    """Return the rounds of readings by hand.

    Args:
        readings: (time, series, thousandths of °C), in any order.
    """
    found: list[RoundPoint] = []
    newest: dict[str | tuple[str, int], int] = {}
    for time, series, milli in sorted(readings):
        if found and time <= found[-1].first + ROUND_MS:
            first = found.pop().first
        else:
            first, newest = time, {}
        newest[series if names_spot(series) else (series, time)] = milli
        values = newest.values()
        found.append(RoundPoint(time, min(values), max(values), first, len(newest)))
    return found
