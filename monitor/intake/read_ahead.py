"""A socket that is read in large pieces and handed out in small ones.

The MQTT library asks the system for one byte, another, and then for the rest of a packet; each call costs as much as reading a
thousand packets at once, and releases the interpreter's lock. `pending` reports the bytes held back, as a TLS socket does,
so that nobody waits for the system while some are left here. Bytes held back when the connection ends are lost, and were
not acknowledged.

A broker that sends one small message after another waits for the receipt of the last before it sends the next, and Linux
keeps receipts back for up to 40 ms unless it is asked not to, each time anew. Source: RFC 896; RFC 1122, 4.2.3.2; tcp(7).
The 40 ms were measured here.

Whole messages among the bytes read ahead are handed out as such (`published`), past the library: it takes 110 µs for what takes
10 here, and a flood of messages must not keep the others waiting.
"""

import socket
from contextlib import suppress
from typing import Any

from monitor.intake.publish_packets import Published, publish_at

PIECE = 65_536
"""Bytes requested at once."""

_AT_ONCE: int | None = getattr(socket, "TCP_QUICKACK", None)
"""The option that sends receipts at once; None if the system lacks it."""


class ReadAhead:
    """A socket as the MQTT library takes it: `recv` returns bytes read ahead, everything else goes to the socket underneath."""

    def __init__(self, under: Any) -> None:
        self._under = under
        self._held = b""
        self._at = 0
        self.send = under.send

    def recv(self, size: int) -> bytes:
        """Return at most `size` bytes, empty at the end of the connection.

        Raises:
            OSError: As the socket underneath does; BlockingIOError if nothing has come yet.
        """
        if self._at == len(self._held):
            self._held, self._at = self._under.recv(PIECE), 0
            self._send_receipt()
        part = self._held[self._at : self._at + size]
        self._at += len(part)
        return part

    def published(self, *, properties: bool) -> Published | None:
        """Return the message that begins at the next byte, if it was read ahead as a whole; None: `recv` has the next byte.

        Args:
            properties: Whether packets have properties: those of version 5 do.
        """
        found = publish_at(self._held, self._at, properties=properties)
        if found is None:
            return None
        message, self._at = found
        return message

    def _send_receipt(self) -> None:
        if _AT_ONCE is not None:
            with suppress(OSError):
                self._under.setsockopt(socket.IPPROTO_TCP, _AT_ONCE, 1)

    def pending(self) -> int:
        """Return the number of bytes available without asking the system."""
        beneath = getattr(self._under, "pending", None)
        return len(self._held) - self._at + (beneath() if beneath is not None else 0)

    def __getattr__(self, name: str) -> Any:
        """Pass every other attribute of a socket through."""
        return getattr(self._under, name)
