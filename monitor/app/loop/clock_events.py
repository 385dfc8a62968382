"""Turns the clock's news into events for the engine: its state, how far time leapt, how far the true time is behind."""

from collections.abc import Sequence

from monitor.app.loop.clock import JUMP_MS, Clock, ClockNews
from monitor.app.loop.turns import FedEvent
from monitor.engine import Engine
from monitor.journal import Machine
from monitor.model.events import EventKind


def clock_events(news: Sequence[ClockNews], engine: Machine, clock: Clock, before: int) -> list[FedEvent]:
    """Return the events that the clock's news make.

    Args:
        news: What the clock returned when it was looked at.
        engine: The engine that will be fed.
        clock: The clock.
        before: The engine's last instant before the clock was looked at, UTC ms.
    """
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


def off(engine: Machine, clock: Clock) -> int:
    """Return how far the true time, if known, lies before the next event's instant: 0 or less, ms.

    The record can be ahead of the clock: after a wrong clock was put back, instants still only rise.
    """
    found = clock.believed_ms() - max(clock.now_ms(), engine.last)
    return found if found < -JUMP_MS else 0
