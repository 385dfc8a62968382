"""What is done in the pauses between two tries to store: look at what comes, and let out what is urgent (see `outage`)."""

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
    """See `turns.Trouble`; for the writer's thread alone."""

    def __init__(
        self,
        outage: Outage,
        intray: Intray,
        understood: Callable[[Arrival], list[Reading]],
        stopping: Callable[[], bool],
        record: Callable[[list[FedEvent]], None],
    ) -> None:
        """Take what is needed.

        Args:
            outage: What is known of an outage.
            intray: What waits.
            understood: Returns the readings of an arrival, to be looked at only.
            stopping: Whether the end was asked for.
            record: Has events fed in the next turn.
        """
        self.outage = outage
        self._intray = intray
        self._understood = understood
        self._stopping = stopping
        self._record = record

    def failed(self, why: str, events: Sequence[FedEvent], readings: Sequence[Reading]) -> None:
        """Note that a turn could not be stored."""
        was_on = self.outage.on
        self.outage.failed(why, events, readings)
        if self.outage.on and not was_on:
            self._show(self._intray.looked_at())

    def wait(self, pause_s: float) -> None:
        """Let a pause go by."""
        # Not `stop.wait`: a signal's handler sets `stop` on this very thread, and would wait for the lock that a wait holds.
        until = time.monotonic() + pause_s
        while not self._stopping() and (left := until - time.monotonic()) > 0:
            came = self._intray.look(min(LOOK_S, left))
            if self.outage.on:
                self._show(came)
            self.outage.step()

    def stored(self) -> None:
        """Note that a turn was stored."""
        if events := self.outage.stored():
            self._record(events)

    def _show(self, came: Iterable[Item]) -> None:
        readings = (self._understood(one) for one in came if isinstance(one, Arrival))
        self.outage.see(list(chain.from_iterable(readings)))
