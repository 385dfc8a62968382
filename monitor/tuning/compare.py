"""Two runs of one record side by side: the calls that stay, are gone, are new, or come at another time.

Rules:
1. Calls of one key are the same if their times on overlap, or their first messages are less than `NEAR_MS` apart; each is
   paired once, with the nearest.
2. A pair sent at the same instant stays; else it has moved.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from monitor.model.times import HOUR_MS
from monitor.tuning.calls import Call

NEAR_MS = 6 * HOUR_MS
"""Two messages about one alarm less than this apart count as the same (our choice)."""


class Fate(StrEnum):
    """The fate of a message."""

    STAYS = "stays"
    MOVED = "moved"
    GONE = "gone"
    NEW = "new"


@dataclass(frozen=True, slots=True, kw_only=True)
class Pair:
    """A call of today's run, a call of the changed run, or both; at least one of them is there."""

    now: Call | None
    changed: Call | None

    @property
    def fate(self) -> Fate:
        """The fate of the call."""
        if self.now is None:
            return Fate.NEW
        if self.changed is None:
            return Fate.GONE
        return Fate.STAYS if self.now.first == self.changed.first else Fate.MOVED

    @property
    def call(self) -> Call:
        """The call of today's run, else the new one."""
        call = self.now if self.now is not None else self.changed
        assert call is not None
        return call


def pairs_of(now: Sequence[Call], changed: Sequence[Call]) -> tuple[Pair, ...]:
    """Return the calls of two runs in pairs, ordered by their first messages."""
    near = sorted(
        (abs(one.first - other.first), i, j)
        for i, one in enumerate(now)
        for j, other in enumerate(changed)
        if one.key == other.key and _same(one, other)
    )
    partner: dict[int, int] = {}
    taken: set[int] = set()
    for _, i, j in near:
        if i not in partner and j not in taken:
            partner[i] = j
            taken.add(j)
    pairs = [Pair(now=one, changed=changed[partner[i]] if i in partner else None) for i, one in enumerate(now)] + [
        Pair(now=None, changed=other) for j, other in enumerate(changed) if j not in taken
    ]
    return tuple(sorted(pairs, key=lambda pair: (pair.call.first, pair.call.key)))


@dataclass(frozen=True, slots=True, kw_only=True)
class Moves:
    """The messages of a run compared with those of another.

    Attributes:
        new, gone: Numbers of messages that are new, and that no longer come.
        shifts: Delay of each message that both runs send, ms, rising; negative if it comes earlier.
    """

    new: int
    gone: int
    shifts: tuple[int, ...]


def moves_of(now: Sequence[Call], changed: Sequence[Call]) -> Moves:
    """Compare the messages of the changed run with those of today's."""
    pairs = pairs_of(now, changed)
    both = [(pair.now, pair.changed) for pair in pairs]
    return Moves(
        new=sum(pair.fate is Fate.NEW for pair in pairs),
        gone=sum(pair.fate is Fate.GONE for pair in pairs),
        shifts=tuple(sorted(other.first - one.first for one, other in both if one is not None and other is not None)),
    )


def _same(one: Call, other: Call) -> bool:
    if abs(one.first - other.first) < NEAR_MS:
        return True
    return _until(one) >= other.rang and _until(other) >= one.rang


def _until(call: Call) -> int:
    return call.over if call.over is not None else call.told[-1]
