"""Holds arrivals and tasks from any thread for the writer's thread, and holds sources back when very much waits.

Much is many items, or items that are heavy: one message can hold three thousand values. Messages that are turned away and will
not come again (of QoS 0, or lines of a cable) are lost, so they are counted.
"""

import queue
import threading
from collections import deque
from collections.abc import Callable, Iterable
from typing import NamedTuple

from monitor.intake import Arrival, LinkChange
from monitor.model.errors import UnavailableError

ROOM_WAIT_S = 2.0
"""The longest time, in seconds, that a source is held back: well under a broker's keep-alive."""
_FULL = 20_000
_OVERFULL = 100_000
_FULL_BYTES = 24 * 1024 * 1024
_OVERFULL_BYTES = 120 * 1024 * 1024
"""Of what is waiting as `_weight` has it: twenty thousand usual messages, and five times as many (our choice)."""

_PART_BYTES = 450
"""What a message, and each value in it, takes beside its own bytes (measured on CPython 3.11)."""

Task = Callable[[], None]
Item = Arrival | LinkChange | Task | None


class Lost(NamedTuple):
    """Messages of one source that were turned away for good: how many, and when the latest came (UTC ms)."""

    source: str
    many: int
    latest: int


class Intray:
    """A queue, first in, first out. Any thread may call `offer` and `put`, only the writer's thread the rest."""

    def __init__(self) -> None:
        self._queue: queue.SimpleQueue[Item] = queue.SimpleQueue()
        self._seen: deque[Item] = deque()
        self._room = threading.Event()
        self._room.set()
        self._counting = threading.Lock()
        self._came = self._went = 0
        """Weights of all arrivals that were put in, and of those that were taken out (by the writer's thread alone)."""
        self._lost: dict[str, Lost] = {}
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
        waiting, heavy = self.waiting(), self._came - self._went
        if waiting > _FULL or heavy > _FULL_BYTES:
            self._room.clear()
            self._room.wait(ROOM_WAIT_S)
            if isinstance(item, Arrival) and (waiting > _OVERFULL or heavy > _OVERFULL_BYTES):
                self._turn_away(item)
                raise UnavailableError("too much waits for the disk")
        if isinstance(item, Arrival):
            with self._counting:
                self._came += _weight(item)
        self._queue.put(item)

    def _turn_away(self, item: Arrival) -> None:
        if item.token is not None:
            self.turned_away = True
            return
        with self._counting:
            before = self._lost.get(item.source, Lost(item.source, 0, 0))
            self._lost[item.source] = Lost(item.source, before.many + 1, max(before.latest, item.received))

    def take_lost(self) -> list[Lost]:
        """Return the losses since the last call, by source."""
        if not self._lost:
            return []
        with self._counting:
            lost, self._lost = list(self._lost.values()), {}
        return lost

    def put(self, item: Item) -> None:
        """Take a task, or None to make the loop look for work."""
        self._queue.put(item)

    def next(self, wait_s: float) -> Item:
        """Return the next item, waiting for it at most `wait_s` seconds.

        Raises:
            queue.Empty: There is none.
        """
        if self._seen:
            item = self._seen.popleft()
        else:
            item = self._queue.get(timeout=wait_s) if wait_s > 0 else self._queue.get_nowait()
        if isinstance(item, Arrival):
            self._went += _weight(item)
        return item

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
        if self.waiting() <= _FULL and self._came - self._went <= _FULL_BYTES:
            self._room.set()


def _weight(item: Arrival) -> int:
    """Return about how many bytes of memory an arrival takes."""
    return len(item.raw) + _PART_BYTES * (1 + len(item.heard) + len(item.rejects))
