"""Puts events into the record: through the running daemon's inbox or, if none runs, under the lock of the data folder.

1. A request that the settings refuse is refused before anything is asked.
2. With the lock, a session first records `started` and, if they changed, the settings, as every start does. Deadlines that
   passed while no daemon ran are gathered, and their notices go out when a daemon runs. Requests of other commands are
   answered too. The session's last event is `stopped`.
3. If the daemon ends before it has answered, the session takes the lock and answers the request itself.
"""

import json
import threading
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from functools import partial
from typing import Any

from monitor.app.console.refusals import ended, refusal
from monitor.app.entries.questioning import judge
from monitor.app.material.kept_material import read_both
from monitor.app.yard.sizes_of_yard import sizes_of
from monitor.configuration import Configuration, canonical_settings
from monitor.engine import Engine
from monitor.journal import Inbox, Judged, Reply, Request, Writer, holder, open_writer, private_folder
from monitor.model.errors import MisuseError, UnavailableError
from monitor.model.events import EventKind

ANSWER_S = 20.0
"""How long, in seconds, a command waits for an answer: the holder of the lock may be suspended, or be no daemon at all."""
_LOOK_S = 0.5


@dataclass(frozen=True, slots=True)
class Taken:
    """The outcome of a request.

    Attributes:
        at: The event's instant (UTC ms); None if it brought nothing new.
        by_daemon: Whether the daemon took it in.
        new, repeated, conflicts: How many of its readings were new, there already, or there with another value.
        question: A question to answer first; then nothing was taken in, and the same request with `again` will be.
    """

    at: int | None
    by_daemon: bool
    new: int = 0
    repeated: int = 0
    conflicts: int = 0
    question: str = ""


def _wall_ms() -> int:
    return time.time_ns() // 1_000_000


def ask(
    configuration: Configuration,
    kind: EventKind,
    payload: Mapping[str, Any],
    now_ms: Callable[[], int] = _wall_ms,
    *,
    again: bool = False,
) -> Taken:
    """Have one event taken in, in a session of its own, and return the outcome.

    Args:
        configuration: The yard's configuration; names the data folder.
        kind: The kind of event.
        payload: The event's payload.
        now_ms: Returns the time, UTC ms.
        again: Whether the person confirmed it, so that no question is asked.

    Raises:
        MisuseError: The event is refused; the message says why.
        UnavailableError: The disk fails, or the daemon does not answer.
    """
    with asking(configuration, now_ms) as session:
        return session.ask(kind, payload, again=again)


@contextmanager
def asking(configuration: Configuration, now_ms: Callable[[], int] = _wall_ms) -> Iterator["Asking"]:
    """Open a session that takes events in one after another; if it needs the lock, it holds it to its end."""
    session = Asking(configuration, now_ms)
    try:
        yield session
    finally:
        session.close()


class Asking:
    """A session; open one with `asking`."""

    def __init__(self, configuration: Configuration, now_ms: Callable[[], int]) -> None:
        self._configuration = configuration
        self._now_ms = now_ms
        self._writer: Writer | None = None

    def ask(self, kind: EventKind, payload: Mapping[str, Any], *, again: bool = False) -> Taken:
        """Have one event taken in and return the outcome.

        Args:
            kind: The kind of event.
            payload: The event's payload.
            again: Whether the person confirmed it, so that no question is asked.

        Raises:
            MisuseError: The event is refused; the message says why.
            UnavailableError: The disk fails, or the daemon does not answer.
        """
        wrong = refusal(kind, payload, self._configuration.settings)
        if wrong:
            raise MisuseError(ended(wrong))
        writer = self._writer
        if writer is None and holder(self._configuration.data) is None:
            writer = self._open()
        if writer is None:
            return self._ask_daemon(kind, payload, again=again)
        self._answer_others(writer)
        now = self._now_ms()
        with writer.turn(now) as turn:
            judged = self._judged(writer, now, kind, payload, again=again)
            at = turn.event(kind, payload) if judged == Judged() else judged.done
        if judged.refusal:
            raise MisuseError(ended(judged.refusal))
        if judged != Judged():
            return Taken(at, False, question=judged.question)
        return Taken(at, False, *turn.outcome.counts())

    def close(self) -> None:
        """Record the end and release the lock, if this session holds it."""
        writer, self._writer = self._writer, None
        if writer is None:
            return
        try:
            with writer.turn(self._now_ms()) as turn:
                turn.event(EventKind.STOPPED, {})
        finally:
            writer.close()

    def _open(self) -> Writer | None:
        """Take the lock and record the start; return None if another process took it first."""
        folder, settings = self._configuration.data, canonical_settings(self._configuration.settings)
        private_folder(folder)
        try:
            writer = open_writer(folder, Engine, Engine.restore)
        except UnavailableError:
            if holder(folder) is None:
                raise
            return None
        try:
            with writer.turn(self._now_ms()) as turn:
                turn.event(EventKind.STARTED, {"down_since": writer.resumed.down_since})
                engine = writer.engine
                if not isinstance(engine, Engine) or canonical_settings(engine.state.settings) != settings:
                    turn.event(EventKind.SETTINGS, {"settings": json.loads(settings)})
        except BaseException:
            writer.close()
            raise
        self._writer = writer
        return writer

    def _answer_others(self, writer: Writer) -> None:
        """Answer the requests of other commands, which take the holder of the lock for the daemon."""
        if not writer.requests.waiting(1):
            return
        from monitor.app.loop.turns import Turns  # noqa: PLC0415 (seldom needed, and much to load)

        at_once = threading.Event()
        at_once.set()
        turns = Turns(writer, self._now_ms, at_once)

        def judged(request: Request) -> Judged:
            return self._judged(writer, self._now_ms(), request.kind, request.payload, again=request.again)

        more = True
        while more:
            _, more = turns.answer(judged)

    def _judged(self, writer: Writer, now: int, kind: EventKind, payload: Mapping[str, Any], *, again: bool) -> Judged:
        configuration = self._configuration
        sizes = sizes_of(configuration)
        return judge(
            writer, configuration.settings, now, kind, payload, again=again, sizes=sizes,
            reads_both=partial(read_both, configuration),
        )  # fmt: skip

    def _ask_daemon(self, kind: EventKind, payload: Mapping[str, Any], *, again: bool) -> Taken:
        folder = self._configuration.data
        inbox = Inbox(folder)
        request = inbox.submit(kind, payload, again=again)
        until = time.monotonic() + ANSWER_S
        while (reply := inbox.await_answer(request, min(_LOOK_S, ANSWER_S))) is None:
            if holder(folder) is None and (writer := self._open()) is not None:
                self._answer_others(writer)
                return _told(inbox.answer(request), by_daemon=False)
            if time.monotonic() >= until:
                break
        return _told(reply, by_daemon=True)


def _told(reply: Reply | None, *, by_daemon: bool) -> Taken:
    if reply is None:
        raise UnavailableError(
            "The daemon has not answered in time. The request is kept and will be taken in when it does; look with "
            "`heaptender status`."
        )
    if reply.refusal:
        raise MisuseError(f"The daemon refused it: {ended(reply.refusal)}")
    return Taken(reply.at, by_daemon, reply.new, reply.repeated, reply.conflicts, reply.question)
