"""Puts something into the record: through the running daemon's inbox, or, where none runs, with the lock of the data folder."""

import json
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from monitor.app.refusals import refusal
from monitor.configuration import Configuration, canonical_settings
from monitor.engine import Engine
from monitor.journal import Inbox, holder, open_writer
from monitor.model.errors import MisuseError, UnavailableError
from monitor.model.events import EventKind

ANSWER_S = 20.0


@dataclass(frozen=True, slots=True)
class Taken:
    """What became of it: the event's instant (UTC ms), or None where nothing in it was new; and by whom it was taken in."""

    at: int | None
    by_daemon: bool


def ask(
    configuration: Configuration,
    kind: EventKind,
    payload: Mapping[str, Any],
    now_ms: Callable[[], int] = lambda: time.time_ns() // 1_000_000,
) -> Taken:
    """Have one event taken in.

    Raises:
        MisuseError: It is refused; the text says why.
        UnavailableError: It could not be done (disk, no answer).
    """
    folder = configuration.data
    if holder(folder) is not None:
        return _ask_daemon(configuration, kind, payload)
    folder.mkdir(parents=True, exist_ok=True)
    with open_writer(folder, Engine, Engine.restore) as writer:
        wrong = refusal(kind, payload, configuration.settings)
        if wrong:
            raise MisuseError(wrong)
        with writer.turn(now_ms()) as turn:
            # What fell due while nobody was at work is gathered, as at every start; it is sent when the daemon runs.
            turn.event(EventKind.STARTED, {"down_since": writer.resumed.down_since})
            settings = canonical_settings(configuration.settings)
            engine = writer.engine
            if not isinstance(engine, Engine) or canonical_settings(engine.state.settings) != settings:
                turn.event(EventKind.SETTINGS, {"settings": json.loads(settings)})
            at = turn.event(kind, payload)
            turn.event(EventKind.STOPPED, {})
        return Taken(at, by_daemon=False)


def _ask_daemon(configuration: Configuration, kind: EventKind, payload: Mapping[str, Any]) -> Taken:
    inbox = Inbox(configuration.data)
    request = inbox.submit(kind, payload)
    reply = inbox.await_answer(request, ANSWER_S)
    if reply is None:
        raise UnavailableError(
            f"The daemon has not answered within {ANSWER_S:.0f} s. The request is kept and will be taken in when it does; "
            "look with `heaptender status`."
        )
    if reply.refusal:
        raise MisuseError(f"The daemon refused it: {reply.refusal}.")
    return Taken(reply.at, by_daemon=True)
