"""Two runs of one record side by side: which calls stay, are gone, come new, or are told at another time.

Rules:
1. Calls of one key are the same one if their times on overlap, or they are told less than `NEAR_MS` apart; each is paired
   once, with the one told nearest.
2. A pair told at the same instant stays; else it has moved.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from monitor.model.times import HOUR_MS
from monitor.tuning.calls import Call

NEAR_MS = 6 * HOUR_MS
"""Two tellings of one alarm less than this apart are of the same thing (ours)."""


class Fate(StrEnum):
    """What became of a message."""

    STAYS = "stays"
    MOVED = "moved"
    GONE = "gone"
    NEW = "new"


@dataclass(frozen=True, slots=True, kw_only=True)
class Pair:
    """One call as it is, with the change, or both; at least one of them is there."""

    now: Call | None
    changed: Call | None

    @property
    def fate(self) -> Fate:
        """What became of it."""
        if self.now is None:
            return Fate.NEW
        if self.changed is None:
            return Fate.GONE
        return Fate.STAYS if self.now.first == self.changed.first else Fate.MOVED

    @property
    def call(self) -> Call:
        """The call as it is, else as it comes new."""
        call = self.now if self.now is not None else self.changed
        assert call is not None
        return call


def pairs_of(now: Sequence[Call], changed: Sequence[Call]) -> tuple[Pair, ...]:
    """Return the calls of two runs in pairs, ordered by when they were first told."""
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
    """What becomes of the messages of a run beside another.

    Attributes:
        new, gone: How many come, and how many no longer do.
        shifts: By how much each that both tell comes later, ms, rising; negative where it comes earlier.
    """

    new: int
    gone: int
    shifts: tuple[int, ...]


def moves_of(now: Sequence[Call], changed: Sequence[Call]) -> Moves:
    """Return what becomes of the messages with the change."""
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
