"""What people do on the page: an event for the one writer, by the same inbox that the commands use."""

from collections.abc import Callable, Mapping
from typing import Any

from monitor.app.console.refusals import ended, refusal
from monitor.app.loop.hub import Hub
from monitor.configuration import Configuration
from monitor.journal import Inbox
from monitor.model.errors import UnavailableError
from monitor.model.events import EventKind
from monitor.page import Done

ANSWER_S = 8.0


class InboxDoing:
    """Fills `monitor.page.Doing`; any thread."""

    def __init__(self, configuration: Callable[[], Configuration], hub: Hub) -> None:
        self._configuration = configuration
        self._hub = hub

    def put(self, kind: EventKind, payload: Mapping[str, Any], *, again: bool = False) -> Done:
        """Have an event taken in.

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
            return Done(None, "Another reading of that moment is written down already, and it stays.")
        return Done(reply.at)


def _sentence(words: str) -> str:
    return ended(words[:1].upper() + words[1:])
