"""What the other probes of a place, and ambient, say about one probe: did they move, and does it follow ambient.

Rules:

1. A reading at t looks only at whole hours that ended at least one hour before the hour of t began. So probes whose
   readings arrive up to an hour apart get the same answers in whatever order they are fed.
2. The answer holds for the whole hour of t; it is worked out at the probe's first reading in it.
3. Without data there is no suspicion: *follows ambient* needs 18 of the 24 hours from each probe it compares (the
   coverage of 75 % that the design asks of ambient elsewhere), and an ambient that moved itself.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from monitor.conditioning.record import ProbeRecord, Span, span
from monitor.model.thresholds import ProbeThresholds
from monitor.model.times import HOUR_MS

LOOK_BACK_HOURS = 48
_COVERAGE_MILLI = 750


@dataclass(slots=True)
class Company:
    """The records that one probe is held against; they are shared, and change as readings are fed.

    Attributes:
        thresholds: Limits in force.
        ambients: Records of the ambient temperature probes, itself left out.
        peers: Records of the place's other temperature probes.
        cores: Those of the peers that are core probes.
        consulted: Hours before this one have been looked at by this probe (hours since 1970), or -1.
    """

    thresholds: ProbeThresholds
    ambients: Sequence[ProbeRecord] = ()
    peers: Sequence[ProbeRecord] = ()
    cores: Sequence[ProbeRecord] = ()
    consulted: int = -1

    def moved(self, since: int, hour: int) -> bool:
        """Tell whether ambient or another probe of the place moved while a probe stood still.

        Args:
            since: When it began to stand still, UTC ms; at most 48 h are looked back.
            hour: Hour of the reading (hours since 1970).
        """
        end = hour - 1
        first = max(-(-since // HOUR_MS), end - LOOK_BACK_HOURS)
        self.consulted = max(self.consulted, end)
        for record in (*self.ambients, *self.peers):
            seen = span(record, first, end)
            if seen is not None and seen.high - seen.low >= self.thresholds.flat_moved_milli_k:
                return True
        return False

    def follows(self, own: ProbeRecord, hour: int) -> bool:
        """Tell whether a core probe seems to measure the air: it swings like ambient, lies on it, and another is warm.

        Args:
            own: The probe's record.
            hour: Hour of the reading (hours since 1970).
        """
        if not self.ambients or not self.cores:
            return False
        end = hour - 1
        length = self.thresholds.ambient_span_ms // HOUR_MS
        first = end - length
        self.consulted = max(self.consulted, end)
        return self.is_air(
            span(own, first, end),
            (span(record, first, end) for record in self.ambients),
            (span(record, first, end) for record in self.cores),
            length,
        )

    def is_air(self, mine: Span | None, airs: Iterable[Span | None], cores: Iterable[Span | None], length: int) -> bool:
        """Tell whether what a probe read over `length` hours is like one of the airs, and one of the cores is warmer."""
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
        # means compared as fractions, so that nothing is rounded
        apart = abs(mine.total * air.number - air.total * mine.number)
        return apart <= self.thresholds.ambient_mean_milli_k * mine.number * air.number

    def _warmer(self, mine: Span, other: Span | None, length: int) -> bool:
        if other is None or other.hours * 1000 < length * _COVERAGE_MILLI:
            return False
        warmer = other.total * mine.number - mine.total * other.number
        return warmer >= self.thresholds.ambient_warmer_milli_k * mine.number * other.number
