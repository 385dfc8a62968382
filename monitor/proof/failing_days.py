"""Which days of a long record plainly fail, so that a walk from day to day need not stop at each of them.

Near a limit a noisy record has a hold instant every few seconds, and from each a day could be tried (`days`). Most of
them plainly fail: there is a bad instant in them, and enough of them is known. All are looked at together here.
"""

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from monitor.proof.interval_arrays import Column, as_spans, difference, lasted
from monitor.proof.intervals import Intervals
from monitor.proof.kinds import Days
from monitor.proof.spans import Spans
from monitor.proof.stretches import covered


def first_worth_trying(
    part: Days, hold: Intervals, bad: Intervals, known: Intervals, end: int
) -> Callable[[int | None], int | None]:
    """Return what leads from the first hold instant after a failed day to the first that starts a day worth trying.

    From there on `days` goes on as it would have come there by itself: a day that plainly fails is followed by the
    first hold instant after its first bad one, whatever else is so.

    Args:
        part: What is wanted.
        hold: When the batch was within the limits.
        bad: When it was proven, outside recovery and not within them.
        known: Both together.
        end: Where the record ends, UTC ms.
    """
    starts, wrong = as_spans(hold).starts, as_spans(bad)
    if not len(wrong):
        return lambda at: at
    stops = np.minimum(starts + part.day_ms, end)
    place = np.searchsorted(wrong.ends, starts, "left")
    # A bad time that ends just where the day starts belongs to the day before, unless it is a single instant.
    here = np.minimum(place, len(wrong) - 1)
    place += (place < len(wrong)) & (wrong.ends[here] == starts) & (wrong.starts[here] < starts)
    there = place < len(wrong)
    first_bad = wrong.starts[np.minimum(place, len(wrong) - 1)]
    enough = _enough(part, starts, stops, as_spans(known), end)
    plain = there & (first_bad < stops) & enough
    following = np.searchsorted(starts, np.maximum(first_bad, starts), "right")
    # Only where a failed day leads to does a walk ever stop.
    led_to = np.zeros(starts.size + 1, dtype=np.bool_)
    led_to[following[there]] = True
    worth = np.flatnonzero(led_to[:-1] & ~plain)

    def skip(at: int | None) -> int | None:
        if at is None:
            return None
        number = int(np.searchsorted(worth, np.searchsorted(starts, at, "left"), "left"))
        return int(starts[worth[number]]) if number < worth.size else None

    return skip


def _enough(part: Days, starts: Column, stops: Column, known: Spans, end: int) -> NDArray[np.bool_]:
    """Tell of each day whether enough of it is known."""
    # Only days with a time in them that is not known, or cut by the record's end, are worked out.
    unknown = difference(as_spans([(int(starts[0]), end)]), known)
    begin = np.searchsorted(starts, unknown.starts - part.day_ms, "right")
    finish = np.searchsorted(starts, unknown.ends, "left")
    doubtful = covered(starts.size, begin, finish) | (starts > end - part.day_ms)
    enough = np.ones(starts.shape, dtype=np.bool_)
    first, last = starts[doubtful], stops[doubtful]
    enough[doubtful] = _until(known, last) - _until(known, first) >= part.least_ms
    return enough


def _until(one: Spans, at: Column) -> Column:
    """Return how long a set lasts up to each of some instants, ms."""
    place = np.searchsorted(one.starts, at, "right") - 1
    inside = np.maximum(place, 0)
    sums: Column = np.where(place < 0, 0, lasted(one)[inside] + np.minimum(at, one.ends[inside]) - one.starts[inside])
    return sums
