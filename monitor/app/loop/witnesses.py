"""What nodes that have clocks of their own say of the time, and who is right where they and this computer differ.

1. A witness is one origin (a topic, a port): its newest word counts. It is *near* this computer's clock, *ahead* or *behind*.
2. Nothing can come from the future, so one word from ahead is enough. What lies behind may have waited in a queue: it counts
   only once two words, some seconds apart, show a clock that runs with ours.
3. Each witness has one voice and so has the computer; those that agree with one another within five minutes stand together.
   The verdict waits until no witness has changed its mind for a while, so that the order of arrival does not matter.
4. A lone witness against a computer that nobody supports: neither can be shown to be wrong. It is waited for others; then one
   that is up to two days ahead is believed (a computer without a battery for its clock is behind by as long as it was off),
   one that is further ahead is not (it would drag the record into the future), and one behind moves nothing.

Source: our own choice (docs/decisions/41); common practice, no published source.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from statistics import median_low

from monitor.model.times import DAY_MS, MINUTE_MS

AGREE_MS = 5 * MINUTE_MS
STEADY_MS = MINUTE_MS // 2
"""A clock that runs with ours keeps its distance within this."""

LONE_AHEAD_MS = 2 * DAY_MS
AHEAD_MAX_MS = 400 * DAY_MS
"""Further ahead nobody is believed, however many they are: they may share one wrong clock."""

WITNESSES_MAX = 200


@dataclass(frozen=True, slots=True)
class Timing:
    """How long is waited, seconds.

    Attributes:
        settle_s: Until no witness has changed its mind for so long.
        lone_s: As long for others, where there is one against one.
        apart_s: How far two words must be apart to show that a clock runs.
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
    voices: int


class Witnesses:
    """For one thread alone; offsets are a witness's time less the monotonic clock's, ms."""

    def __init__(self, timing: Timing) -> None:
        self._timing = timing
        self._known: dict[str, _Witness] = {}
        self._sides: dict[str, int] = {}
        self._changed_s: float | None = None

    def says(self, who: str, time_ms: int, mono_s: float) -> None:
        """Note what a witness says of the time (UTC ms) at an instant of the monotonic clock."""
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
        """Forget all, because the question has changed."""
        self._known.clear()
        self._sides.clear()
        self._changed_s = None

    def supporting(self, clock_ms: int, mono_s: float) -> int:
        """Return how many agree with a clock that shows `clock_ms` at this instant."""
        return sum(side == 0 for side in self._sort(clock_ms, mono_s).values())

    def verdict(self, clock_ms: int, mono_s: float) -> Found | None:
        """Return who is right where the computer's clock shows `clock_ms`, or None while it cannot be said."""
        sides = self._sort(clock_ms, mono_s)
        if {who: _sign(off) for who, off in sides.items()} != {who: _sign(off) for who, off in self._sides.items()}:
            self._changed_s = mono_s
        self._sides = sides
        if not sides or self._changed_s is None or mono_s - self._changed_s < self._timing.settle_s:
            return None
        near = sum(off == 0 for off in sides.values())
        rivals = _largest({who: off for who, off in sides.items() if off})
        if len(rivals) <= near:
            return Found(0, near)
        off = median_low(sorted(rivals))
        if off > AHEAD_MAX_MS:
            return Found(0, near)
        if len(rivals) > near + 1:
            return Found(off, len(rivals))
        if near:
            return Found(0, near)
        return self._lone(off, mono_s)

    def _lone(self, off: int, mono_s: float) -> Found | None:
        """Judge one against one, after others were waited for."""
        if self._changed_s is None or mono_s - self._changed_s < self._timing.lone_s:
            return None
        return Found(off if off <= LONE_AHEAD_MS else 0, 1)

    def _sort(self, clock_ms: int, mono_s: float) -> dict[str, int]:
        """Return how far each witness that counts is from a clock, 0 for those that agree with it."""
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
    """Return the largest group that agrees with one another; of equal ones that which is ahead, and least so."""
    ordered = sorted(offs.values())
    groups = [[off for off in ordered[start:] if off - low <= AGREE_MS] for start, low in enumerate(ordered)]
    return max(groups, key=lambda group: (len(group), group[0] > 0, -group[0]), default=[])


def _sign(off: int) -> int:
    return (off > 0) - (off < 0)
