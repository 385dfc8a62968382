"""Limits on several series together: the values at which an excursion past a limit begins, goes on and ends.

A few numbers sum up the series (`Side`). After one reading each is a number; over many readings each is a column.
A rule states spans of these numbers once, and both forms are compared with the same spans.
"""

from collections.abc import Iterable, Sequence
from enum import IntEnum
from functools import lru_cache
from typing import NamedTuple

from monitor.model.excursions import Excursion
from monitor.model.units import Quantity

LOWEST, HIGHEST = -(1 << 40), 1 << 40
"""Below and above every measurable value, thousandths."""

NEVER = 1 << 62


class Side(IntEnum):
    """A number that sums up all series of a place: of the live ones, or of the newest value of each, silent or not."""

    HIGH = 0
    LOW = 1
    LAST_HIGH = 2
    LAST_LOW = 3
    EVERY = 4
    """The value that no series is below."""
    LAST_EVERY = 5


Sides = Sequence[int]
"""A number for each `Side`, thousandths. An unknown one passes no limit: it is HIGHEST on the two low sides, else LOWEST."""


class Span(NamedTuple):
    """A range of numbers of one side, both ends included."""

    side: Side
    least: int
    most: int

    def covers(self, milli: int) -> bool:
        """Return whether a number lies in the span."""
        return self.least <= milli <= self.most

    def has(self, sides: Sides) -> bool:
        """Return whether the number of its side lies in the span."""
        return self.least <= sides[self.side] <= self.most

    def rest(self) -> "Span":
        """Return the span of all other numbers; one end of this span must be open."""
        if self.least == LOWEST:
            return Span(self.side, self.most + 1, HIGHEST)
        return Span(self.side, LOWEST, self.least - 1)


class Bound(NamedTuple):
    """A limit with its deadband and its delay.

    Attributes:
        beyond: Values at which an excursion begins.
        held: Values at which an excursion with a filled delay stays open.
        within: Values at which none begins.
        delay_ms: Time that the value must stay beyond.
    """

    beyond: Span
    held: Span
    within: Span
    delay_ms: int

    @property
    def falls(self) -> bool:
        """Whether `beyond` lies below the limit."""
        return self.beyond.least == LOWEST

    def keeps(self, excursion: Excursion) -> Span:
        """Return the values that leave an excursion as it is, apart from the filling of its delay."""
        if excursion.confirmed:
            return self.held
        return self.within if excursion.since is None else self.beyond


@lru_cache(256)
def rising(first: int, release: int, delay_ms: int, begins: Side = Side.HIGH, holds: Side = Side.LAST_HIGH) -> Bound:
    """Make an upper limit.

    Args:
        first: The lowest number beyond it, thousandths.
        release: The lowest number that holds an excursion open, thousandths.
        delay_ms: Time that the value must stay beyond.
        begins: The side that is compared with `first`.
        holds: The side that is compared with `release`.

    Returns:
        The limit with its spans.
    """
    beyond = Span(begins, first, HIGHEST)
    return Bound(beyond, Span(holds, release, HIGHEST), beyond.rest(), delay_ms)


@lru_cache(256)
def falling(first: int, release: int, delay_ms: int, begins: Side = Side.LOW, holds: Side = Side.LAST_LOW) -> Bound:
    """Make a lower limit.

    Args:
        first: The highest number beyond it, thousandths.
        release: The highest number that holds an excursion open, thousandths.
        delay_ms: Time that the value must stay beyond.
        begins: The side that is compared with `first`.
        holds: The side that is compared with `release`.

    Returns:
        The limit with its spans.
    """
    beyond = Span(begins, LOWEST, first)
    return Bound(beyond, Span(holds, LOWEST, release), beyond.rest(), delay_ms)


class Limit(NamedTuple):
    """A limit that is watched.

    Attributes:
        name: The alarm behind it, or the kind of line in the digest.
        excursion: The state of its excursion.
        bound: The values at which it begins, goes on and ends.
        milli: The limit as shown to people, thousandths.
        quantity: Quantity of the limit.
        stage: 1 for the worse limit of its alarm.
        by: Which probes must be beyond it, "any" or "all", if an alarm has a limit for each case; else "".
    """

    name: str
    excursion: Excursion
    bound: Bound
    milli: int
    quantity: Quantity = Quantity.TEMPERATURE
    stage: int = 0
    by: str = ""


class Quiet(NamedTuple):
    """The readings that change nothing but the newest values, and the instant until which that holds.

    Attributes:
        spans: Spans in which every side must stay.
        until: Own time of a reading that fills a delay, UTC ms; NEVER if no delay runs.
        waits: Whether the next reading that is not late moves a deadline, as after a change of settings.
    """

    spans: list[Span]
    until: int
    waits: bool


def quiet(limits: Iterable[Limit], spans: Iterable[Span] = (), *, deadlines: bool = True) -> Quiet:
    """Work out which readings leave excursions as they are.

    Args:
        limits: The watched limits.
        spans: Further spans that must hold.
        deadlines: Whether deadlines fill the delays of these excursions.

    Returns:
        The spans, and the time of the first reading that fills a delay.
    """
    found, until, waits = [*spans], NEVER, False
    for limit in limits:
        excursion = limit.excursion
        found.append(limit.bound.keeps(excursion))
        if excursion.since is not None and not excursion.confirmed:
            due = excursion.since + limit.bound.delay_ms
            until, waits = min(until, due), waits or (deadlines and excursion.due != due)
    return Quiet(found, until, waits)
