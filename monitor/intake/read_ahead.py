"""A socket that is read in large pieces and handed out in small ones.

The MQTT library asks the system for one byte, one more, and then for the rest of a packet; each time costs as much as reading a
thousand packets at once, and gives the interpreter's lock away. What is held back is told by `pending`, as a TLS socket does,
so that nobody waits for the system while there is something here. What is held back when the connection ends is lost, and was
not acknowledged.

A broker that sends one small message after another waits for the receipt of the last before it sends the next, and Linux
keeps receipts back for up to 40 ms unless it is asked not to, each time anew. Source: RFC 896; RFC 1122, 4.2.3.2; tcp(7).
The 40 ms were measured here.
"""

import socket
from contextlib import suppress
from typing import Any

PIECE = 65_536
"""How many bytes are asked for at once."""

_AT_ONCE: int | None = getattr(socket, "TCP_QUICKACK", None)
"""The option that sends receipts at once, where the system has it."""


class ReadAhead:
    """A socket of the kind that the MQTT library takes: `recv` out of what was read ahead, all else as it is."""

    def __init__(self, under: Any) -> None:
        self._under = under
        self._held = b""
        self._at = 0
        self.send = under.send

    def recv(self, size: int) -> bytes:
        """Return up to so many bytes, empty at the end of the connection.

        Raises:
            OSError: As the socket underneath does; BlockingIOError where nothing has come yet.
        """
        if self._at == len(self._held):
            self._held, self._at = self._under.recv(PIECE), 0
            self._send_receipt()
        part = self._held[self._at : self._at + size]
        self._at += len(part)
        return part

    def _send_receipt(self) -> None:
        if _AT_ONCE is not None:
            with suppress(OSError):
                self._under.setsockopt(socket.IPPROTO_TCP, _AT_ONCE, 1)

    def pending(self) -> int:
        """Return how many bytes can be had without asking the system."""
        beneath = getattr(self._under, "pending", None)
        return len(self._held) - self._at + (beneath() if beneath is not None else 0)

    def __getattr__(self, name: str) -> Any:
        """Hand on what else a socket can do."""
        return getattr(self._under, name)
