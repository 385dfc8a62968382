"""Limits of what several series say together: where an excursion past one begins, goes on and ends.

What counts of the series is a few numbers (`Side`). After one reading each is a number; over many readings each is a column.
A rule states spans of these numbers once, and both are held against the same spans.
"""

from collections.abc import Iterable, Sequence
from enum import IntEnum
from functools import lru_cache
from typing import NamedTuple

from monitor.model.excursions import Excursion
from monitor.model.units import Quantity

LOWEST, HIGHEST = -(1 << 40), 1 << 40
"""Below and above all that is measured, thousandths."""

NEVER = 1 << 62


class Side(IntEnum):
    """A number that stands for all series of a place: of those that speak, or of what each said last, silent or not."""

    HIGH = 0
    LOW = 1
    LAST_HIGH = 2
    LAST_LOW = 3
    EVERY = 4
    """What none is below."""
    LAST_EVERY = 5


Sides = Sequence[int]
"""A number for each `Side`, thousandths. Where nothing is known, past no limit: HIGHEST on the two low sides, else LOWEST."""


class Span(NamedTuple):
    """Numbers of one side, from the least to the most that belong to it."""

    side: Side
    least: int
    most: int

    def covers(self, milli: int) -> bool:
        """Tell whether a number lies in it."""
        return self.least <= milli <= self.most

    def has(self, sides: Sides) -> bool:
        """Tell whether the number of its side lies in it."""
        return self.least <= sides[self.side] <= self.most

    def rest(self) -> "Span":
        """Return all that does not lie in it; it must be open to one end."""
        if self.least == LOWEST:
            return Span(self.side, self.most + 1, HIGHEST)
        return Span(self.side, LOWEST, self.least - 1)


class Bound(NamedTuple):
    """A limit with its deadband and its delay.

    Attributes:
        beyond: Where an excursion begins.
        held: Where one that has filled its delay stays open.
        within: Where none begins.
        delay_ms: How long it must be beyond.
    """

    beyond: Span
    held: Span
    within: Span
    delay_ms: int

    @property
    def falls(self) -> bool:
        """Whether beyond is below."""
        return self.beyond.least == LOWEST

    def keeps(self, excursion: Excursion) -> Span:
        """Return where an excursion stays as it is, but for when its delay is filled."""
        if excursion.confirmed:
            return self.held
        return self.within if excursion.since is None else self.beyond


@lru_cache(256)
def rising(first: int, release: int, delay_ms: int, begins: Side = Side.HIGH, holds: Side = Side.LAST_HIGH) -> Bound:
    """Return an upper limit.

    Args:
        first: The lowest number beyond it, thousandths.
        release: The lowest that holds open what has begun.
        delay_ms: How long it must be beyond.
        begins: The side that is held against `first`.
        holds: The side that is held against `release`.
    """
    beyond = Span(begins, first, HIGHEST)
    return Bound(beyond, Span(holds, release, HIGHEST), beyond.rest(), delay_ms)


@lru_cache(256)
def falling(first: int, release: int, delay_ms: int, begins: Side = Side.LOW, holds: Side = Side.LAST_LOW) -> Bound:
    """Return a lower limit; as `rising`, but for the highest numbers."""
    beyond = Span(begins, LOWEST, first)
    return Bound(beyond, Span(holds, LOWEST, release), beyond.rest(), delay_ms)


class Limit(NamedTuple):
    """A limit that is watched.

    Attributes:
        name: The alarm behind it, or the kind of line in the digest.
        excursion: What is remembered of it.
        bound: Where it begins, goes on and ends.
        milli: The limit as people are told it, thousandths.
        quantity: Of what.
        stage: 1 where it is the worse limit of its alarm.
        by: Which probes must be beyond it, "any" or "all", where an alarm has one limit for each; else "".
    """

    name: str
    excursion: Excursion
    bound: Bound
    milli: int
    quantity: Quantity = Quantity.TEMPERATURE
    stage: int = 0
    by: str = ""


class Quiet(NamedTuple):
    """Which readings change nothing but the newest values, and when something was last beyond its limit.

    Attributes:
        spans: Where every side must stay.
        until: Own time of a reading that fills a delay, UTC ms; NEVER where none runs.
        waits: Whether the next reading that is not late moves a deadline, as after a change of settings.
    """

    spans: list[Span]
    until: int
    waits: bool


def quiet(limits: Iterable[Limit], spans: Iterable[Span] = (), *, deadlines: bool = True) -> Quiet:
    """Return which readings leave excursions as they are.

    Args:
        limits: What they are of.
        spans: What else must hold.
        deadlines: Whether the excursions are waited for with deadlines.
    """
    found, until, waits = [*spans], NEVER, False
    for limit in limits:
        excursion = limit.excursion
        found.append(limit.bound.keeps(excursion))
        if excursion.since is not None and not excursion.confirmed:
            due = excursion.since + limit.bound.delay_ms
            until, waits = min(until, due), waits or (deadlines and excursion.due != due)
    return Quiet(found, until, waits)
