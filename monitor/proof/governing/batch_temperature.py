"""The temperatures of a batch as those kinds of a rule want them that sets of instants cannot serve.

A course holds the accepted readings and how they are judged together. Nothing is worked out before it is asked for.
On basis each it can be asked for one probe only (`of`).
"""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from monitor.proof.governing.line_integrals import SCALE, Integral, first_start, governing_line, highest, with_hoped
from monitor.proof.holdset import HoldBasis, HoldSet, hold_set
from monitor.proof.intervals import Intervals, cut
from monitor.proof.rules import Limits, Mean
from monitor.proof.temperature import Series

_NOWHERE = Limits(low_milli_c=1_000_000)
_STRETCH = 4
"""Spans whose beginnings are looked at in one go."""


class Course:
    """Accepted readings of the core probes of one batch."""

    def __init__(
        self,
        series: Sequence[Series],
        *,
        max_gap_ms: int,
        basis: HoldBasis = HoldBasis.COLDEST,
        guard_milli_k: int = 0,
    ) -> None:
        """Keep the readings; nothing is worked out yet.

        Args:
            series: Accepted readings of each core probe.
            max_gap_ms: Longest distance between two readings across which a line is drawn, ms.
            basis: How the probes are judged together.
            guard_milli_k: Guard band by which limits and means are drawn in, thousandths of a kelvin.
        """
        self._series = tuple(series)
        self._max_gap_ms = max_gap_ms
        self._basis = basis
        self._guard_milli_k = guard_milli_k

    def of(self, probe: str) -> "Course":
        """Return the course of one probe by itself."""
        own = [one for one in self._series if one.probe == probe]
        return Course(own, max_gap_ms=self._max_gap_ms, guard_milli_k=self._guard_milli_k)

    def between(self, start: int, end: int) -> "Course":
        """Return a course that tells the same from `start` to `end`, and nothing reliable beyond."""
        kept = []
        for one in self._series:
            first = max(int(np.searchsorted(one.times, start, "right")) - 1, 0)
            last = int(np.searchsorted(one.times, end, "left")) + 1
            kept.append(replace(one, times=one.times[first:last], milli_c=one.milli_c[first:last]))
        return Course(kept, max_gap_ms=self._max_gap_ms, basis=self._basis, guard_milli_k=self._guard_milli_k)

    def hold(self, limits: Limits) -> Intervals:
        """Return when the batch is within limits (drawn in by the guard band)."""
        return self._sets(limits.guarded(self._guard_milli_k)).hold

    def first_mean(self, starts: Intervals, span_ms: int, mean: Mean, hoped: Intervals = ()) -> int | None:
        """Return the first of the starts from which the mean over the span is high enough, or None.

        Args:
            starts: Where the span may begin; all of it must be known (or hoped) from each.
            span_ms: Length of the span, ms.
            mean: What is wanted.
            hoped: Time taken to be just warm enough.

        Returns:
            The start, UTC ms, or None.
        """
        for first, last in starts:
            # A stretch of the record at a time: the first start is often found early.
            for begin in range(first, last + 1, _STRETCH * span_ms):
                finish = min(begin + _STRETCH * span_ms - 1, last)
                ahead = self.between(begin, finish + span_ms)
                integral = ahead.integral(span_ms, mean, cut(hoped, begin, finish + span_ms))
                found = first_start(integral, ((begin, finish),), strict=mean.strict)
                if found is not None:
                    return found
        return None

    def highest_mean(self, starts: Intervals, span_ms: int, mean: Mean) -> int | None:
        """Return about how high the mean over a span gets; for words only.

        Args:
            starts: Where the span may begin; all of it must be known from each.
            span_ms: Length of the span, ms.
            mean: What is wanted.

        Returns:
            Thousandths of a degree Celsius, rounded down, or None where no span is known.
        """
        if not starts:
            return None
        found = highest(self.integral(span_ms, mean, ()), starts)
        return None if found is None else mean.low_milli_c + self._guard_milli_k + int(found // (2 * SCALE * span_ms))

    def service(self, probe: str) -> Intervals:
        """Return when a probe was in service."""
        return next((one.service for one in self._series if one.probe == probe), ())

    def next_value(self, probe: str, at: int) -> int | None:
        """Return a probe's first reading after an instant, thousandths of a degree Celsius, or None."""
        for one in self._series:
            if one.probe == probe:
                place = int(np.searchsorted(one.times, at, "right"))
                return int(one.milli_c[place]) if place < one.times.size else None
        return None

    def next_time(self, probe: str, at: int) -> int | None:
        """Return when a probe was read first after an instant, UTC ms, or None."""
        for one in self._series:
            if one.probe == probe:
                place = int(np.searchsorted(one.times, at, "right"))
                return int(one.times[place]) if place < one.times.size else None
        return None

    @property
    def max_gap_ms(self) -> int:
        """Longest distance between two readings across which a line is drawn, ms."""
        return self._max_gap_ms

    @property
    def guard_milli_k(self) -> int:
        """The guard band, thousandths of a kelvin."""
        return self._guard_milli_k

    def _sets(self, limits: Limits) -> HoldSet:
        return hold_set(self._series, limits, max_gap_ms=self._max_gap_ms, basis=self._basis)

    def integral(self, span_ms: int, mean: Mean, hoped: Intervals) -> Integral:
        """Return the integral of the governing line, less the mean that is wanted, over spans of one length.

        Args:
            span_ms: Length of the spans, ms.
            mean: The mean that is wanted; the guard band is added to it.
            hoped: Time that is taken to be just warm enough.

        Returns:
            The integral, which can be asked for any start.
        """
        base = mean.low_milli_c + self._guard_milli_k
        coldest = self._basis is not HoldBasis.MEAN
        line = governing_line(self._series, self._sets(_NOWHERE).proven, base, coldest=coldest)
        return Integral(with_hoped(line, hoped, 1 if mean.strict else 0), span_ms)
