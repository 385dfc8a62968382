"""Decides who is right when this computer's clock differs from those of nodes that have clocks.

1. A witness is one origin (a topic, a port); its newest time counts. It is *near* this computer's clock, *ahead* or *behind*.
2. No message comes from the future, so a single time ahead is enough. A time behind may have waited in a queue: it counts only
   after two times, some seconds apart, show a clock that runs at our pace.
3. Each witness has one vote, and so has the computer; those that agree within five minutes form a group. The verdict waits
   until no witness has changed sides for a while, so that the order of arrival does not matter.
4. Between a lone witness and a computer without supporters neither can be proven wrong. The verdict waits for others; then a
   witness up to two days ahead is believed (a computer without a battery for its clock is behind by as long as it was off),
   one further ahead is not (it would drag the record into the future), and one behind changes nothing.

Source: our own choice (docs/decisions/41); common practice, no published source.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from statistics import median_low

from monitor.model.times import DAY_MS, MINUTE_MS

AGREE_MS = 5 * MINUTE_MS
STEADY_MS = MINUTE_MS // 2
"""A clock runs at our pace if its distance stays within this many milliseconds."""

LONE_AHEAD_MS = 2 * DAY_MS
AHEAD_MAX_MS = 400 * DAY_MS
"""Witnesses further ahead are never believed, however many: they may share one wrong clock."""

WITNESSES_MAX = 200


@dataclass(frozen=True, slots=True)
class Timing:
    """The waiting times, in seconds.

    Attributes:
        settle_s: How long no witness may have changed sides before a verdict.
        lone_s: The same, between one witness and the computer alone.
        apart_s: How far apart two times must be to show that a clock runs.
    """

    settle_s: float = 60.0
    lone_s: float = 300.0
    apart_s: float = 10.0


@dataclass(slots=True)
class _Witness:
    offset_ms: int
    said_s: float
    runs_since_s: float
    runs_from_ms: int
    running: bool = False


@dataclass(frozen=True, slots=True)
class Found:
    """A verdict: `off_ms` is how far the true time is from the computer's (0: it is right)."""

    off_ms: int


class Witnesses:
    """Collects witnesses, on one thread alone. An offset is a witness's time minus the monotonic clock's, ms."""

    def __init__(self, timing: Timing) -> None:
        self._timing = timing
        self._known: dict[str, _Witness] = {}
        self._sides: dict[str, int] = {}
        self._changed_s: float | None = None

    def says(self, who: str, time_ms: int, mono_s: float) -> None:
        """Note the time that a witness shows.

        Args:
            who: The witness's origin.
            time_ms: Its time, UTC ms.
            mono_s: The monotonic clock at that instant, seconds.
        """
        offset = time_ms - int(mono_s * 1000)
        known = self._known.get(who)
        if known is None:
            if len(self._known) >= WITNESSES_MAX:
                return
            self._known[who] = _Witness(offset, mono_s, mono_s, offset)
            return
        if abs(offset - known.runs_from_ms) > STEADY_MS:
            known.runs_since_s, known.runs_from_ms, known.running = mono_s, offset, False
        elif mono_s - known.runs_since_s >= self._timing.apart_s:
            known.running = True
        known.offset_ms, known.said_s = offset, mono_s

    def forget(self) -> None:
        """Forget all witnesses: after the clock jumped or was moved, the question is another."""
        self._known.clear()
        self._sides.clear()
        self._changed_s = None

    def supporting(self, clock_ms: int, mono_s: float) -> int:
        """Return how many witnesses agree with a clock that shows `clock_ms` (UTC ms) at the monotonic instant `mono_s`."""
        return sum(side == 0 for side in self._sort(clock_ms, mono_s).values())

    def verdict(self, clock_ms: int, mono_s: float) -> Found | None:
        """Return who is right while the computer's clock shows `clock_ms` (UTC ms), or None if that is still open."""
        sides = self._sort(clock_ms, mono_s)
        if {who: _sign(off) for who, off in sides.items()} != {who: _sign(off) for who, off in self._sides.items()}:
            self._changed_s = mono_s
        self._sides = sides
        if not sides or self._changed_s is None or mono_s - self._changed_s < self._timing.settle_s:
            return None
        near = sum(off == 0 for off in sides.values())
        rivals = _largest({who: off for who, off in sides.items() if off})
        if len(rivals) <= near:
            return Found(0)
        off = median_low(sorted(rivals))
        if off > AHEAD_MAX_MS:
            return Found(0)
        if len(rivals) > near + 1:
            return Found(off)
        if near:
            return Found(0)
        return self._lone(off, mono_s)

    def _lone(self, off: int, mono_s: float) -> Found | None:
        """Judge one witness against the computer alone, after waiting for others."""
        if self._changed_s is None or mono_s - self._changed_s < self._timing.lone_s:
            return None
        return Found(off if off <= LONE_AHEAD_MS else 0)

    def _sort(self, clock_ms: int, mono_s: float) -> dict[str, int]:
        """Return how far each witness that counts is from a clock; 0 for those that agree with it."""
        base = clock_ms - int(mono_s * 1000)
        sides: dict[str, int] = {}
        for who, known in self._known.items():
            off = known.offset_ms - base
            if abs(off) <= AGREE_MS:
                sides[who] = 0
            elif off > 0 or known.running:
                sides[who] = off
        return sides


def _largest(offs: Mapping[str, int]) -> list[int]:
    """Return the largest group of offsets that agree; of equal groups the one ahead, and of those the least ahead."""
    ordered = sorted(offs.values())
    groups = [[off for off in ordered[start:] if off - low <= AGREE_MS] for start, low in enumerate(ordered)]
    return max(groups, key=lambda group: (len(group), group[0] > 0, -group[0]), default=[])


def _sign(off: int) -> int:
    return (off > 0) - (off < 0)
