"""One channel's own thread: letters in by urgency, results out; a slow channel holds up nobody else."""

import itertools
import queue
import threading
from collections.abc import Callable
from dataclasses import dataclass

from monitor.outbox.channels import Channel, DeliveryError
from monitor.outbox.letters import NO_ANSWER, Letter


@dataclass(frozen=True, slots=True)
class Result:
    """What became of a letter: `why` is "" where it was accepted."""

    channel: str
    row: int
    why: str


class Lane:
    """The thread of one channel; it starts with the first letter and ends with `close`."""

    def __init__(self, name: str, channel: Channel, report: Callable[[Result], None]) -> None:
        """Take the channel, and where results go (called on the lane's thread; must not block)."""
        self.name = name
        self._channel = channel
        self._report = report
        self._letters: queue.PriorityQueue[tuple[int, int, int, Letter | None]] = queue.PriorityQueue()
        self._count = itertools.count()
        self._thread: threading.Thread | None = None

    def put(self, letter: Letter) -> None:
        """Queue a letter; returns at once. The most urgent goes first, then the oldest."""
        if self._thread is None:
            # A daemon thread: a mail server that hangs must not keep the program from ending.
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
        try:
            self._channel.send(letter)
        except DeliveryError as fault:
            return str(fault) or "not accepted"
        except TimeoutError:
            return NO_ANSWER
        except Exception as fault:  # noqa: BLE001 - a channel's fault of any kind means: not delivered, try again
            # Only the kind: the text of a stranger's exception may hold an address with its secrets.
            return f"the channel failed ({type(fault).__name__})"
        return ""
