"""Commits one turn after another to the journal, whatever fails.

1. While disk or journal fail, the same turn is tried again after growing pauses; only a stop ends that.
2. A turn that this program cannot handle is taken in piece by piece: each event, then the readings by halves. A piece that
   fails alone is reported and set aside, so that it cannot come again and block the rest for ever.
3. Requests of other commands get their own turns; one that cannot be taken in is refused with a sentence.
"""

import logging
import threading
import time
from collections.abc import Callable, Sequence
from typing import Protocol

from monitor.app.loop.gathering import Gathered
from monitor.journal import Judged, Outcome, Request, Turn, Waiting, Writer
from monitor.model.errors import UnavailableError
from monitor.model.events import EventKind
from monitor.model.quarantine import SetAside
from monitor.model.readings import Reading

FIRST_PAUSE_S = 0.5
LONGEST_PAUSE_S = 60.0
REQUESTS = 500
RELEASED = 5_000
"""The most readings that waited for the clock and are taken in at a time."""

log = logging.getLogger("heaptender")


class Trouble(Protocol):
    """Reacts to a failing disk, on the writer's thread."""

    def failed(self, why: str, events: Sequence["FedEvent"], readings: Sequence[Reading]) -> None:
        """Note that a turn could not be stored.

        Args:
            why: The disk's fault, in words.
            events: The turn's events.
            readings: The turn's readings.
        """

    def wait(self, pause_s: float) -> None:
        """Let a pause pass, and use it."""

    def stored(self) -> None:
        """Note that a turn was stored."""


FedEvent = tuple[EventKind, dict[str, object]]
Feed = Callable[[Turn], None]


