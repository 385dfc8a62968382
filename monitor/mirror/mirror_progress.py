"""The mirror's cursor, and how far it steps back when the server may have forgotten points.

A server that accepted points may still lose them in a crash within the next seconds (measured: up to 10 s). So a cursor is
only *safe* once 60 s have passed since it was reached; on each new connection the mirror goes back to the safe one,
which is also the one on the disk. Writes overwrite, so sending again does no harm.

So that a connection that breaks again and again does not hold the mirror at one place for ever, points sent three times
within these 60 s are not sent a fourth time; the hourly check finds those that are still missing.
"""

from collections import deque

from monitor.mirror.source import Cursor

FORGETS_MS = 60_000
_TIMES = 3

_Mark = tuple[float, Cursor]


def _lower(one: Cursor, other: Cursor) -> Cursor:
    return Cursor(min(one.readings, other.readings), min(one.effects, other.effects))


def _upper(one: Cursor, other: Cursor) -> Cursor:
    return Cursor(max(one.readings, other.readings), max(one.effects, other.effects))


class Progress:
    """The cursor with its recent past; times are monotonic seconds."""

    def __init__(self, cursor: Cursor) -> None:
        """Start at the mirror's cursor."""
        self.cursor = cursor
        self._furthest = cursor
        self._before: deque[_Mark] = deque()
        self._returns: deque[_Mark] = deque(maxlen=_TIMES)

    def reached(self, cursor: Cursor, now_s: float) -> None:
        """Note that the server accepted everything up to a cursor."""
        self._before.append((now_s, self.cursor))
        self.cursor = cursor
        self._furthest = _upper(self._furthest, cursor)

    def safe(self, now_s: float) -> Cursor:
        """Return the cursor up to which the server can forget nothing any more."""
        while self._before and now_s - self._before[0][0] > FORGETS_MS / 1000:
            self._before.popleft()
        safe = self.cursor
        for _, cursor in self._before:
            safe = _lower(safe, cursor)
        return safe

    def back(self, now_s: float) -> None:
        """Go back to the safe cursor, because the connection is new."""
        target = _lower(self.safe(now_s), Cursor(self.cursor.readings - FORGETS_MS, self.cursor.effects - FORGETS_MS))
        if len(self._returns) == _TIMES and now_s - self._returns[0][0] <= FORGETS_MS / 1000:
            target = _upper(target, self._returns[0][1])
        self._returns.append((now_s, self._furthest))
        self.cursor = _upper(_lower(target, self.cursor), Cursor())
