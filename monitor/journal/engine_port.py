"""Ports between the journal and the engine: `Machine` is driven by the writer, `History` is read by the engine."""

from collections.abc import Callable, Iterable, Sequence
from typing import Protocol

from monitor.model.effects import Effect
from monitor.model.events import Event, served_until
from monitor.model.flags import Verdict
from monitor.model.readings import Reading


class History(Protocol):
    """The readings that the engine may look back at."""

    def readings(self, probes: Sequence[str], start: int, end: int) -> Iterable[Reading]:
        """Return readings with start <= time <= end, ordered by (time, probe).

        Args:
            probes: Ids of probes; an unknown probe has no readings.
            start: Earliest own time, UTC ms, inclusive.
            end: Latest own time, UTC ms, inclusive.

        Returns:
            The readings as sent (uncalibrated); an iterator is good for one walk.
        """

    def further(self, probes: Sequence[str], start: int, end: int) -> Iterable[Reading]:
        """Return the values that stand beside those readings, of the same probe and instant.

        Args:
            probes: Ids of probes.
            start: Earliest own time, UTC ms, inclusive.
            end: Latest own time, UTC ms, inclusive.

        Returns:
            The values as sent, ordered by (time, probe).
        """


class Machine(Protocol):
    """The engine as the writer drives it: events in, effects out; called from one thread.

    After an exception the writer discards the engine and restores another from the journal.
    """

    @property
    def meaning(self) -> int:
        """Number of the engine's rules: two engines with the same number decide the same from the same events."""

    @property
    def last(self) -> int:
        """Instant of the last event or advance, UTC ms."""

    def feed(self, event: Event, history: History, /) -> list[Effect]:
        """Take in an event; `history` already holds its readings."""

    def advance(self, to: int, /) -> list[Effect]:
        """Serve the deadlines due at or before an instant; doing so twice does nothing more."""

    def next_deadline(self) -> int | None:
        """Return the earliest deadline, UTC ms, or None."""

    def snapshot(self) -> bytes:
        """Return the whole state; an engine restored from it goes on exactly."""

    def take_verdicts(self) -> list[Verdict]:
        """Return the flags that became final since the last call."""


Fresh = Callable[[], Machine]
"""Makes an engine that has seen no event."""

Restore = Callable[[bytes], Machine]
"""Makes an engine from a snapshot; raises ValueError, KeyError or TypeError for one it does not understand."""


def feed_in_order(engine: Machine, event: Event, history: History) -> list[Effect]:
    """Serve the deadlines due before an event, then feed it; live turns and replays use this one order.

    A start is the exception: the engine itself gathers what fell due while the daemon was down, so that a week's absence is
    not reported minute by minute. Before a start, only deadlines up to the stop are served.

    Args:
        engine: Takes the event; must have taken every earlier event.
        event: The next event by `at`.
        history: Already holds the event's readings.

    Returns:
        The effects in order: those of the deadlines, then those of the event.
    """
    due = served_until(event)
    effects = [] if due is None else list(engine.advance(due))
    effects += engine.feed(event, history)
    return effects
