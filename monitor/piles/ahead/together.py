"""Finds the changes of one probe's level that leave the joint signals of the batch's probes unchanged.

Rules:

1. Of all levels, `Signals` depend only on the lowest and the highest, and of these only on some (`Marks.of_coldest`,
   `Marks.of_hottest`).
2. A change of level has no effect if, from the reading before it to the reading that brings it, some other
   probe is never warmer than the colder of the two, and some other probe is never colder than the warmer of the two; or if
   that side of it means nothing by rule 1. The levels between two readings of a probe lie between theirs.
3. This holds while every probe concerned is known: from the instant at which all are, up to a gap.
4. For moving limits, too, only the hottest probe's side counts (`Moving.above_ready`, `Moving.reheated`).
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from monitor.piles.ahead.line_ahead import LineAhead
from monitor.piles.signals import Marks
from monitor.piles.state import Stir, WalkState
from monitor.piles.walk import Walk

Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]


def find_telling(lines: Sequence[LineAhead], marks: Marks) -> None:
    """Set `telling` of the lines of one batch: those of their readings that may change more than the line."""
    colds = [np.searchsorted(marks.of_coldest, one.levels, side="right") for one in lines]
    hots = [np.searchsorted(marks.of_hottest, one.levels, side="right") for one in lines]
    for number, one in enumerate(lines):
        at = one.passing
        if not len(at):
            continue
        cold, hot = colds[number], hots[number]
        coldest, hottest = np.minimum(cold[at - 1], cold[at]), np.maximum(hot[at - 1], hot[at])
        below, above = cold[at - 1] == cold[at], hot[at - 1] == hot[at]
        for other, its_cold, its_hot in zip(lines, colds, hots, strict=True):
            if other is not one:
                there, pairs = _during(other, one.time[at - 1], one.time[at])
                below |= there & (_over(np.maximum, its_cold, pairs) <= coldest)
                above |= there & (_over(np.minimum, its_hot, pairs) >= hottest)
        one.telling = np.union1d(one.breaks, at[~(below & above)])


def all_known(state: WalkState, lines: Sequence[LineAhead]) -> bool:
    """Return whether the batch's probes are known at the instant that the walk has reached, and stay known."""
    mine = [one.line for one in lines]
    return all(line is not None and line.walk_level >= 0 and not line.walk_long for line in mine) and not any(
        stir in (Stir.SERVICE, Stir.LONG) or (stir == Stir.LEVEL and value < 0) for _, stir, _, value in state.pending
    )


def sides_stay(walk: Walk, lines: Sequence[LineAhead], taken: Sequence[int]) -> bool:
    """Return whether the hottest probe stays on its side of each moving limit to the end of the limits' hour.

    Args:
        walk: The batch's walk; its probes are all known.
        lines: Its core probes' readings to come.
        taken: Number of readings of each that were taken in.

    Returns:
        True without moving limits; False if a probe's readings in the hour are unknown.
    """
    hour, cuts = walk.state.moving.hour, walk.parts[1].cuts
    if hour is None or cuts is None:
        return True
    spans = [one.span(start, hour) for one, start in zip(lines, taken, strict=True)]
    known = [span for span in spans if span is not None]
    if len(known) < len(spans):
        return False
    # The hottest lies between the highest of the probes' lows and the highest of their highs throughout the hour.
    surely, maybe = max(low for low, _ in known), max(high for _, high in known)
    return cuts.level(surely) == cuts.level(maybe)


def _during(other: LineAhead, begin: Ints, end: Ints) -> tuple[Bools, Ints]:
    """Return whether a probe is known all through some spans, and pairs (first, behind the last) of its readings for each."""
    first = other.time.searchsorted(begin, side="right") - 1
    last = other.time.searchsorted(end)
    there = (first >= 0) & (last < len(other.time))
    first, last = np.where(there, first, 0), np.where(there, last, 0)
    # A break at the first reading marks a gap before it, hence before the span.
    there &= other.breaks.searchsorted(first, side="right") == other.breaks.searchsorted(last, side="right")
    return there, np.stack((first, last + 1), axis=1).ravel()


def _over(whole: np.ufunc, values: Ints, pairs: Ints) -> Ints:
    """Return the least or the greatest of the values in each pair's span."""
    found: Ints = whole.reduceat(np.append(values, 0), pairs)[::2]
    return found
