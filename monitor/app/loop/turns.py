"""One turn after another into the journal, whatever fails.

1. While disk or journal fail, the same turn is tried again, with growing pauses; only being told to stop ends that.
2. A turn that this program cannot do is done piece by piece: each event, then the readings by halves. What fails by itself is
   told and set aside, so that it cannot come again and stop the rest for ever.
3. Requests of other commands have turns of their own; one that cannot be taken in is refused with a sentence.
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
"""So many readings that waited for the clock are taken in at a time."""

log = logging.getLogger("heaptender")


class Trouble(Protocol):
    """What is done about a disk that fails; all of it on the writer's thread."""

    def failed(self, why: str, events: Sequence["FedEvent"], readings: Sequence[Reading]) -> None:
        """Note that a turn could not be stored."""

    def wait(self, pause_s: float) -> None:
        """Let a pause go by, for what can be done meanwhile."""

    def stored(self) -> None:
        """Note that a turn was stored."""


FedEvent = tuple[EventKind, dict[str, object]]
Feed = Callable[[Turn], None]


class Turns:
    """Drives the writer; for its thread alone.

    Attributes:
        stop: Once it is set, a failing disk is no longer waited for.
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
        """Commit what was gathered and return what came of it; afterwards it may be acknowledged.

        Raises:
            UnavailableError: The disk fails and the end was asked for; nothing may be acknowledged.
            Exception: A deadline cannot be served, which is no fault of what was gathered.
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
        except Exception as fault:  # noqa: BLE001 - of whatever kind, it is looked for piece by piece
            log.error("A turn failed (%s); it is taken in piece by piece.", _said(fault))
        finally:
            self._in_hand = ((), ())
        return self._piecewise(gathered, [*events, *links])

    def release(self, judge: Callable[[Sequence[Waiting]], Gathered]) -> tuple[list[Outcome], bool]:
        """Take in the oldest readings that waited for the clock; return what came of it, and whether more may wait.

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
        except Exception as fault:  # noqa: BLE001 - of whatever kind, it is looked for piece by piece
            log.error("Readings that waited for the clock fail (%s); they are taken in piece by piece.", _said(fault))
        taken_out = self._commit(lambda turn: _ignore(len(turn.take_waiting(RELEASED))))
        return [taken_out, *self._piecewise(judge(waited), [])], len(waited) == RELEASED

    def answer(self, judge: Callable[[Request], Judged]) -> tuple[Outcome, bool]:
        """Answer waiting requests of the inbox; return what came of it, and whether more may wait.

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
            except Exception as fault:  # noqa: BLE001 - a request of whatever shape must not stop the daemon
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
                # What came waits in memory, unacknowledged; it is fed again when the disk is back.
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
        # Not `stop.wait`: a signal's handler sets `stop` on this very thread, and would wait for the lock that a wait holds.
        until = time.monotonic() + pause_s
        while not self.stop.is_set() and (left := until - time.monotonic()) > 0:
            time.sleep(min(0.1, left))

    def _piecewise(self, gathered: Gathered, events: Sequence[FedEvent]) -> list[Outcome]:
        outcomes: list[Outcome] = []
        if all(kind is not EventKind.STARTED for kind, _ in events):
            # If not even time can pass, the fault is in none of the pieces, and none must be set aside for it. (Before a
            # start no time may pass: the start gathers what fell due while nobody was at work.)
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
        except Exception as fault:  # noqa: BLE001 - this is the piece that fails
            log.error("This program is at fault: it cannot take in %s (%s); it goes on without.", what, _said(fault))
            return []

    def _halves(self, rows: Sequence[Reading], outcomes: list[Outcome]) -> None:
        if not rows:
            return
        try:
            outcomes.append(self._commit(lambda turn: _ignore(turn.readings(rows))))
        except UnavailableError:
            raise
        except Exception as fault:  # noqa: BLE001 - one of them is the one that fails
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


def _ignore(_at: int | None) -> None:
    """Let an event's instant go; nobody waits for it here."""


def _said(fault: Exception) -> str:
    return f"{type(fault).__name__}: {fault}"
