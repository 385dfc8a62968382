"""Temperatures by the hour as arrays, and the evidence in them about a probe: did others move, does it follow ambient.

`Company` says what the hours show, of a table as of a record; here only the hours are found of which it is worth asking.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from monitor.conditioning.company import Company
from monitor.conditioning.record import HOURS_KEPT, ProbeRecord, Span
from monitor.model.thresholds import ProbeThresholds
from monitor.model.times import HOUR_MS

Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]
Hour = tuple[int, int, int, int, int]
"""(hour since 1970, low, high, total, count)."""

_HIGH = 1 << 40
"""Beyond every value in thousandths; a thousandfold of it is still a number of 64 bits."""


@dataclass(slots=True)
class HourTable:
    """One probe's hours in order: (hour, low, high, total, count) as columns, those before the run first."""

    columns: Ints = field(default_factory=lambda: np.zeros((5, 0), np.int64))
    _spans: dict[tuple[int, int, int], Ints] = field(default_factory=dict)

    @classmethod
    def made(cls, record: ProbeRecord, time: Ints, milli: Ints) -> "HourTable":
        """Make the table of a record and the readings noted after it.

        Args:
            record: The record before the readings.
            time: Their own times, UTC ms, rising.
            milli: Their values, thousandths; as many.

        Returns:
            The table; the record's unfinished hour is joined with the readings of the same hour.
        """
        before = list(record.hours)
        if record.count:
            before.append((record.hour, record.low, record.high, record.total, record.count))
        known = np.array(before, dtype=np.int64).reshape(-1, 5).T
        if not len(time):
            return cls(known)
        found = _by_hour(time, milli)
        if known.shape[1] and found[0, 0] == known[0, -1]:
            found[1, 0] = min(found[1, 0], known[1, -1])
            found[2, 0] = max(found[2, 0], known[2, -1])
            found[3:, 0] += known[3:, -1]
            known = known[:, :-1]
        return cls(np.concatenate((known, found), axis=1))

    def span(self, first: int, end: int) -> Span | None:
        """Return the sum of the hours `first <= hour < end`, or None if they hold no reading."""
        start, stop = np.searchsorted(self.columns[0], (first, end))
        if start == stop:
            return None
        part = self.columns[:, start:stop]
        return Span(
            int(part[1].min()), int(part[2].max()), int(part[3].sum()), int(part[4].sum()), int(stop - start)
        )  # fmt: skip

    def spans(self, ends: Ints, length: int) -> Ints:
        """Return the low and the high of the `length` hours before each end, as columns; ends are consecutive.

        Without a reading in these hours the low lies far above the high.
        """
        # Keep the result, because every neighbour of a probe asks for the same hours.
        key = int(ends[0]), int(ends[-1]), length
        if key not in self._spans:
            self._spans[key] = self._worked_out(ends, length)
        return self._spans[key]

    def _worked_out(self, ends: Ints, length: int) -> Ints:
        least, last = int(ends[0]) - length, int(ends[-1])
        dense = np.empty((2, last - least), dtype=np.int64)
        dense[0], dense[1] = _HIGH, -_HIGH
        start, stop = np.searchsorted(self.columns[0], (least, last))
        where = self.columns[0, start:stop] - least
        dense[:, where] = self.columns[1:3, start:stop]
        views = np.lib.stride_tricks.sliding_window_view(dense, length, axis=1)
        return np.stack((views[0].min(axis=1), views[1].max(axis=1)))

    def kept(self, record: ProbeRecord, time: Ints, milli: Ints) -> tuple[list[Hour], Hour]:
        """Work out a record's hours after some noted readings, in the order in which they came.

        Args:
            record: The record before the readings.
            time: Their own times, UTC ms.
            milli: Their values, thousandths.

        Returns:
            The finished hours, and the hour being filled.
        """
        if not len(time):
            return list(record.hours), (record.hour, record.low, record.high, record.total, record.count)
        hour = int(time[-1]) // HOUR_MS
        first = int(np.searchsorted(time, hour * HOUR_MS))
        part = milli[first:]
        low, high, total, count = int(part.min()), int(part.max()), int(part.sum()), len(part)
        if record.count and record.hour == hour:
            low, high = min(low, record.low), max(high, record.high)
            return list(record.hours), (hour, low, high, total + record.total, count + record.count)
        start, stop = np.searchsorted(self.columns[0], (hour - HOURS_KEPT, hour))
        kept = [tuple(one) for one in self.columns[:, start:stop].T.tolist()]
        return kept, (hour, low, high, total, count)


