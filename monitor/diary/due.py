"""Things that fall due: when, where, what, why, and how long each can wait.

1. A thing can be done from `due_ms` on. Its slack is the time from then on in which nothing is lost yet; once it is due, what
   is left of that. Below zero it is overdue by as much. Where no later harm is known, it is due and late at one instant.
2. An expectation asks nobody to do anything: a rule that will be met, the first frost of other years.
3. The same thing has the same id at every look (`of` says what makes it the same: the turning that it follows, the last
   round), so that a calendar moves an entry instead of adding a second.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum


class What(StrEnum):
    """The kinds of things: something to do, or to expect."""

    KEEP_OFF = "keep off"
    TURN = "turn"
    READ = "read"
    WATER = "water"
    BEDDING = "bedding"
    SHADE = "shade"
    WRAP = "wrap"
    FEED = "feed"
    LIFT = "lift"
    HARVEST = "harvest"
    SCREEN = "screen"
    BACK = "put back"
    MIX = "mix"
    TEST = "test"
    TEST_LOT = "test a lot"
    CERTIFY = "certify"
    CALIBRATE = "calibrate"
    EMPTY = "empty"
    EXPECT = "expect"


@dataclass(frozen=True, slots=True, kw_only=True)
class Due:
    """One thing that falls due.

    Attributes:
        due_ms: From when on it can be done, or when it is expected, UTC ms.
        place: A pile, a bin, or `YARD`.
        what: What is to be done.
        why: Why, a sentence without its full stop, for people.
        of: What makes it the same thing at the next look.
        latest_ms: Until when nothing is lost if it waits, UTC ms; None: it is late as soon as it is due.
        again_ms: How long after it is done the same falls due again by its plan, ms; None: nobody can say.
        then_ms: When the same would fall due again, so many times, if it is done in time and all goes on so, UTC ms.
    """

    due_ms: int
    place: str
    what: What
    why: str
    of: str = ""
    latest_ms: int | None = None
    again_ms: int | None = None
    then_ms: tuple[int, ...] = ()

    @property
    def id(self) -> str:
        """Its id: the same at every look, and another for each other thing."""
        return f"{self.what}/{self.place}/{self.of}".removesuffix("/")

    @property
    def expected(self) -> bool:
        """Whether it is only expected, so that it is never overdue."""
        return self.what is What.EXPECT

    @property
    def forbids(self) -> bool:
        """Whether it says what not to do: it stands in place of all work at its heap."""
        return self.what is What.KEEP_OFF

    def slack_ms(self, now: int) -> int:
        """Return how long it can wait from when it is due, or from `now` (UTC ms) if it is due already; below 0: overdue."""
        if self.expected:
            return 0
        latest = self.due_ms if self.latest_ms is None else max(self.latest_ms, self.due_ms)
        return latest - max(self.due_ms, now)


def in_order(found: Iterable[Due], until: int) -> list[Due]:
    """Return the things due before an instant (UTC ms) in order; a heap to keep off comes before all else.

    Args:
        found: Things in any order.
        until: Those due at it or later are left out.
    """
    return sorted(
        (one for one in found if one.due_ms < until),
        key=lambda one: (not one.forbids, one.due_ms, one.slack_ms(one.due_ms), one.place, one.id),
    )
