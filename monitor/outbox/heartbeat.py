"""Calls an outside address while the daemon is alive; that address alerts people when the calls stop.

Rules: the address often holds a key, so it stands in no error; any answer below 400 counts as heard; one
call at a time, with a time limit, never on the writer's thread.
"""

import http.client
import urllib.error
import urllib.request
from urllib.parse import urlsplit

from monitor.model.connection_faults import Where, fault_in, fault_of, sentence

TIMEOUT_S = 10.0


class Heartbeat:
    """Calls one address (http or https)."""

    def __init__(self, url: str, *, timeout_s: float = TIMEOUT_S) -> None:
        """Take the address.

        Raises:
            ValueError: The address is not one of a web server.
        """
        parts = urlsplit(url)
        if parts.scheme not in {"http", "https"} or not parts.hostname:
            raise ValueError("the heartbeat's address is none of a web server")
        self._url = url
        self._host = parts.hostname
        self._timeout_s = timeout_s
        self.failures = 0
        """Number of failed calls since the last success."""

    def beat(self, note: str = "") -> str:
        """Call the address once.

        Args:
            note: A line for the receiver, sent as the body of a POST; without it the address is only fetched.

        Returns:
            "" if the call was heard, else why not.
        """
        data = note.encode() if note else None
        # The constructor has checked the scheme.
        request = urllib.request.Request(self._url, data=data, headers={"User-Agent": "heaptender"})  # noqa: S310 - as above
        if data is not None:
            request.add_header("Content-Type", "text/plain; charset=utf-8")
        try:
            with urllib.request.urlopen(request, timeout=self._timeout_s) as answer:  # noqa: S310 - as above
                answer.read(1024)
        except urllib.error.HTTPError as fault:
            fault.close()
            return self._failed(f"answered {fault.code}")
        except TimeoutError:
            return self._failed("gave no answer in time")
        except urllib.error.URLError as fault:
            reason = fault.reason
            if isinstance(reason, TimeoutError):
                return self._failed("gave no answer in time")
            return self._failed(f"cannot be reached: {self._why(reason)}")
        except (OSError, ValueError, http.client.HTTPException) as fault:
            return self._failed(f"cannot be reached: {self._why(fault)}")
        self.failures = 0
        return ""

    def _why(self, fault: BaseException | str) -> str:
        found = fault_of(fault) if isinstance(fault, BaseException) else fault_in(fault)
        where = Where("its server", self._host, "", "name its authority in SSL_CERT_FILE", "write http://", "its key")
        return sentence(found, where) if found is not None else type(fault).__name__

    def _failed(self, what: str) -> str:
        self.failures += 1
        return f"the heartbeat's address on {self._host} {what}"
