"""Limits connections to the page, together and for each address, and closes those without a timely request.

Rules:
1. The page holds at most a quarter of the descriptors that the process may open; the rest is for the broker, the journal and
   messages.
2. A client must send each whole request within some seconds, or it is cut off. Answers on their way, and open lines
   (`live`), are not hurried.
3. One address (in IPv6, one network of 64 bits) gets only a share; this computer, whose web server may pass many people on,
   gets a larger one.
"""

import asyncio
import ipaddress
import logging
import resource
import time
from collections.abc import Iterable
from typing import Any

from uvicorn.protocols.http.h11_impl import H11Protocol

MOST = 160
MOST_OF_ONE = 40
MOST_OF_THIS_COMPUTER = 120
REQUEST_S = 10.0
QUIET_S = 60.0

log = logging.getLogger("heaptender.page")


def most_connections() -> int:
    """Return the most connections that the page may hold."""
    soft, _ = resource.getrlimit(resource.RLIMIT_NOFILE)
    return MOST if soft == resource.RLIM_INFINITY else max(8, min(MOST, soft // 4))


def network_of(address: str) -> str:
    """Return the network that counts as one address."""
    try:
        found = ipaddress.ip_address(address.split("%", maxsplit=1)[0])
    except ValueError:
        return address
    if isinstance(found, ipaddress.IPv6Address) and found.ipv4_mapped is not None:
        found = found.ipv4_mapped
    if found.is_loopback:
        return "this computer"
    return str(ipaddress.ip_network((found, 64), strict=False)) if found.version == 6 else str(found)


class Connection(H11Protocol):
    """One connection to the page."""

    _patience: asyncio.TimerHandle | None = None

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Take the connection, or cut it off if there are too many."""
        super().connection_made(transport)
        if self._too_many():
            transport.abort()
            return
        self._wait()

    def data_received(self, data: bytes) -> None:
        """Take in a part of a request; a whole request stops the timer."""
        super().data_received(data)
        if self.cycle is not None and not self.cycle.response_complete:
            self._rest()
        elif self._patience is None and not self.transport.is_closing():
            self._wait()

    def on_response_complete(self) -> None:
        """Leave the idle connection to the library's own timer."""
        self._rest()
        super().on_response_complete()

    def connection_lost(self, exc: Exception | None) -> None:
        """Stop the timer."""
        self._rest()
        super().connection_lost(exc)

    def _too_many(self) -> bool:
        if len(self.connections) > most_connections():
            return True
        own = network_of(self.client[0]) if self.client else ""
        share = MOST_OF_THIS_COMPUTER if own == "this computer" else MOST_OF_ONE
        return sum(network_of(name) == own for name in _addresses(self.connections)) > share

    def _wait(self) -> None:
        self._patience = self.loop.call_later(REQUEST_S, self.transport.abort)

    def _rest(self) -> None:
        if self._patience is not None:
            self._patience.cancel()
            self._patience = None


def _addresses(connections: Iterable[Any]) -> Iterable[str]:
    return (one.client[0] for one in connections if one.client)


class QuietFaults:
    """Handles an event loop's faults outside requests: it logs each kind at most once a minute."""

    def __init__(self) -> None:
        """Begin with none."""
        self._said: dict[str, float] = {}

    def __call__(self, loop: asyncio.AbstractEventLoop, context: dict[str, Any]) -> None:
        """Note a fault."""
        del loop
        words, now_s = str(context.get("message", "a fault")), time.monotonic()
        if now_s - self._said.get(words, -QUIET_S) >= QUIET_S:
            self._said[words] = now_s
            log.warning("The page's connections: %s (%s).", words, context.get("exception") or "no more is known")
