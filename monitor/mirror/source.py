"""The mirror's port to the journal: rows after a cursor, and rows in a span of time."""

from collections.abc import Iterable, Mapping, Sequence
from typing import NamedTuple, Protocol

from monitor.model.effects import Effect


class MirroredReading(NamedTuple):
    """One reading as it is mirrored.

    Attributes:
        time: The reading's own time, UTC ms.
        probe: Id of the probe or hand series.
        quantity: Quantity's word.
        unit: Unit code as sent.
        micro: Value as sent, millionths of `unit`.
        milli: Calibrated value, thousandths of the canonical unit; None while it has no verdict.
        flag: Quality flag; None while it has no verdict.
    """

    time: int
    probe: str
    quantity: str
    unit: str
    micro: int
    milli: int | None
    flag: int | None


class Cursor(NamedTuple):
    """Progress of the mirror: the `at` of the last event of which it has everything, UTC ms."""

    readings: int = 0
    effects: int = 0


class Readings(NamedTuple):
    """Readings of whole events, and the `at` of the last of these events."""

    rows: Sequence[MirroredReading]
    cursor: int


class Effects(NamedTuple):
    """Effects of whole instants, ordered by id, and the last of these instants."""

    rows: Sequence[Effect]
    cursor: int


class MirrorSource(Protocol):
    """The journal as the mirror sees it; called on the mirror's thread, so on a connection of its own.

    A reading whose verdict comes later (a spike that waited, a calibration that reaches back) is handed out again
    with the event that brought the verdict; the mirror overwrites its point.
    """

    def readings_after(self, cursor: int, n: int) -> Readings:
        """Return readings of events with `at` > cursor, oldest first: whole events, until there are n rows or more.

        If there are none, the returned cursor equals the given one.
        """

    def effects_after(self, cursor: int, n: int) -> Effects:
        """Return effects with `at` > cursor, oldest first: whole instants, until there are n or more."""

    def counts(self, start: int, end: int) -> Mapping[str, int]:
        """Return the number of readings of each probe with start <= time < end (UTC ms)."""

    def readings_between(self, start: int, end: int) -> Iterable[MirroredReading]:
        """Return the readings with start <= time < end (UTC ms), in any order."""


class CursorStore(Protocol):
    """Keeps the cursor between starts. A lost cursor costs time only: everything is sent again."""

    def load_cursor(self) -> Cursor | None:
        """Return the cursor, or None if there is none or it cannot be read."""

    def save_cursor(self, cursor: Cursor) -> None:
        """Keep the cursor; afterwards the store holds the former one or this one, never half of it.

        Raises:
            OSError: The disk refused.
        """
