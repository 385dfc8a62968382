"""Tells the service manager (systemd) that the daemon is ready, reads its file again, ends, and is still alive.

The protocol is sd_notify(3): datagrams of KEY=VALUE lines, sent to the socket that the variable NOTIFY_SOCKET names. Where
that variable is missing, nothing is said. WATCHDOG_USEC is the time after which the manager takes a silent daemon for hung,
kills it and starts it anew; what was not acknowledged then comes again.
"""

import contextlib
import logging
import os
import socket
import time
from collections.abc import Callable, Mapping

SIGNS = 3
"""Signs of life in the time after which the manager loses patience: two of them may come late (our choice)."""

PATIENCE_S = 1.0
"""How long, in seconds, a change of state may wait for a manager that reads slowly; a sign of life never waits (our choice)."""

log = logging.getLogger("heaptender")


class ServiceManager:
    """The service manager as the daemon speaks to it; any thread may call it."""

    def __init__(
        self,
        address: str = "",
        watchdog_s: float | None = None,
        monotonic_s: Callable[[], float] = time.monotonic,
    ) -> None:
        """Note where the manager listens.

        Args:
            address: The path of its socket, or its abstract name after an `@`; "" if there is no manager.
            watchdog_s: Its patience, seconds; None if it does not watch.
            monotonic_s: The counter of seconds that every process of this computer shares.
        """
        self._address = address
        self._monotonic_s = monotonic_s
        self._every_s = None if watchdog_s is None or not address else watchdog_s / SIGNS
        self._said_s = float("-inf")
        self._complained = False

    def ready(self, words: str) -> None:
        """Say that the daemon works, and in a line what it does."""
        self._send(f"READY=1\nSTATUS={words}")

    def reading_again(self) -> None:
        """Say that the daemon reads its configuration again; `ready` ends that."""
        self._send(f"RELOADING=1\nMONOTONIC_USEC={int(self._monotonic_s() * 1e6)}")

    def ending(self) -> None:
        """Say that the daemon ends."""
        self._send("STOPPING=1")

    def alive(self) -> None:
        """Say that the daemon is alive, as often as the manager must hear it; the thread that must not hang calls this."""
        if self._every_s is None:
            return
        now_s = self._monotonic_s()
        if now_s - self._said_s >= self._every_s:
            self._said_s = now_s
            self._send("WATCHDOG=1", 0.0)

    def _send(self, lines: str, patience_s: float = PATIENCE_S) -> None:
        if not self._address:
            return
        # An abstract name begins with a zero byte, written as an @ (sd_notify(3)).
        address = "\0" + self._address[1:] if self._address.startswith("@") else self._address
        try:
            with contextlib.closing(socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM | socket.SOCK_CLOEXEC)) as wire:
                # A manager that reads nothing fills the wire's queue, and then a send would block this thread for ever.
                wire.settimeout(patience_s)
                wire.sendto(lines.encode(), address)
        except OSError as fault:
            if not self._complained:
                log.warning("The service manager does not listen (%s); the yard is watched all the same.", fault)
            self._complained = True


def service_manager(environment: Mapping[str, str] | None = None) -> ServiceManager:
    """Return the service manager that the environment names, or one that hears nothing.

    Args:
        environment: The environment's variables; None: those of this process.
    """
    known = os.environ if environment is None else environment
    # Where WATCHDOG_PID is set and names another process, it is that one that is watched.
    watched = known.get("WATCHDOG_PID", "") in ("", str(os.getpid()))
    patience = known.get("WATCHDOG_USEC", "")
    watchdog_s = int(patience) / 1e6 if watched and patience.isdecimal() and int(patience) > 0 else None
    return ServiceManager(known.get("NOTIFY_SOCKET", ""), watchdog_s)
