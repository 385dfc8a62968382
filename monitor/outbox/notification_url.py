"""A channel behind a notification URL, through the library apprise, which is imported at the first letter.

Rules: the URL and its parts are never logged and stand in no error; the library's own log is kept away from ours,
because at its lower levels it writes addresses and payloads in full; a letter is sent on the caller's thread.
"""

import logging
from typing import Any

from monitor.outbox.channels import DeliveryError
from monitor.outbox.letters import NO_ANSWER, Letter
from monitor.outbox.masking import masked, secrets_of

_TALKATIVE = ("apprise", "urllib3", "requests", "requests_oauthlib", "oauthlib")


def _quiet() -> None:
    """Keep the libraries' own logs away from ours; what failed is told by `DeliveryError`."""
    for name in _TALKATIVE:
        log = logging.getLogger(name)
        log.propagate = False
        log.setLevel(logging.WARNING)  # a handler put on them directly must not get addresses either
        if not log.handlers:
            log.addHandler(logging.NullHandler())


class AppriseChannel:
    """Sends letters to one notification URL."""

    def __init__(self, url: str) -> None:
        """Take the URL; nothing is imported or checked yet."""
        self._url = url
        self._secrets = secrets_of(url)
        self._service: Any = None

    def __repr__(self) -> str:
        return f"AppriseChannel({self._url.partition(':')[0]}://...)"

    def send(self, letter: Letter) -> None:
        """Hand a letter to the service.

        Raises:
            DeliveryError: The URL is none of a known service, or the service did not accept the letter.
        """
        service = self._opened()
        result = service.notify(title=letter.title, body=letter.body, body_format="text")
        if not result:
            raise DeliveryError(self._reason(result))

    def check(self) -> None:
        """Check that the URL is one of a known service; nothing is sent.

        Raises:
            DeliveryError: It is not.
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
            except (AttributeError, TypeError):  # older versions know no such limit, and use no pool either
                asset = apprise.AppriseAsset(app_id="Heaptender", async_mode=False)
            service = apprise.Apprise(asset=asset)
            if not service.add(self._url):
                scheme = self._url.partition("://")[0]
                raise DeliveryError(f'a URL that begins with "{scheme}://" is of no known service, or is incomplete')
            self._service = service
        return self._service

    def _reason(self, result: Any) -> str:
        """Return why a letter was not accepted, as far as the library says."""
        logs = getattr(result, "logs", None)
        said = [str(getattr(entry, "message", entry)) for entry in logs()] if callable(logs) else []
        reason = masked(said[-1], self._secrets) if said else "the service did not accept it"
        return f"{NO_ANSWER}: {reason}" if "timed out" in reason.lower() else reason