def _by_hour(time: Ints, milli: Ints) -> Ints:
    hour = time // HOUR_MS
    starts = np.concatenate(([0], np.flatnonzero(hour[1:] != hour[:-1]) + 1))
    found = np.empty((5, len(starts)), dtype=np.int64)
    found[0] = hour[starts]
    found[1] = np.minimum.reduceat(milli, starts)
    found[2] = np.maximum.reduceat(milli, starts)
    found[3] = np.add.reduceat(milli, starts)
    found[4] = np.diff(np.concatenate((starts, [len(milli)])))
    return found


@dataclass(slots=True)
class Asked:
    """The evidence about a probe while the ordinary step runs; `index` is the reading that asks. Implements `Evidence`."""

    name: str
    answers: "Answers"
    index: int = 0

    def moved(self, since: int, hour: int) -> bool:
        """See `Company.moved`."""
        known = self.answers.asked.setdefault(self.name, {})
        if (since, hour) not in known:
            known[since, hour] = (self.index, self.answers.company(self.name).moved(since, hour))
        return known[since, hour][1]

    def follows(self, own: ProbeRecord, hour: int) -> bool:
        """See `Company.follows`."""
        del own
        return hour in self.answers.follows.get(self.name, ())


class Answers:
    """The evidence of the tables about each probe.

    Attributes:
        tables: By probe.
        around: By probe, its (ambients, peers, cores), without itself.
        follows: By probe, the hours in which it seems to follow ambient.
        asked: By probe, the questions about standing still: (since, hour) to (index of the first reading, answer).
    """

    def __init__(
        self, thresholds: ProbeThresholds, around: Mapping[str, tuple[list[str], list[str], list[str]]]
    ) -> None:
        self.thresholds = thresholds
        self.around = around
        self.tables: dict[str, HourTable] = {}
        self.follows: dict[str, frozenset[int]] = {}
        self.asked: dict[str, dict[tuple[int, int], tuple[int, bool]]] = {}

    def company(self, name: str) -> Company:
        """Return the probes with which a probe is compared, with their hours as the tables have them now."""
        ambients, peers, cores = self.around[name]
        return Company(self.thresholds, self._tables(ambients), self._tables(peers), self._tables(cores))

    def _tables(self, names: Iterable[str]) -> list[HourTable]:
        return [self.tables[one] for one in names if one in self.tables]

    def look(self, name: str, hours: Ints) -> frozenset[int]:
        """Return those of some hours (rising, maybe with gaps) in which a core probe seems to follow ambient."""
        ambients, _, cores = self.around[name]
        airs, others = self._tables(ambients), self._tables(cores)
        if not airs or not others:
            return frozenset()
        length = self.thresholds.ambient_span_ms // HOUR_MS
        ends = np.arange(int(hours[0]) - 1, int(hours[-1]))
        mine = self.tables[name].spans(ends, length)
        maybe = np.zeros(len(ends), dtype=np.bool_)
        # First a cheap test that a probe in its heap hardly ever passes: another core probe was warmer at some time.
        for one in others:
            other = one.spans(ends, length)
            maybe |= other[1] > mine[0]  # without a reading neither is
        if not maybe.any():
            return frozenset()
        alike = np.zeros(len(ends), dtype=np.bool_)
        for air in airs:
            alike |= _alike(mine, air.spans(ends, length), self.thresholds)
        asked = np.intersect1d(ends[maybe & alike] + 1, hours, assume_unique=True).tolist()
        own, company = self.tables[name], self.company(name)
        return frozenset(hour for hour in asked if company.follows(own, hour))


def _alike(mine: Ints, air: Ints, thresholds: ProbeThresholds) -> Bools:
    """Tell in which hours a swing may be like ambient's; the exact test follows for each of these."""
    swing = air[1] - air[0]
    moved = swing >= thresholds.flat_moved_milli_k
    alike: Bools = moved & ((mine[1] - mine[0]) * 1000 >= swing * thresholds.ambient_swing_milli)
    return alike


__all__ = ["Answers", "Asked", "Hour", "HourTable"]
