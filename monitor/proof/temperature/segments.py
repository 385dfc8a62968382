"""The accepted readings of a probe, and between which of them a straight line is drawn.

Rules this module keeps (design, the rule evaluation):

1. Between two consecutive accepted readings of one probe at most `max_gap` apart, temperature is the straight line
   between them; a longer gap is unproven. Nothing is assumed before the first reading or after the last.
2. No line is drawn across a time in which the probe was out: a probe pulled out and put back says nothing of between.
   Nor across a reading that was made and cannot be read: it might have been anything.

Long arrays are walked through in pieces that fit the processor's cache; every element is looked at once.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from monitor.proof.intervals import FAR_AHEAD_MS, LONG_AGO_MS, Intervals, Spans, normal

ALWAYS: Intervals = ((LONG_AGO_MS, FAR_AHEAD_MS),)
"""In service all the time."""

CHUNK = 1 << 15
"""Elements looked at in one go: with what is worked out from them they fit the second-level cache."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Series:
    """The accepted readings of one core probe.

    Attributes:
        probe: The probe's id.
        times: UTC ms, strictly rising, 64-bit integers.
        milli_c: Thousandths of a degree Celsius, one for each time, 64-bit integers.
        service: When the probe was in, from each `probe in` to its `probe out`, which is not included; readings outside it
            are left out.
        max_gap_ms: The longest gap that its line crosses, where that is another than the record's (rounds by hand).
        unread: When it was read, too, by rows that nobody can read, UTC ms, in order: no line is drawn across them.
    """

    probe: str
    times: NDArray[np.int64]
    milli_c: NDArray[np.int64]
    service: Intervals = ALWAYS
    max_gap_ms: int | None = None
    unread: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Stretches:
    """Runs of readings of one probe, each joined by straight lines.

    Attributes:
        series: The readings.
        first, last: Place of the first and the last reading of each stretch, in order; a stretch may be one reading.
    """

    series: Series
    first: NDArray[np.intp]
    last: NDArray[np.intp]

    @property
    def proven(self) -> Spans:
        """The times in which the probe's temperature is known."""
        return Spans(self.series.times[self.first], self.series.times[self.last])


def chunks(count: int, overlap: int = 0) -> Iterator[slice]:
    """Cut so many elements into pieces for the cache; each but the last reaches `overlap` elements into the next."""
    for start in range(0, count - overlap, CHUNK):
        yield slice(start, min(start + CHUNK + overlap, count))


def stretches(one: Series, max_gap_ms: int) -> Stretches:
    """Return between which readings of a probe a line is drawn.

    Args:
        one: The readings.
        max_gap_ms: Longest distance between two readings across which a line is drawn, ms, unless they have their own.

    Raises:
        ValueError: Readings are out of order, or there are not as many times as values.
    """
    times = one.times
    if times.shape != one.milli_c.shape:
        raise ValueError(f"probe {one.probe}: {times.size} times but {one.milli_c.size} values")
    gaps = _gaps(one, max_gap_ms if one.max_gap_ms is None else one.max_gap_ms)
    first: list[NDArray[np.intp]] = []
    last: list[NDArray[np.intp]] = []
    for start, end in _apart(one.service):
        begin = np.searchsorted(times, start, "left")
        finish = np.searchsorted(times, end, "left") - 1
        if begin <= finish:
            inner = gaps[np.searchsorted(gaps, begin, "left") : np.searchsorted(gaps, finish, "left")]
            first.append(np.concatenate(([begin], inner + 1)))
            last.append(np.concatenate((inner, [finish])))
    none = np.empty(0, dtype=np.intp)
    return Stretches(one, np.concatenate([none, *first]), np.concatenate([none, *last]))


def _apart(service: Intervals) -> Intervals:
    """Return times in service as a probe had them: one that begins at the instant at which another ended stays its own."""
    spans = sorted(service)
    return tuple(spans) if all(one[1] <= other[0] for one, other in pairwise(spans)) else normal(spans)


def _gaps(one: Series, max_gap_ms: int) -> NDArray[np.intp]:
    """Return the places of readings that are too far from the next."""
    found: list[NDArray[np.intp]] = []
    for part in chunks(one.times.size, overlap=1):
        times = one.times[part]
        apart = times[1:] - times[:-1]
        if int(apart.min()) <= 0:
            raise ValueError(f"probe {one.probe}: its readings are not in strictly rising order of time")
        if int(apart.max()) > max_gap_ms:
            found.append(np.flatnonzero(apart > max_gap_ms) + part.start)
    gaps = np.concatenate(found) if found else np.empty(0, dtype=np.intp)
    return np.union1d(gaps, _across(one)) if one.unread else gaps


def _across(one: Series) -> NDArray[np.intp]:
    """Return the places of readings whose line to the next would touch a reading that nobody can read."""
    unread = np.array(one.unread, dtype=np.int64)
    places = (
        np.concatenate((np.searchsorted(one.times, unread, "left"), np.searchsorted(one.times, unread, "right"))) - 1
    )
    return np.unique(places[(places >= 0) & (places < one.times.size - 1)])


def between_drawn(place: NDArray[np.intp], first: NDArray[np.intp], last: NDArray[np.intp]) -> NDArray[np.bool_] | None:
    """Tell of some places whether a line is drawn from each of them to the next.

    Args:
        place: Places of readings, in order.
        first: Place of the first reading of each stretch.
        last: Place of its last one.

    Returns:
        A flag for each place; None where a line is drawn from all of them.
    """
    begin = np.searchsorted(place, first, "left")
    finish = np.searchsorted(place, last, "left")
    if int(np.sum(finish - begin)) == place.size:
        return None
    return covered(place.size, begin, finish)


def covered(count: int, begin: NDArray[np.intp], finish: NDArray[np.intp]) -> NDArray[np.bool_]:
    """Tell which places lie in any of some ranges.

    Args:
        count: How many places there are.
        begin: The first place of each range.
        finish: The first place behind each range.

    Returns:
        A flag for each place.
    """
    steps = np.zeros(count + 1, dtype=np.int64)
    np.add.at(steps, begin, 1)
    np.add.at(steps, np.maximum(begin, finish), -1)
    return np.cumsum(steps[:-1]) > 0
