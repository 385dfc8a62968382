"""Evidence from the other probes of a place, and from ambient, about one probe: did they move, and does it follow ambient.

Rules:

1. A reading at t uses only whole hours that ended at least one hour before the hour of t began. So probes whose
   readings arrive up to an hour apart get the same answers in whatever order they are fed.
2. The answer holds for the whole hour of t; it is worked out at the probe's first reading in it.
3. Without data there is no suspicion: *follows ambient* needs 18 of the 24 hours from each probe it compares (the
   same coverage of 75 % as for ambient elsewhere), and an ambient that moved itself.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Protocol

from monitor.conditioning.record import ProbeRecord, Span
from monitor.model.thresholds import ProbeThresholds
from monitor.model.times import HOUR_MS

LOOK_BACK_HOURS = 48
_COVERAGE_MILLI = 750


class Hours(Protocol):
    """A probe's temperatures by the hour: its record, or in a run of commits the table of its hours."""

    def span(self, first: int, end: int, /) -> Span | None:
        """Return the sum of the hours `first <= hour < end` (hours since 1970), or None if they hold no reading."""


class Evidence(Protocol):
    """Evidence of the other probes about one probe; see `Company`, which works it out."""

    def moved(self, since: int, hour: int, /) -> bool:
        """Return whether ambient or another probe of the place moved while a probe stood still."""

    def follows(self, own: ProbeRecord, hour: int, /) -> bool:
        """Return whether a core probe seems to measure the air."""


@dataclass(slots=True)
class Company:
    """The probes with which one probe is compared; their hours are shared, and change as readings are fed.

    Attributes:
        thresholds: Limits in force.
        ambients: Hours of the ambient temperature probes, without the probe itself.
        peers: Hours of the place's other temperature probes.
        cores: Those of the peers that are core probes.
        consulted: This probe has used hours before this one (hours since 1970), or -1.
    """

    thresholds: ProbeThresholds
    ambients: Sequence[Hours] = ()
    peers: Sequence[Hours] = ()
    cores: Sequence[Hours] = ()
    consulted: int = -1

    def moved(self, since: int, hour: int) -> bool:
        """Return whether ambient or another probe of the place moved while a probe stood still.

        Args:
            since: When it began to stand still, UTC ms; the look back is limited to 48 h.
            hour: Hour of the reading (hours since 1970).
        """
        end = hour - 1
        first = max(-(-since // HOUR_MS), end - LOOK_BACK_HOURS)
        self.consulted = max(self.consulted, end)
        for other in (*self.ambients, *self.peers):
            seen = other.span(first, end)
            if seen is not None and seen.high - seen.low >= self.thresholds.flat_moved_milli_k:
                return True
        return False

    def follows(self, own: Hours, hour: int) -> bool:
        """Return whether a core probe seems to measure the air: swing and mean are like ambient's, and another core is warmer.

        Args:
            own: The probe's hours.
            hour: Hour of the reading (hours since 1970).
        """
        if not self.ambients or not self.cores:
            return False
        end = hour - 1
        length = self.thresholds.ambient_span_ms // HOUR_MS
        first = end - length
        self.consulted = max(self.consulted, end)
        return self._is_air(
            own.span(first, end),
            (other.span(first, end) for other in self.ambients),
            (other.span(first, end) for other in self.cores),
            length,
        )

    def _is_air(
        self, mine: Span | None, airs: Iterable[Span | None], cores: Iterable[Span | None], length: int
    ) -> bool:
        """Return whether a probe's hours look like those of the air.

        Args:
            mine: The probe's hours, or None without any.
            airs: The same hours of each ambient probe.
            cores: The same hours of each other core probe of the place.
            length: Number of hours that the spans could cover.

        Returns:
            True if the probe is like one of the airs and one of the cores is warmer.
        """
        if mine is None or mine.hours * 1000 < length * _COVERAGE_MILLI:
            return False
        if not any(self._alike(mine, air, length) for air in airs):
            return False
        return any(self._warmer(mine, core, length) for core in cores)

    def _alike(self, mine: Span, air: Span | None, length: int) -> bool:
        if air is None or air.hours * 1000 < length * _COVERAGE_MILLI:
            return False
        swing = air.high - air.low
        if swing < self.thresholds.flat_moved_milli_k:
            return False
        if (mine.high - mine.low) * 1000 < swing * self.thresholds.ambient_swing_milli:
            return False
        # Compare the means as fractions, so that nothing is rounded.
        apart = abs(mine.total * air.number - air.total * mine.number)
        return apart <= self.thresholds.ambient_mean_milli_k * mine.number * air.number

    def _warmer(self, mine: Span, other: Span | None, length: int) -> bool:
        if other is None or other.hours * 1000 < length * _COVERAGE_MILLI:
            return False
        warmer = other.total * mine.number - mine.total * other.number
        return warmer >= self.thresholds.ambient_warmer_milli_k * mine.number * other.number
