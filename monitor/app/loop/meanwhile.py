"""Uses the pauses between two tries to store: looks at arrivals and lets urgent messages out (see `outage`)."""

import time
from collections.abc import Callable, Iterable, Sequence
from itertools import chain

from monitor.app.loop.intray import Intray, Item
from monitor.app.loop.outage import Outage
from monitor.app.loop.turns import FedEvent
from monitor.intake import Arrival
from monitor.model.readings import Reading

LOOK_S = 0.1


class Meanwhile:
    """Fills `turns.Trouble`; for the writer's thread alone."""

    def __init__(
        self,
        outage: Outage,
        intray: Intray,
        understood: Callable[[Arrival], list[Reading]],
        stopping: Callable[[], bool],
        record: Callable[[list[FedEvent]], None],
        came_round: Callable[[], None],
    ) -> None:
        """Join the outage to the intray and the turns.

        Args:
            outage: Knows whether an outage is on.
            intray: Holds arrivals that wait.
            understood: Returns the readings of an arrival for a look.
            stopping: Whether the end was asked for.
            record: Has events fed in the next turn.
            came_round: Is called at each look: the thread waits, and does not hang.
        """
        self.outage = outage
        self._intray = intray
        self._understood = understood
        self._stopping = stopping
        self._record = record
        self._came_round = came_round

    def failed(self, why: str, events: Sequence[FedEvent], readings: Sequence[Reading]) -> None:
        """Note that a turn could not be stored.

        Args:
            why: The disk's fault, in words.
            events: The turn's events.
            readings: The turn's readings.
        """
        was_on = self.outage.on
        self.outage.failed(why, events, readings)
        if self.outage.on and not was_on:
            self._show(self._intray.looked_at())

    def wait(self, pause_s: float) -> None:
        """Let a pause pass, and look at arrivals meanwhile."""
        # Not `stop.wait`: a signal handler sets `stop` on this same thread and would deadlock on the lock that `wait` holds.
        until = time.monotonic() + pause_s
        while not self._stopping() and (left := until - time.monotonic()) > 0:
            came = self._intray.look(min(LOOK_S, left))
            if self.outage.on:
                self._show(came)
            self.outage.step()
            self._came_round()

    def stored(self) -> None:
        """Note that a turn was stored."""
        if events := self.outage.stored():
            self._record(events)

    def _show(self, came: Iterable[Item]) -> None:
        readings = (self._understood(one) for one in came if isinstance(one, Arrival))
        self.outage.see(list(chain.from_iterable(readings)))
