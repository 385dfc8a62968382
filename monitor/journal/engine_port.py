"""What the journal asks of the engine and of whoever reads history; the engine itself lives one row further down."""

from collections.abc import Callable, Iterable, Sequence
from typing import Protocol

from monitor.model.effects import Effect
from monitor.model.events import Event, served_until
from monitor.model.flags import Verdict
from monitor.model.readings import Reading


class History(Protocol):
    """Readings as the engine may look back at them."""

    def readings(self, probes: Sequence[str], start: int, end: int) -> Iterable[Reading]:
        """Return readings with start <= time <= end (UTC ms), ordered by (time, probe)."""


class Machine(Protocol):
    """The engine as the writer drives it: events in, effects out; called from one thread.

    After an exception it is never used on: the writer restores another from the journal.
    """

    @property
    def meaning(self) -> int:
        """What it means by a record: two of one number decide the same from the same events."""

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
        """Return all of its state, from which it goes on exactly."""

    def take_verdicts(self) -> list[Verdict]:
        """Return the flags that became final since the last call."""


Fresh = Callable[[], Machine]
"""Makes an engine that has seen nothing."""

Restore = Callable[[bytes], Machine]
"""Makes an engine from a snapshot; raises ValueError, KeyError or TypeError for one it does not understand."""


def feed_in_order(engine: Machine, event: Event, history: History) -> list[Effect]:
    """Serve what is due before an event, then feed it; the one order for the first time and for every time after.

    A start is the exception: what fell due while nobody was at work is the engine's to gather, so that a week away is
    not told minute by minute; before it, only what was due until then is served.
    """
    due = served_until(event)
    effects = [] if due is None else list(engine.advance(due))
    effects += engine.feed(event, history)
    return effects
