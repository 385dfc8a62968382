"""One time that a probe lay outside its place, and which of its readings were taken then."""

from bisect import bisect_right
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class TimeOutside:
    """One time outside: from `start` on (UTC ms), back at `end`, None while it still lies outside.

    `fit` is from when on what it reads counts again: it takes an hour to be as warm as what is about it. `logged` is when
    people say that it went out: a turning is logged when it is done, and the fall before it belongs to it.
    """

    start: int
    end: int | None
    fit: int | None
    logged: int


def inside_at(some: tuple[TimeOutside, ...], times: list[int]) -> list[bool]:
    """Return for each instant (UTC ms) whether what a probe read there is its place's."""
    starts = [one.start for one in some]
    kept = []
    for time in times:
        place = bisect_right(starts, time) - 1
        fit = some[place].fit if place >= 0 else 0
        kept.append(place < 0 or (fit is not None and time >= fit))
    return kept
