"""Holds arrivals and tasks from any thread for the writer's thread, and holds sources back when very much waits."""

import queue
import threading
from collections import deque
from collections.abc import Callable, Iterable

from monitor.intake import Arrival, LinkChange
from monitor.model.errors import UnavailableError

ROOM_WAIT_S = 2.0
"""The longest time, in seconds, that a source is held back: well under a broker's keep-alive."""
_FULL = 20_000
_OVERFULL = 100_000

Task = Callable[[], None]
Item = Arrival | LinkChange | Task | None


class Intray:
    """A queue, first in, first out. Any thread may call `offer` and `put`, only the writer's thread the rest."""

    def __init__(self) -> None:
        self._queue: queue.SimpleQueue[Item] = queue.SimpleQueue()
        self._seen: deque[Item] = deque()
        self._room = threading.Event()
        self._room.set()
        self.turned_away = False
        """Whether a message was refused; its broker sends it again after a new connection."""

    def waiting(self) -> int:
        """Return how many items wait."""
        return self._queue.qsize() + len(self._seen)

    def offer(self, item: Arrival | LinkChange) -> None:
        """Take one item from a source; if very much waits, hold the source back for a moment.

        Raises:
            UnavailableError: Far too much waits (the disk has been full for long); a broker keeps the message.
        """
        waiting = self.waiting()
        if waiting > _FULL:
            self._room.clear()
            self._room.wait(ROOM_WAIT_S)
            if waiting > _OVERFULL and isinstance(item, Arrival):
                self.turned_away = True
                raise UnavailableError("too much waits for the disk")
        self._queue.put(item)

    def put(self, item: Item) -> None:
        """Take a task, or None to make the loop look for work."""
        self._queue.put(item)

    def next(self, wait_s: float) -> Item:
        """Return the next item, waiting for it at most `wait_s` seconds.

        Raises:
            queue.Empty: There is none.
        """
        if self._seen:
            return self._seen.popleft()
        return self._queue.get(timeout=wait_s) if wait_s > 0 else self._queue.get_nowait()

    def look(self, wait_s: float) -> Iterable[Item]:
        """Return the items since the last look, waiting at most `wait_s` seconds for the first; they stay queued, in order."""
        fresh: list[Item] = []
        try:
            fresh.append(self._queue.get(timeout=wait_s))
            while True:
                fresh.append(self._queue.get_nowait())
        except queue.Empty:
            self._seen += fresh
        return fresh

    def looked_at(self) -> Iterable[Item]:
        """Return the items that were looked at and still wait."""
        return tuple(self._seen)

    def make_room(self) -> None:
        """Let held-back sources continue, if there is room again."""
        if self.waiting() <= _FULL:
            self._room.set()
