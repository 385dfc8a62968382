"""The server behind the InfluxDB v2 write API, through influxdb-client, which is imported at the first write.

Rules: one synchronous write at a time, no retries and no buffer of the library's own (it would lose its content);
every way in which a write can fail is one of `Trouble`; the token stands in no text.
"""

import http.client
import time
from collections.abc import Sequence
from enum import Enum
from typing import Any, Protocol

from monitor.mirror.line_protocol import tagged

MESSAGE_CHARACTERS = 200
ANSWER_BYTES = 256 * 1024
"""Most bytes read of an answer: a server answers accepted lines with nothing, and refused ones with a sentence."""

PIECE_BYTES = 16 * 1024
ANSWER_S = 30.0
"""Longest time for reading an answer."""


class Trouble(Enum):
    """Why a write failed, by the remedy."""

    AWAY = "away"
    """Not reached, no answer, or a fault of the server: wait, and send again the points that it may have forgotten."""
    BUSY = "busy"
    """The server answers and asks to wait."""
    DATA = "data"
    """The server refuses these lines."""
    LARGE = "large"
    """The server refuses this many lines at once."""
    REFUSED = "refused"
    """Token, organisation, bucket or address are wrong: a person must act."""


class WriteError(Exception):
    """A write failed; the text says why, without secrets."""

    def __init__(self, trouble: Trouble, why: str, retry_after_s: float | None = None) -> None:
        """Keep the kind of trouble, and the seconds that the server asks to wait."""
        super().__init__(why)
        self.trouble = trouble
        self.retry_after_s = retry_after_s


class Server(Protocol):
    """A server to write to; called on the mirror's thread, may block for its time limit."""

    def write(self, lines: Sequence[str]) -> None:
        """Write lines; after it returned, the server has accepted them.

        Raises:
            WriteError: The server did not, or nobody knows.
        """

    def connections(self) -> int:
        """Return the number of connections opened so far; a change means that the server may have been restarted."""


_BY_STATUS = {
    400: Trouble.DATA,
    422: Trouble.DATA,
    413: Trouble.LARGE,
    429: Trouble.BUSY,
    401: Trouble.REFUSED,
    403: Trouble.REFUSED,
    404: Trouble.REFUSED,
    405: Trouble.REFUSED,
}


def trouble_of(status: int, retry_after_s: float | None) -> Trouble:
    """Return the kind of trouble behind an HTTP status."""
    if status == 503 and retry_after_s is not None:
        return Trouble.BUSY
    if status in _BY_STATUS:
        return _BY_STATUS[status]
    return Trouble.AWAY if status >= 500 or status == 408 else Trouble.REFUSED


class Bounded(http.client.HTTPResponse):
    """An answer that is read only up to a limited size, and for a limited time."""

    _read_bytes = 0
    _until_s: float | None = None

    def read(self, amt: int | None = None) -> bytes:
        """Return some of the answer; raises `http.client.HTTPException` if it does not end."""
        if self._until_s is None:
            self._until_s = time.monotonic() + ANSWER_S
        left = ANSWER_BYTES - self._read_bytes
        got = super().read(min(left + 1, PIECE_BYTES if amt is None else amt))
        self._read_bytes += len(got)
        if self._read_bytes > ANSWER_BYTES or time.monotonic() > self._until_s:
            self.close()
            raise http.client.HTTPException("the answer does not end")
        if amt is None and got:
            return got + self.read()
        return got


class InfluxServer:
    """One bucket of one server."""

    def __init__(
        self, url: str, *, org: str, bucket: str, token: str | None, yard: str = "", timeout_s: float = 10.0
    ) -> None:
        """Take the address, and the yard's name where several share the server; nothing is imported or connected yet."""
        self._url, self._org, self._bucket = url, org, bucket
        self._token, self._yard = token, yard
        self._timeout_ms = int(timeout_s * 1000)
        self._connections = 0
        self._client: Any = None
        self._writer: Any = None

    def __repr__(self) -> str:
        return f"InfluxServer(bucket={self._bucket!r})"

    def write(self, lines: Sequence[str]) -> None:
        """Write lines (see `Server`)."""
        writer = self._opened()
        from influxdb_client.rest import ApiException  # noqa: PLC0415 - 43 MiB that a yard without a mirror never pays
        from urllib3.exceptions import HTTPError  # noqa: PLC0415
        from urllib3.exceptions import TimeoutError as NoAnswer  # noqa: PLC0415

        try:
            record = "\n".join(tagged(line, self._yard) for line in lines)
            writer.write(bucket=self._bucket, org=self._org, record=record, write_precision="ms")
        except ApiException as fault:
            raise self._answered(fault) from None
        except NoAnswer as fault:
            why = "cannot be reached" if "refused" in str(fault) else "gave no answer in time"
            raise WriteError(Trouble.AWAY, f"the mirror's server {why}") from None
        except (HTTPError, OSError) as fault:
            raise WriteError(Trouble.AWAY, f"the mirror's server broke off ({type(fault).__name__})") from None

    def connections(self) -> int:
        """Return the number of connections opened so far, failed attempts included."""
        return self._connections

    def _count_connections(self) -> None:
        """Count every opening of a connection.

        The library's pool silently opens a dropped connection again without counting it, and a server that
        was restarted between two writes would go unseen.
        """
        pool = self._client.api_client.rest_client.pool_manager.connection_from_url(self._url)
        kind: Any = pool.ConnectionCls
        server = self

        class Counted(kind):  # type: ignore[misc]
            response_class = Bounded

            def connect(self) -> None:
                server._connections += 1
                super().connect()

        pool.ConnectionCls = Counted

    def close(self) -> None:
        """Close the connection."""
        if self._client is not None:
            self._client.close()
            self._client = self._writer = None

    def _opened(self) -> Any:
        if self._writer is None:
            from influxdb_client.client.influxdb_client import InfluxDBClient  # noqa: PLC0415
            from influxdb_client.client.write_api import SYNCHRONOUS  # noqa: PLC0415

            # Some servers need no token, but the library insists on one.
            self._client = InfluxDBClient(
                url=self._url,
                token=self._token or "none",
                org=self._org or "-",
                timeout=self._timeout_ms,
                retries=False,
            )
            self._writer = self._client.write_api(write_options=SYNCHRONOUS)
            self._count_connections()
        return self._writer

    def _answered(self, fault: Any) -> WriteError:
        status = int(fault.status or 0)
        headers = fault.headers or {}
        asked = str(headers.get("Retry-After", "")).strip()
        retry_after_s = float(asked) if asked.isdigit() else None
        body = fault.body.decode("utf-8", "replace") if isinstance(fault.body, bytes) else str(fault.body or "")
        said = " ".join(body.split())[:MESSAGE_CHARACTERS]
        if self._token:
            said = said.replace(self._token, "***")
        why = f"the mirror's server answered {status}" + (f": {said}" if said else "")
        return WriteError(trouble_of(status, retry_after_s), why, retry_after_s)
