"""From what the clock found to the events that tell the engine: what it says, how far time leapt, how far the truth is off."""

from collections.abc import Sequence
from typing import Protocol

from monitor.app.loop.clock import JUMP_MS, Clock, ClockNews
from monitor.app.loop.turns import FedEvent
from monitor.engine import Engine
from monitor.journal import Machine
from monitor.model.events import EventKind


class LookingClock(Clock, Protocol):
    """A clock that can be compared with the world."""

    confirmed: bool

    @property
    def asks(self) -> bool:
        """Whether it wants to hear what nodes say of the time."""

    def look(self) -> list[ClockNews]:
        """Return what is to be recorded of it."""

    def believed_ms(self) -> int:
        """Return what the time is by all that is known; it may lie before `now_ms`."""

    def probe_says(self, time_ms: int, who: str = "") -> None:
        """Note a probe's own time, and where it came from."""


def clock_events(news: Sequence[ClockNews], engine: Machine, clock: LookingClock, before: int) -> list[FedEvent]:
    """Return the events that news of the clock make; `before` is the engine's last instant before it was looked at."""
    off_ms = off(engine, clock)
    events = [
        (
            EventKind.CLOCK,
            {"state": one.state, "by_ms": one.by_ms, "off_ms": off_ms}
            | ({"leap_from": before} if one.moved_ms > 0 else {}),
        )
        for one in news
    ]
    if not news and off_ms == 0 and isinstance(engine, Engine) and engine.state.clock_off_ms < 0:
        events.append((EventKind.CLOCK, {"state": "caught up", "by_ms": 0, "off_ms": 0}))
    return list(events)


def off(engine: Machine, clock: LookingClock) -> int:
    """Return how far the true time, as far as it is known, lies before the next event's instant, 0 or less, ms.

    The record may run ahead of the clock: one that was wrong was put back, and instants never go back.
    """
    found = clock.believed_ms() - max(clock.now_ms(), engine.last)
    return found if found < -JUMP_MS else 0
