"""A channel behind a notification URL, through the library apprise, which is imported at the first letter.

Rules: the URL and its parts are never logged and stand in no error; the library's own log is kept out of ours, because
at its lower levels it writes addresses and payloads in full, and is only examined to find the fault (`url_faults`);
a letter is sent on the caller's thread.
"""

import logging
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from monitor.outbox.channels import DeliveryError
from monitor.outbox.outgoing_letters import NO_ANSWER, Letter
from monitor.outbox.url_faults import MISTYPED, is_mistyped, may_have_arrived, reason

_TALKATIVE = ("apprise", "urllib3", "requests", "requests_oauthlib", "oauthlib")


class _Overheard(logging.Handler):
    """Keeps the library's log of this thread while a letter goes; nothing of it is ever shown."""

    def __init__(self) -> None:
        super().__init__(logging.DEBUG)
        self.on_thread = threading.local()

    def emit(self, record: logging.LogRecord) -> None:
        """Keep a line for the thread that is listening."""
        lines: list[str] | None = getattr(self.on_thread, "lines", None)
        if lines is not None and len(lines) < _LINES_MOST:
            lines.append(record.getMessage()[:2_000])


_LINES_MOST = 200
_overheard = _Overheard()


def _quiet() -> None:
    """Keep the libraries' own logs out of ours; `DeliveryError` reports failures."""
    for name in _TALKATIVE:
        log = logging.getLogger(name)
        log.propagate = False
        log.setLevel(logging.WARNING)  # a handler attached to the library's logger must not get addresses either
        if not log.handlers:
            log.addHandler(logging.NullHandler())
    own = logging.getLogger("apprise")
    own.setLevel(logging.DEBUG)
    own.handlers = [_overheard]


@contextmanager
def _overhearing() -> Iterator[list[str]]:
    lines: list[str] = []
    _overheard.on_thread.lines = lines
    try:
        yield lines
    finally:
        _overheard.on_thread.lines = None


class AppriseChannel:
    """Sends letters to one notification URL."""

    def __init__(self, url: str) -> None:
        """Take the URL; nothing is imported or checked yet."""
        self._url = url
        self._service: Any = None

    def __repr__(self) -> str:
        return f"AppriseChannel({self._url.partition(':')[0]}://...)"

    def send(self, letter: Letter) -> None:
        """Hand a letter to the service.

        Raises:
            DeliveryError: The URL is not one of a known service, or the service did not accept the letter.
        """
        service = self._opened()
        with _overhearing() as said:
            result = service.notify(title=letter.title, body=letter.body, body_format="text")
        if not result:
            why = reason(self._url, said)
            raise DeliveryError(f"{NO_ANSWER}: {why}" if may_have_arrived(said) else why)

    def check(self) -> None:
        """Check that the URL is one of a known service; nothing is sent.

        Raises:
            DeliveryError: The URL is not.
        """
        self._opened()

    def _opened(self) -> Any:
        if self._service is None:
            _quiet()
            import apprise  # noqa: PLC0415 - half a second and 20 MiB that a yard without messages never pays

            # A limit of 0 keeps the work on this thread: the library's shared pool is small, and one slow mail server
            # must not hold up the others. The services have time limits of their own.
            try:
                asset = apprise.AppriseAsset(app_id="Heaptender", async_mode=False, service_timeout=0)
            except (AttributeError, TypeError):  # older versions have neither such a limit nor a pool
                asset = apprise.AppriseAsset(app_id="Heaptender", async_mode=False)
            service = apprise.Apprise(asset=asset)
            if not service.add(self._url):
                scheme = self._url.partition("://")[0]
                known = scheme if scheme.isascii() and scheme.isalpha() and "://" in self._url else "?"
                words = f'a URL that begins with "{known}://" is of no known service, or is incomplete'
                raise DeliveryError(f"{words}; {MISTYPED}" if is_mistyped(self._url) else words)
            self._service = service
        return self._service
