"""Marks in a batch's record, from which it can be worked out again without beginning at its building.

A mark is a cache and no part of the state: a rework from a mark gives the same as a rework from the beginning. It holds as
long as nothing at or before its time changes; code that changes something there drops it (`Marks.drop`, `Marks.clear`).
"""

from dataclasses import dataclass

from monitor.conditioning import ConditioningState
from monitor.model.copying import copy_of
from monitor.model.flags import Verdict
from monitor.piles import OutingState, WalkChange, WalkState
from monitor.proof.following import HoldState

_KEPT = 4


@dataclass(slots=True)
class Mark:
    """The knowledge of a rework that has taken in every reading up to `time` (UTC ms) and no later one.

    Attributes:
        time: The time of the newest reading taken in, UTC ms.
        walk, hold, outings, conditioning: The states at that point.
        waiting: Verdicts not yet handed to the heap.
        air: The air's newest temperature, thousandths of °C, or None.
        step: The number of the batch's actions taken in.
        changes: The walk's changes so far.
    """

    time: int
    walk: WalkState
    hold: HoldState | None
    outings: dict[str, OutingState]
    conditioning: ConditioningState
    waiting: list[Verdict]
    air: int | None
    step: int
    changes: list[WalkChange]

    def copy(self) -> "Mark":
        """Return a copy that shares no mutable part."""
        return Mark(
            time=self.time,
            walk=copy_of(self.walk),
            hold=copy_of(self.hold),
            outings=copy_of(self.outings),
            conditioning=copy_of(self.conditioning),
            waiting=list(self.waiting),
            air=self.air,
            step=self.step,
            changes=list(self.changes),
        )


class Marks:
    """The marks of all batches; `until` is the newest of their times."""

    def __init__(self) -> None:
        self._marks: dict[str, list[Mark]] = {}
        self.until = -1

    def clear(self) -> None:
        """Drop all marks."""
        self._marks = {}
        self.until = -1

    def drop(self, time: int) -> None:
        """Drop the marks that a change at an instant (UTC ms) makes wrong."""
        for batch, marks in self._marks.items():
            self._marks[batch] = [mark for mark in marks if mark.time < time]
        self.until = max((mark.time for marks in self._marks.values() for mark in marks), default=-1)

    def before(self, batch: str, time: int) -> Mark | None:
        """Return a copy of a batch's newest mark before an instant."""
        found = [mark for mark in self._marks.get(batch, ()) if mark.time < time]
        return found[-1].copy() if found else None

    def keep(self, batch: str, mark: Mark) -> None:
        """Keep a mark; if there are too many, the oldest go."""
        marks = [one for one in self._marks.get(batch, ()) if one.time != mark.time]
        marks.append(mark)
        marks.sort(key=lambda one: one.time)
        self._marks[batch] = marks[-_KEPT:]
        self.until = max(self.until, mark.time)
