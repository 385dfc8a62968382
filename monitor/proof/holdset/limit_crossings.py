"""The exact times in which the temperature of one probe was within a rule's limits.

Only the few lines that pass a limit are worked out; a pass over the values finds them. The ends of a hold are the
exact crossings, rounded inward to the millisecond. All arithmetic is on integers.
"""

from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from monitor.model.crossings import first_above, first_at_or_above, last_above, last_at_or_above
from monitor.proof.intervals import EMPTY, Column, Spans, in_order
from monitor.proof.rules import Limits
from monitor.proof.temperature import Series, Stretches, between_drawn, chunks

_SAFE = 2**62
"""Products below this cannot overflow 64 bits when a time is added."""


def within(known: Stretches, limits: Limits) -> Spans:
    """Return the instants at which one probe is proven and within the limits."""
    if limits.hopeless or not known.first.size:
        return EMPTY
    times, values = known.series.times, known.series.milli_c
    begins = known.first[zone(values[known.first], limits) == 0]
    finishes = known.last[zone(values[known.last], limits) == 0]
    place, was, now = _changes(known, limits)
    enter, leave = place[was < 0], place[now < 0]
    starts = [
        times[begins],
        _at(first_above if limits.strict else first_at_or_above, known.series, enter, limits.low_milli_c, 1),
    ]
    ends = [
        times[finishes],
        _at(last_above if limits.strict else last_at_or_above, known.series, leave, limits.low_milli_c, 1),
    ]
    if limits.high_milli_c is not None:
        # "At or below the upper limit" is "at or above" with every sign turned round.
        starts.append(_at(first_at_or_above, known.series, place[was > 0], limits.high_milli_c, -1))
        ends.append(_at(last_at_or_above, known.series, place[now > 0], limits.high_milli_c, -1))
    # Intervals neither overlap nor nest, so the n-th start in order belongs to the n-th end.
    begin, finish = in_order(*starts), in_order(*ends)
    if limits.high_milli_c is not None:
        # A line from beyond one limit to beyond the other may pass through between two whole milliseconds.
        kept = begin <= finish
        begin, finish = begin[kept], finish[kept]
    return Spans(begin, finish)


def zone(values: Column, limits: Limits) -> NDArray[np.int8]:
    """Return -1 for a value below the limits, 0 within, 1 above."""
    below = values <= limits.low_milli_c if limits.strict else values < limits.low_milli_c
    if limits.high_milli_c is None:
        return -below.view(np.int8)
    return (values > limits.high_milli_c).view(np.int8) - below.view(np.int8)


def _changes(known: Stretches, limits: Limits) -> tuple[NDArray[np.intp], NDArray[np.int8], NDArray[np.int8]]:
    """Return the places from which a line is drawn to another zone, and the zones at both of its ends."""
    values = known.series.milli_c
    places, zones = [np.empty(0, dtype=np.intp)], [np.empty((2, 0), dtype=np.int8)]
    for part in chunks(values.size, overlap=1):
        here = zone(values[part], limits)
        place = np.flatnonzero(here[1:] != here[:-1])
        if place.size:
            zones.append(np.stack((here[place], here[place + 1])))
            place += part.start
            places.append(place)
    place, both = np.concatenate(places), np.concatenate(zones, axis=1)
    drawn = between_drawn(place, known.first, known.last)
    return (place, both[0], both[1]) if drawn is None else (place[drawn], both[0][drawn], both[1][drawn])


def _at(crossing: Callable[..., Any], one: Series, place: NDArray[np.intp], limit: int, sign: int) -> Column:
    """Return when the lines that start at some places cross a limit."""
    if not place.size:
        return np.empty(0, dtype=np.int64)
    after = place + 1
    start, value, end, value_then = one.times[place], one.milli_c[place], one.times[after], one.milli_c[after]
    longest = int(np.max(end - start))
    widest = _highest(value) + _highest(value_then) + abs(limit)
    if longest * widest >= _SAFE:
        # Python's own integers: slower, never too small.
        start, value, end, value_then = (column.astype(object) for column in (start, value, end, value_then))
    if sign < 0:
        value, value_then = -value, -value_then
    found: Column = np.asarray(crossing(start, value, end, value_then, sign * limit), dtype=np.int64)
    return found


def _highest(values: Column) -> int:
    """Return the greatest absolute value."""
    return max(-int(np.min(values)), int(np.max(values)))
