"""Puts entries from the page before the writer, through the same inbox that commands use."""

from collections.abc import Callable, Mapping
from typing import Any

from monitor.app.console.refusals import ended, refusal
from monitor.app.entries.entry_log import entry_log
from monitor.app.entries.sittings import is_far_back, sitting_words
from monitor.app.loop.hub import Hub
from monitor.configuration import Configuration
from monitor.journal import Inbox, open_reader
from monitor.model.errors import UnavailableError
from monitor.model.events import EventKind
from monitor.model.hand_words import ANOTHER_STANDS
from monitor.page import Done

ANSWER_S = 8.0


class InboxDoing:
    """Fills `monitor.page.Doing`; any thread may call it."""

    def __init__(self, configuration: Callable[[], Configuration], hub: Hub) -> None:
        self._configuration = configuration
        self._hub = hub

    def put(self, kind: EventKind, payload: Mapping[str, Any], *, again: bool = False) -> Done:
        """Have an event taken in, and return the outcome.

        Args:
            kind: The kind of event.
            payload: The event's payload.
            again: Whether the person confirmed it, so that no question is asked.

        Raises:
            UnavailableError: The writer did not answer in time; the request is kept and will be taken in later.
        """
        configuration = self._configuration()
        wrong = refusal(kind, payload, configuration.settings)
        if wrong:
            return Done(None, _sentence(wrong))
        inbox = Inbox(configuration.data)
        request = inbox.submit(kind, payload, again=again)
        self._hub.wake()
        reply = inbox.await_answer(request, ANSWER_S)
        if reply is None:
            raise UnavailableError(
                "The daemon is busy and has not answered yet. What you wrote is kept and will be taken in; look again "
                "in a minute before you write it once more."
            )
        if reply.refusal:
            return Done(None, _sentence(reply.refusal))
        if reply.question:
            return Done(None, question=reply.question)
        if reply.conflicts:
            return Done(None, ANOTHER_STANDS)
        return Done(reply.at, remark=_sitting(configuration, reply.at))


def _sitting(configuration: Configuration, at: int | None) -> str:
    """Return a remark on an entry of long ago that was taken without a question."""
    if at is None:
        return ""
    settings = configuration.settings
    with open_reader(configuration.data) as store:
        event = next(iter(store.events(at - 1, at)), None)
        if event is None or not is_far_back(_time_of(event.payload, at), at):
            return ""
        return sitting_words(store, entry_log(store, [*settings.piles, *settings.bins]), at)


def _time_of(payload: Mapping[str, Any], at: int) -> int:
    """Return when the work of an event was done, or its first reading taken, UTC ms."""
    rows = payload.get("rows") or ()
    return int(payload.get("time") or min((row[0] for row in rows), default=at))


def _sentence(words: str) -> str:
    return ended(words[:1].upper() + words[1:])
