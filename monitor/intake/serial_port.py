"""Listens to a serial port, one line a message.

Rules: 1. A cable pulled out is retried for ever with growing pauses; one report says that the port is gone, and one
that it is back. A port counts as up when it could be read from, not when it merely opened. 2. After opening, the first
line is likely the tail of another: if unreadable, it is counted in `skipped` and not set aside. 3. Lines are never
acknowledged: lines that a node sends while nobody reads are lost.
"""

import contextlib
import threading
from collections.abc import Callable, Iterable
from typing import Protocol

from monitor.codec import LineSplitter, decode_line
from monitor.intake.inbound import Arrival, Clock, Link, Sink, Token
from monitor.intake.serial_faults import why_lost, why_not_open
from monitor.model.connections import SerialPort

_READ_TIMEOUT_S = 0.2


class OpenPort(Protocol):
    """The methods that this project uses of an open port (pyserial's `Serial`, and the objects behind its URLs)."""

    @property
    def in_waiting(self) -> int:
        """Bytes that can be read at once."""

    def read(self, size: int = 1) -> bytes:
        """Return up to `size` bytes, fewer after a time-out."""

    def close(self) -> None:
        """Close the port."""


def open_port(settings: SerialPort) -> OpenPort:
    """Open a port.

    Raises:
        OSError: The port is not there (pyserial's own exception is one).
        ValueError: The URL is of no known kind.
    """
    import serial  # noqa: PLC0415 - loaded only where a serial port is configured

    opened: OpenPort = serial.serial_for_url(settings.url, baudrate=settings.baud, timeout=_READ_TIMEOUT_S)
    return opened


class SerialSource:
    """One port's lines (see `Source`)."""

    def __init__(
        self,
        settings: SerialPort,
        sink: Sink,
        clock: Clock,
        *,
        opener: Callable[[SerialPort], OpenPort] = open_port,
    ) -> None:
        """Prepare; nothing is opened before `start`."""
        self.name = settings.name
        self.skipped = 0
        """Number of unreadable first lines after opening."""
        self.faults = 0
        """Number of lines that the sink refused."""
        self.last_fault = ""
        self._settings = settings
        self._sink = sink
        self._clock = clock
        self._opener = opener
        self._link = Link(settings.name, sink, clock)
        self._ended = threading.Event()
        self._heard_once = False
        self._held = False
        self._thread = threading.Thread(target=self._run, name=f"serial-{settings.name}", daemon=True)

    def start(self) -> None:
        """Begin to listen; the attempts never end."""
        self._thread.start()

    def hold(self) -> None:
        """Offer nothing more; further lines are lost."""
        self._held = True

    def stop(self) -> None:
        """End and wait until the thread is gone."""
        self._ended.set()
        self._thread.join()

    def acknowledge(self, tokens: Iterable[Token]) -> int:  # noqa: ARG002 - the seam's shape; lines have no tokens
        """Do nothing: lines cannot be acknowledged."""
        return 0

    def _run(self) -> None:
        pause_s = self._settings.backoff_min_s
        while not self._ended.is_set():
            self._heard_once = False
            try:
                port = self._opener(self._settings)
            except Exception as fault:  # noqa: BLE001 - of whatever kind, it is tried again
                self._tell(False, why_not_open(self._settings.url, fault))
            else:
                self._listen(port)
            if self._heard_once:
                pause_s = self._settings.backoff_min_s
            self._ended.wait(pause_s)
            pause_s = min(pause_s * 2, self._settings.backoff_max_s)

    def _listen(self, port: OpenPort) -> None:
        """Read until the port is gone or the end is requested."""
        splitter = LineSplitter()
        first = True
        try:
            while not self._ended.is_set():
                chunk = port.read(port.in_waiting or 1)
                self._heard_once = True
                self._tell(True, f"{self._settings.url} is open")
                for line in splitter.feed(chunk):
                    self._take(line, first)
                    first = False
        except Exception as fault:  # noqa: BLE001 - an unplugged port raises OSError, termios.error or TypeError
            self._tell(False, why_lost(self._settings.url, fault))
        finally:
            _close(port)

    def _take(self, line: bytes, first: bool) -> None:
        received = self._clock.now_ms()
        heard, rejects, _ = decode_line(line, received)
        if first and rejects and not heard:
            self.skipped += 1
        elif heard or rejects:
            self._offer(Arrival(self.name, received, heard, rejects, None, self._settings.url, line))

    def _offer(self, arrival: Arrival) -> None:
        if self._held:
            return
        try:
            self._sink.offer(arrival)
        except Exception as fault:  # noqa: BLE001 - a sink that refuses one line must not end the source
            self._note(fault)

    def _tell(self, up: bool, why: str) -> None:
        try:
            self._link.tell(up, why)
        except Exception as fault:  # noqa: BLE001 - as above
            self._note(fault)

    def _note(self, fault: Exception) -> None:
        self.faults += 1
        self.last_fault = f"{type(fault).__name__}: {fault}"


def _close(port: OpenPort) -> None:
    with contextlib.suppress(Exception):  # it is gone already; there is nobody to tell
        port.close()
