"""A time that a probe lay outside its place, and which readings fall into it."""

from bisect import bisect_right
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class TimeOutside:
    """A time outside.

    Attributes:
        start: When it began, UTC ms.
        end: When the probe was back, UTC ms; None: it still lies outside.
        fit: When its readings count again, UTC ms: it needs an hour to take on the heat around it.
        logged: When people say that it went out, UTC ms: a turning is logged at its end, and the fall before belongs to it.
    """

    start: int
    end: int | None
    fit: int | None
    logged: int


def inside_at(some: tuple[TimeOutside, ...], times: list[int]) -> list[bool]:
    """Return for each instant (UTC ms) whether a reading then belongs to the probe's place."""
    starts = [one.start for one in some]
    kept = []
    for time in times:
        place = bisect_right(starts, time) - 1
        fit = some[place].fit if place >= 0 else 0
        kept.append(place < 0 or (fit is not None and time >= fit))
    return kept