class Turns:
    """Drives the writer, on its thread alone.

    Attributes:
        stop: When it is set, a failing disk ends the turn instead of being waited for.
    """

    def __init__(
        self, writer: Writer, now_ms: Callable[[], int], stop: threading.Event, trouble: Trouble | None = None
    ) -> None:
        self.stop = stop
        self._trouble = trouble
        self._in_hand: tuple[Sequence[FedEvent], Sequence[Reading]] = ((), ())
        self._writer = writer
        self._now_ms = now_ms

    def take(self, gathered: Gathered, events: Sequence[FedEvent]) -> list[Outcome]:
        """Commit the gathered input and return the outcomes; after that its messages may be acknowledged.

        Raises:
            UnavailableError: The disk fails and the end was asked for; no message may be acknowledged.
            Exception: A deadline cannot be served, which is no fault of the input.
        """
        links: list[FedEvent] = [
            (EventKind.LINK, {"what": "source", "name": link.source, "up": link.up, "why": link.why})
            for link in gathered.links
        ]

        if gathered.hot:
            links.append((EventKind.CLOCK, {"state": "waiting", "hot": gathered.hot}))

        def feed(turn: Turn) -> None:
            for kind, payload in (*events, *links):
                turn.event(kind, payload)
            _set_aside(turn, gathered)
            if gathered.readings or gathered.ahead:
                turn.readings(gathered.readings, gathered.ahead)

        self._in_hand = ([*events, *links], gathered.readings)
        try:
            return [self._commit(feed)]
        except UnavailableError:
            raise
        except Exception as fault:  # noqa: BLE001 - taking the pieces one by one finds a fault of any kind
            log.error("A turn failed (%s); it is taken in piece by piece.", _said(fault))
        finally:
            self._in_hand = ((), ())
        return self._piecewise(gathered, [*events, *links])

    def release(self, judge: Callable[[Sequence[Waiting]], Gathered]) -> tuple[list[Outcome], bool]:
        """Take in the oldest readings that waited for the clock; return the outcomes, and whether more may wait.

        Raises:
            UnavailableError: The disk fails and the end was asked for.
        """
        waited: list[Waiting] = []

        def feed(turn: Turn) -> None:
            waited[:] = turn.take_waiting(RELEASED)
            judged = judge(waited)
            _set_aside(turn, judged)
            if judged.readings or judged.ahead:
                turn.readings(judged.readings, judged.ahead)

        try:
            return [self._commit(feed)], len(waited) == RELEASED
        except UnavailableError:
            raise
        except Exception as fault:  # noqa: BLE001 - taking the pieces one by one finds a fault of any kind
            log.error("Readings that waited for the clock fail (%s); they are taken in piece by piece.", _said(fault))
        taken_out = self._commit(lambda turn: _ignore(len(turn.take_waiting(RELEASED))))
        return [taken_out, *self._piecewise(judge(waited), [])], len(waited) == RELEASED

    def answer(self, judge: Callable[[Request], Judged]) -> tuple[Outcome, bool]:
        """Answer waiting requests of the inbox; return the outcome, and whether more may wait.

        Raises:
            UnavailableError: The disk fails and the end was asked for.
        """
        refused: dict[int, str] = {}
        answered = 0

        def feed(turn: Turn) -> None:
            nonlocal answered
            answered = turn.drain(
                lambda request: Judged(refused[request.id]) if request.id in refused else judge(request)
            )

        while True:
            try:
                return self._commit(feed), answered >= REQUESTS
            except UnavailableError:
                raise
            except Exception as fault:  # noqa: BLE001 - no request may stop the daemon, whatever its shape
                suspects = {key: why for key, why in self._writer.suspects.items() if key not in refused}
                self._writer.suspects.clear()
                log.error("A request cannot be taken in (%s).", _said(fault))
                if not suspects:
                    return Outcome(), False
                refused |= suspects

    def _commit(self, feed: Feed) -> Outcome:
        pause_s = FIRST_PAUSE_S
        while True:
            try:
                with self._writer.turn(self._now_ms()) as turn:
                    feed(turn)
                    turn.advance(self._now_ms())
            except UnavailableError as fault:
                if self.stop.is_set():
                    raise
                # The input waits in memory, unacknowledged, and is fed again when the disk works.
                log.error("%s. Tried again in %g s.", str(fault).rstrip("."), pause_s)
                if self._trouble is None:
                    self._sleep(pause_s)
                else:
                    self._trouble.failed(str(fault), *self._in_hand)
                    self._trouble.wait(pause_s)
                pause_s = min(LONGEST_PAUSE_S, pause_s * 2)
            else:
                if self._trouble is not None:
                    self._trouble.stored()
                return turn.outcome

    def _sleep(self, pause_s: float) -> None:
        # Not `stop.wait`: a signal handler sets `stop` on this same thread and would deadlock on the lock that `wait` holds.
        until = time.monotonic() + pause_s
        while not self.stop.is_set() and (left := until - time.monotonic()) > 0:
            time.sleep(min(0.1, left))

    def _piecewise(self, gathered: Gathered, events: Sequence[FedEvent]) -> list[Outcome]:
        outcomes: list[Outcome] = []
        if all(kind is not EventKind.STARTED for kind, _ in events):
            # If an empty turn fails, the fault is in none of the pieces, so none may be set aside for it. (Before a start
            # no turn may advance time: the start itself gathers the deadlines that passed while no daemon ran.)
            outcomes.append(self._commit(lambda _turn: None))
        for kind, payload in events:
            outcomes += self._attempt(lambda turn, kind=kind, payload=payload: _ignore(turn.event(kind, payload)), kind)  # type: ignore[misc]
        outcomes += self._attempt(lambda turn: _set_aside(turn, gathered), "what was set aside")
        if gathered.ahead:
            outcomes += self._attempt(
                lambda turn: _ignore(turn.readings([], gathered.ahead)), "readings from the future"
            )
        self._halves(gathered.readings, outcomes)
        return outcomes

    def _attempt(self, feed: Feed, what: str) -> list[Outcome]:
        try:
            return [self._commit(feed)]
        except UnavailableError:
            raise
        except Exception as fault:  # noqa: BLE001 - this piece is at fault, so the others go on
            log.error("This program is at fault: it cannot take in %s (%s); it goes on without.", what, _said(fault))
            return []

    def _halves(self, rows: Sequence[Reading], outcomes: list[Outcome]) -> None:
        if not rows:
            return
        try:
            outcomes.append(self._commit(lambda turn: _ignore(turn.readings(rows))))
        except UnavailableError:
            raise
        except Exception as fault:  # noqa: BLE001 - halving finds the reading that fails
            if len(rows) > 1:
                middle = len(rows) // 2
                self._halves(rows[:middle], outcomes)
                self._halves(rows[middle:], outcomes)
                return
            row, said = rows[0], _said(fault)
            log.error("This program is at fault: it cannot take in a reading of %s (%s); set aside.", row.probe, said)
            detail = f"this program could not take it in ({said})"
            excerpt = f"{row.time} {row.probe} {row.micro} {row.unit}".encode()
            now = self._now_ms()
            outcomes += self._attempt(
                lambda turn: turn.quarantine(row.probe, SetAside.MALFORMED, detail, excerpt, now), "its setting aside"
            )


def _set_aside(turn: Turn, gathered: Gathered) -> None:
    turn.keep_waiting(gathered.waiting)
    for one in gathered.set_aside:
        turn.quarantine(one.source, one.reason, one.detail, one.excerpt, one.received)
    for more in gathered.counted_aside.values():
        turn.count_aside(more)


def _ignore(_at: int | None) -> None:
    """Drop the instant of an event, so that a lambda returns None."""


def _said(fault: Exception) -> str:
    return f"{type(fault).__name__}: {fault}"
