"""One channel's own thread: letters in by urgency, results out; a slow channel delays no other.

Each letter goes on a thread of its own, for which the channel waits a limited time: a server that answers a little now and
then keeps every time limit of a library, and would silently hold up all later letters. A thread that was given up ends
when its server does, and its result is ignored. While several hang, no further delivery is begun.
"""

import itertools
import queue
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass

from monitor.outbox.channels import Channel, DeliveryError
from monitor.outbox.outgoing_letters import NO_ANSWER, Letter

DELIVERY_S = 60.0
"""Longest time of one delivery (our choice): longer than a mail server may keep a client waiting out of caution."""

HANGING_MAX = 3
"""Most deliveries of one channel that may hang at a time (our choice); each holds a thread and a socket."""


@dataclass(frozen=True, slots=True)
class Result:
    """Result of a delivery: `why` is "" if the letter was accepted."""

    channel: str
    row: int
    why: str


class Lane:
    """The thread of one channel; it starts with the first letter and ends with `close`."""

    def __init__(
        self, name: str, channel: Channel, report: Callable[[Result], None], limit_s: float = DELIVERY_S
    ) -> None:
        """Take the channel, the receiver of results (called on the lane's thread; must not block) and the longest delivery."""
        self.name = name
        self._channel = channel
        self._report = report
        self._limit_s = limit_s
        self._letters: queue.PriorityQueue[tuple[int, int, int, Letter | None]] = queue.PriorityQueue()
        self._count = itertools.count()
        self._thread: threading.Thread | None = None
        self._hanging: list[threading.Thread] = []

    def put(self, letter: Letter) -> None:
        """Queue a letter; returns at once. The most urgent goes first, then the oldest."""
        if self._thread is None:
            # Make it a daemon thread: a mail server that hangs must not keep the program from ending.
            self._thread = threading.Thread(target=self._work, name=f"outbox-{self.name}", daemon=True)
            self._thread.start()
        self._letters.put((-letter.priority, letter.at, next(self._count), letter))

    def close(self, timeout_s: float) -> None:
        """End the thread after the letter in hand; letters not yet begun stay handed over and go at the next start."""
        if self._thread is not None:
            self._letters.put((-1_000, 0, next(self._count), None))
            self._thread.join(timeout_s)

    def _work(self) -> None:
        while True:
            letter = self._letters.get()[3]
            if letter is None:
                return
            self._report(Result(self.name, letter.row, self._why(letter)))

    def _why(self, letter: Letter) -> str:
        """Send a letter and return why it did not arrive, or ""."""
        said: queue.SimpleQueue[str] = queue.SimpleQueue()
        self._hanging = [one for one in self._hanging if one.is_alive()]
        if len(self._hanging) >= HANGING_MAX:
            # Give a hanging delivery time to end; otherwise all waiting letters would fail within a moment.
            self._hanging[0].join(min(self._limit_s, 1.0))
            return f"{NO_ANSWER}: {len(self._hanging)} deliveries hang; restart the server behind this channel"
        begun = time.monotonic()
        sending = threading.Thread(
            target=lambda: said.put(self._sent(letter)), name=f"outbox-{self.name}-send", daemon=True
        )
        sending.start()
        try:
            return said.get(timeout=self._limit_s)
        except queue.Empty:
            self._hanging.append(sending)
            return f"{NO_ANSWER}: not done within {time.monotonic() - begun:.0f} s"

    def _sent(self, letter: Letter) -> str:
        try:
            self._channel.send(letter)
        except DeliveryError as fault:
            return str(fault) or "not accepted"
        except TimeoutError:
            return NO_ANSWER
        except Exception as fault:  # noqa: BLE001 - a channel's fault of any kind means: not delivered, try again
            # Name only the kind: the text of a stranger's exception may hold an address with its secrets.
            return f"the channel failed ({type(fault).__name__})"
        return ""
