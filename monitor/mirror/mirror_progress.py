"""The mirror's cursor, and how far it steps back when the server may have forgotten points.

A server that accepted points may still lose them in a crash within the next seconds (measured: up to 10 s). A crash breaks the
connection, but nobody sees that before the next write, which may be hours later. So points are only *safe* once a write
more than 60 s later went over the same connection: time alone proves nothing. On each new connection the mirror goes back to
what is safe, which is also what is kept on the disk. Writes overwrite, so sending again does no harm.

So that a connection that breaks again and again, or a server that closes it after each write, does not hold the mirror
at one place for ever, points sent again three times are not sent once more; the daily check finds those that are still missing.
"""

from collections import deque
from collections.abc import Sequence
from typing import NamedTuple

from monitor.mirror.source import Cursor

FORGETS_MS = 60_000
_TIMES = 4
"""So often points are sent, the first time included."""


class _Sent(NamedTuple):
    """Events that were sent at a monotonic second: those after `start`, up to `end`."""

    when_s: float
    start: Cursor
    end: Cursor


def _upper(one: Cursor, other: Cursor) -> Cursor:
    return Cursor(max(one.readings, other.readings), max(one.effects, other.effects))


class Progress:
    """The cursor, what is safe, and what was sent and is not safe yet; times are monotonic seconds."""

    def __init__(self, cursor: Cursor) -> None:
        """Start at the mirror's cursor, which is safe."""
        self.cursor = cursor
        self.safe = cursor
        """The cursor up to which the server can forget nothing any more."""
        self._sent: deque[_Sent] = deque()
        """Sent over this connection since it began: in order, without a gap."""
        self._before: list[_Sent] = []
        """Sent over earlier connections: nothing can prove any more that it stayed."""

    def reached(self, cursor: Cursor, now_s: float) -> None:
        """Note that the server accepted everything up to a cursor."""
        self._sent.append(_Sent(now_s, self.cursor, cursor))
        self.cursor = cursor

    def stayed(self, now_s: float) -> None:
        """Note that the server accepted points over the same connection as before: it did not crash meanwhile."""
        safe = self.safe
        while self._sent and now_s - self._sent[0].when_s > FORGETS_MS / 1000:
            self.safe = _upper(self.safe, self._sent.popleft().end)
        if self.safe != safe:
            self._forget()

    def back(self) -> None:
        """Go back to what is safe, or was sent often enough, because the connection is new."""
        self._before += self._sent
        self._sent.clear()
        self.safe = self.cursor = Cursor(
            _often_enough(self.safe.readings, [(one.start.readings, one.end.readings) for one in self._before]),
            _often_enough(self.safe.effects, [(one.start.effects, one.end.effects) for one in self._before]),
        )
        self._forget()

    def _forget(self) -> None:
        self._before = [one for one in self._before if _upper(one.end, self.safe) != self.safe]


def _often_enough(place: int, sent: Sequence[tuple[int, int]]) -> int:
    """Return up to where everything after a place was sent often enough; each (start, end) was sent once."""
    while len(ends := [end for start, end in sent if start <= place < end]) >= _TIMES:
        place = min(ends)
    return place
