"""Whether a probe is alive: when it counts as silent, as broken, and as hot and lost.

1. *Silent* counts arrivals, *broken* counts accepted readings: after 3 × the median spacing of the last 20 distinct
   instants (late readings left out of the spacing), and not before a minimum that depends on the place.
2. A probe never heard counts from `heard_from` (the start, or the settings that named it).
3. *Hot and lost*: above 70 °C within its last 6 h of readings and nothing for 30 min or 3 spacings, whichever is
   longer.
"""

from dataclasses import dataclass, field
from itertools import pairwise
from typing import Annotated, NamedTuple

from pydantic import Field

from monitor.model.thresholds import PileThresholds, ProbeThresholds
from monitor.model.times import HOUR_MS, MINUTE_MS

_KEPT = 20
TRAIL_STEP_MS = 10 * MINUTE_MS
TRAIL_SPAN_MS = 3 * HOUR_MS

Derived = Annotated[int, Field(exclude=True)]
"""A value that follows from the rest of a state, kept beside it only to spare working it out at every question."""


class Dues(NamedTuple):
    """The instants at which an unheard probe counts as silent, broken or lost, UTC ms; None: already, or never."""

    silent: int | None
    broken: int | None
    lost: int | None

    def soonest(self, at: int) -> int | None:
        """Return the earliest instant to wait for after `at` (UTC ms); a loss before `at` is not looked for again."""
        lost = self.lost if self.lost is not None and self.lost > at else None
        return min((due for due in (self.silent, self.broken, lost) if due is not None), default=None)


@dataclass(slots=True)
class ProbeWatch:
    """The memory of one series' arrivals and accepted readings; instants are engine time unless said otherwise.

    Attributes:
        heard_from: From when a probe that was never heard is waited for.
        newest: Newest own time taken, UTC ms.
        arrivals, accepted: The last distinct instants, late readings left out.
        arrived: Last arrival of any kind.
        accepted_at: Last arrival of an accepted reading.
        accepted_time, accepted_milli: The newest accepted reading.
        hot_time: Own time of the newest accepted reading above the limit of *hot and lost*.
        trail: (own time, milli) of accepted readings, thinned, for the direction in which it is heading.
        spacing, accepted_spacing: Median spacings, ms, worked out when asked for (-1: not yet); no snapshot holds them.
        silent, broken, lost: What it counts as.
        ahead: Whether its last word was set aside as from the future.
        outside: Own time of the newest accepted reading that it sent while it lay outside its heap, or None.
    """

    heard_from: int
    newest: int | None = None
    arrivals: list[int] = field(default_factory=list)
    accepted: list[int] = field(default_factory=list)
    arrived: int | None = None
    accepted_at: int | None = None
    accepted_time: int | None = None
    accepted_milli: int | None = None
    hot_time: int | None = None
    trail: list[tuple[int, int]] = field(default_factory=list)
    spacing: Derived = field(default=-1, compare=False)
    accepted_spacing: Derived = field(default=-1, compare=False)
    silent: bool = False
    broken: bool = False
    lost: bool = False
    ahead: bool = False
    outside: int | None = None

    def arrive(self, at: int, late: bool) -> None:
        """Note that something of the probe arrived."""
        self.arrived = at
        if not late and (not self.arrivals or self.arrivals[-1] != at):
            _note(self.arrivals, at)
            self.spacing = -1

    def accept(self, at: int, time: int, milli: int, late: bool, hot_milli: int) -> None:
        """Note an accepted reading.

        Args:
            at: Engine time, UTC ms.
            time: When it was measured, UTC ms.
            milli: The value, thousandths of its unit.
            late: Whether it arrived late.
            hot_milli: The limit of *hot and lost*, thousandths of °C.
        """
        self.accepted_at, self.accepted_time, self.accepted_milli = at, time, milli
        if milli > hot_milli:
            self.hot_time = time
        if not late and (not self.accepted or self.accepted[-1] != at):
            _note(self.accepted, at)
            self.accepted_spacing = -1
        trail = self.trail
        if not trail or time - trail[-1][0] >= TRAIL_STEP_MS:
            trail.append((time, milli))
            while trail[0][0] < time - TRAIL_SPAN_MS:
                del trail[0]

    def trend(self) -> int | None:
        """Return its trend in thousandths of its unit an hour, or None if not known."""
        if self.accepted_time is None or self.accepted_milli is None or not self.trail:
            return None
        time, milli = self.trail[0]
        span = self.accepted_time - time
        return None if span < 30 * MINUTE_MS else (self.accepted_milli - milli) * HOUR_MS // span

    def silent_due(self, limits: ProbeThresholds, minimum: int) -> int:
        """Return the instant at which the probe counts as silent if nothing more arrives."""
        since = self.heard_from if self.arrived is None else max(self.arrived, self.heard_from)
        return since + max(minimum, limits.silent_spacings * self._spacing())

    def old_from(self, limits: ProbeThresholds, minimum: int) -> int:
        """Return the instant from which its newest accepted reading no longer tells of now, whatever is waited for anew."""
        # A reading that came in time may be as old as that when it comes.
        return (self.accepted_time or 0) + limits.late_ms + max(minimum, limits.silent_spacings * self._spacing())

    def broken_due(self, limits: ProbeThresholds, minimum: int) -> int:
        """Return the instant at which the probe counts as broken if no reading is accepted."""
        since = self.heard_from if self.accepted_at is None else max(self.accepted_at, self.heard_from)
        return since + max(minimum, limits.silent_spacings * self._accepted_spacing())

    def lost_due(self, limits: ProbeThresholds, pile: PileThresholds, alive_since: int) -> int | None:
        """Return the instant at which a hot probe counts as hot and lost, or None if it was not hot lately.

        Args:
            limits: The number of spacings to wait for.
            pile: The pile's thresholds.
            alive_since: When its link last came up (UTC ms): silence before that means nothing.
        """
        if self.hot_time is None or self.accepted_time is None or self.arrived is None:
            return None
        if self.hot_time < self.accepted_time - pile.lost_within_ms:
            return None
        wait = max(pile.lost_silence_ms, limits.silent_spacings * self._spacing())
        return max(self.arrived, self.heard_from, alive_since) + wait

    def _spacing(self) -> int:
        if self.spacing < 0:
            self.spacing = median_spacing(self.arrivals)
        return self.spacing

    def _accepted_spacing(self) -> int:
        if self.accepted_spacing < 0:
            self.accepted_spacing = median_spacing(self.accepted)
        return self.accepted_spacing


def _note(instants: list[int], at: int) -> None:
    instants.append(at)
    if len(instants) > _KEPT:
        del instants[0]


def kept_instants(instants: list[int], more: list[int]) -> bool:
    """Note many rising instants as if one by one; return whether any was new."""
    before = len(instants) and instants[-1]
    instants += [at for at in dict.fromkeys(more) if at != before]
    noted = bool(instants) and instants[-1] != before
    del instants[:-_KEPT]
    return noted


def median_spacing(instants: list[int]) -> int:
    """Return the median of the spacings, the lower of the two middle ones where their number is even; 0 if none."""
    if len(instants) < 2:
        return 0
    spacings = sorted(b - a for a, b in pairwise(instants))
    return spacings[(len(spacings) - 1) // 2]
