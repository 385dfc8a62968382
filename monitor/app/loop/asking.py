"""Puts things into the record: through the running daemon's inbox, or, where none runs, with the lock of the data folder.

1. What the settings refuse is told before anything is asked.
2. With the lock, the first thing asked is preceded by `started` and, where they changed, the settings, as at every start:
   what fell due while nobody was at work is gathered, and sent when the daemon runs. What others asked meanwhile is
   answered too. `stopped` is the last.
3. A daemon that ends before it has answered is replaced: the lock is taken, and the request answered here.
"""

import json
import threading
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

from monitor.app.console.refusals import ended, refusal
from monitor.app.entries.questioning import judge
from monitor.configuration import Configuration, canonical_settings
from monitor.engine import Engine
from monitor.journal import Inbox, Judged, Reply, Request, Writer, holder, open_writer, private_folder
from monitor.model.errors import MisuseError, UnavailableError
from monitor.model.events import EventKind

ANSWER_S = 20.0
"""How long any command waits for an answer: whoever holds the lock may be stopped, or no daemon at all."""
_LOOK_S = 0.5


@dataclass(frozen=True, slots=True)
class Taken:
    """What became of it.

    Attributes:
        at: The event's instant (UTC ms), None where nothing in it was new.
        by_daemon: Whether the daemon took it in.
        new, repeated, conflicts: How many of its readings were new, there already, or there with another value.
        question: What is asked before it is believed; then nothing was taken in, and asked with `again` it is.
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
    """Have one event taken in; raises as `Asking.ask`."""
    with asking(configuration, now_ms) as session:
        return session.ask(kind, payload, again=again)


@contextmanager
def asking(configuration: Configuration, now_ms: Callable[[], int] = _wall_ms) -> Iterator["Asking"]:
    """Open a session in which events are taken in one after another; the lock, if it is needed, is held to its end."""
    session = Asking(configuration, now_ms)
    try:
        yield session
    finally:
        session.close()


class Asking:
    """A session; made by `asking`."""

    def __init__(self, configuration: Configuration, now_ms: Callable[[], int]) -> None:
        self._configuration = configuration
        self._now_ms = now_ms
        self._writer: Writer | None = None

    def ask(self, kind: EventKind, payload: Mapping[str, Any], *, again: bool = False) -> Taken:
        """Have one event taken in; `again` where it is meant as it stands, whatever may be asked about it.

        Raises:
            MisuseError: It is refused; the text says why.
            UnavailableError: It could not be done (disk, no answer).
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
            judged = judge(writer, self._configuration.settings, now, kind, payload, again=again)
            at = turn.event(kind, payload) if judged == Judged() else judged.done
        if judged.refusal:
            raise MisuseError(ended(judged.refusal))
        if judged != Judged():
            return Taken(at, False, question=judged.question)
        return Taken(at, False, *turn.outcome.counts())

    def close(self) -> None:
        """Record the end and let go of the lock, if this session holds it."""
        writer, self._writer = self._writer, None
        if writer is None:
            return
        try:
            with writer.turn(self._now_ms()) as turn:
                turn.event(EventKind.STOPPED, {})
        finally:
            writer.close()

    def _open(self) -> Writer | None:
        """Take the lock and record the start; None where another process was quicker."""
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
        """Answer what other commands asked: they take whoever holds the lock for the daemon."""
        if not writer.requests.waiting(1):
            return
        from monitor.app.loop.turns import Turns  # noqa: PLC0415 (seldom needed, and much to load)

        at_once = threading.Event()
        at_once.set()
        turns, settings = Turns(writer, self._now_ms, at_once), self._configuration.settings

        def judged(request: Request) -> Judged:
            return judge(writer, settings, self._now_ms(), request.kind, request.payload, again=request.again)

        more = True
        while more:
            _, more = turns.answer(judged)

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
