"""The one question that the engine may ask the record: readings by their own time. Nothing else reaches it from outside."""

from collections.abc import Iterable, Sequence
from typing import Protocol

from monitor.model.readings import Reading


class History(Protocol):
    """The record of readings, as the journal or a recording holds it. Used on the engine's own thread only."""

    def readings(self, probes: Sequence[str], start: int, end: int) -> Iterable[Reading]:
        """Return the readings of some series in a span; those of the event being fed are among them.

        Args:
            probes: The series.
            start: The first instant, UTC ms.
            end: The last instant, UTC ms.

        Returns:
            The readings, ordered by (time, probe).
        """

    def further(self, probes: Sequence[str], start: int, end: int) -> Iterable[Reading]:
        """Return the values that stand beside readings of a span, of the same probe and instant.

        Args:
            probes: The series.
            start: The first instant, UTC ms.
            end: The last instant, UTC ms.

        Returns:
            The values, ordered by (time, probe).
        """
