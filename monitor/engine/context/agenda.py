"""All deadlines of the engine, served in the order (instant, place, kind, alarm or link)."""

import heapq
from collections.abc import Mapping
from enum import StrEnum
from typing import NamedTuple


class DueKind(StrEnum):
    """The kinds of deadlines (the words stand in snapshots); `engine` knows who serves each."""

    ALARM = "alarm"
    """The end of an alarm's put-off or mute."""
    BED = "bed"
    """A condition of a bin that has lasted for as long as it must."""
    DESK = "desk"
    """Repeats, passing on, ends of quiet hours, the digest."""
    HAND = "hand"
    """Readings by hand that are too old to be held."""
    HOT = "hot"
    """Dangerous heat of a pile that has lasted for as long as it must."""
    LINK = "link"
    """A link that has been down for a while."""
    OUT = "out"
    """Probes that lie outside: people are reminded."""
    PENDING = "pending"
    """A reading that waited for the next one of its probe."""
    ROUND = "round"
    """A round by hand that proves a rule."""
    SILENCE = "silence"
    """The look for probes that have fallen silent."""


class Deadline(NamedTuple):
    """A deadline's name: its place ("": the yard), its kind, and its alarm or link."""

    place: str
    kind: DueKind
    of: str = ""


DESK, PENDING, SILENCE = (Deadline("", kind) for kind in (DueKind.DESK, DueKind.PENDING, DueKind.SILENCE))


def written(dues: Mapping[Deadline, int]) -> dict[str, int]:
    """Return deadlines in the form of a snapshot: by `place|kind` or `place|kind alarm-or-link`."""
    return {
        f"{one.place}|{one.kind} {one.of}" if one.of else f"{one.place}|{one.kind}": due for one, due in dues.items()
    }


def read(dues: Mapping[str, int]) -> dict[Deadline, int]:
    """Return deadlines from the form of a snapshot.

    Raises:
        ValueError: One of them is of no known kind.
    """
    return {_deadline(name): due for name, due in dues.items()}


def _deadline(name: str) -> Deadline:
    place, _, what = name.partition("|")
    kind, _, of = what.partition(" ")
    return Deadline(place, DueKind(kind), of)


class Agenda:
    """Deadlines and when they fall due (UTC ms); setting one again moves it. The dict handed in is the whole state."""

    def __init__(self, dues: dict[Deadline, int]) -> None:
        self._dues = dues
        self._heap: list[tuple[int, Deadline]] = []
        self._rebuild()

    def set(self, deadline: Deadline, due: int | None) -> None:
        """Set, move or (with None) drop a deadline."""
        if due is None:
            self._dues.pop(deadline, None)
        elif self._dues.get(deadline) != due:
            self._dues[deadline] = due
            heapq.heappush(self._heap, (due, deadline))
            if len(self._heap) > 64 + 4 * len(self._dues):
                # Moved deadlines leave stale entries behind; without this a long run would grow for ever.
                self._rebuild()

    def due(self, deadline: Deadline) -> int | None:
        """Return when a deadline falls due, or None where it is not set."""
        return self._dues.get(deadline)

    def besides(self, deadline: Deadline) -> tuple[int, Deadline] | None:
        """Return the earliest of the other deadlines, UTC ms, or None."""
        return min(((due, one) for one, due in self._dues.items() if one != deadline), default=None)

    def soonest(self) -> int | None:
        """Return the earliest instant at which something falls due, or None."""
        while self._heap:
            due, deadline = self._heap[0]
            if self._dues.get(deadline) == due:
                return due
            heapq.heappop(self._heap)
        return None

    def pop(self) -> tuple[int, Deadline]:
        """Take the earliest deadline off; one must exist."""
        while True:
            due, deadline = heapq.heappop(self._heap)
            if self._dues.get(deadline) == due:
                del self._dues[deadline]
                return due, deadline

    def take(self, until: int) -> list[tuple[int, Deadline]]:
        """Take off all deadlines due at or before `until`, in order."""
        found = []
        while (due := self.soonest()) is not None and due <= until:
            found.append(self.pop())
        return found

    def _rebuild(self) -> None:
        self._heap = [(due, deadline) for deadline, due in self._dues.items()]
        heapq.heapify(self._heap)
