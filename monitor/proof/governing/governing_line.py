"""The one line that governs a batch: its coldest (or hottest) probe, or the mean of its probes, for plots and tables.

Rules this module keeps:

1. There is a line wherever the batch is proven by the basis, and only there. A new piece starts after each gap, and
   where a probe comes or goes: there the coldest may jump, so one piece may start at the instant at which another ended.
2. Its points are the readings of all probes in service, the ends of what is proven, and both whole milliseconds around
   each instant at which another probe becomes the coldest. Each value is rounded once, half-even, to the thousandth;
   between its points the line is off by less than one thousandth.
3. On basis each it is the coldest, where every probe is proven by itself.

Verdicts never come from this line: hold sets are worked out from the readings themselves.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from monitor.proof.holdset import HoldBasis, proven_together
from monitor.proof.intervals import Column, distinct
from monitor.proof.temperature import Bundle, Series, bundles, mean_values, places_at, stretches, values_at, walk


@dataclass(frozen=True, slots=True, eq=False)
class LinePiece:
    """An unbroken piece of a line, straight between its points.

    Attributes:
        times: UTC ms, strictly rising, one at least.
        milli_c: Thousandths of a degree Celsius at each of them.
    """

    times: Column
    milli_c: Column


def governing(
    series: Sequence[Series], *, max_gap_ms: int, basis: HoldBasis = HoldBasis.COLDEST, hottest: bool = False
) -> tuple[LinePiece, ...]:
    """Return the governing line of a batch.

    Args:
        series: Accepted readings of each core probe.
        max_gap_ms: Longest distance between two readings across which a line is drawn, ms.
        basis: How the probes are judged together.
        hottest: Return the hottest instead of the coldest (it makes no difference to a mean).

    Returns:
        Its pieces, in order of their starts; nothing where nothing is proven.

    Raises:
        ValueError: As `hold_set`.
    """
    known = [stretches(one, max_gap_ms) for one in series]
    pieces: list[LinePiece] = []
    for bundle in bundles(known, proven_together(known, basis)):
        pieces.extend(_pieces(bundle, mean=basis is HoldBasis.MEAN, hottest=hottest))
    return tuple(sorted(pieces, key=lambda piece: (int(piece.times[0]), int(piece.times[-1]))))


def _pieces(bundle: Bundle, *, mean: bool, hottest: bool) -> Iterator[LinePiece]:
    """Return the line of one bundle, cut where it is not proven."""
    found_times, found_values = [], []
    before: tuple[Column, NDArray[np.int64]] | None = None
    for knots in walk(bundle):
        if mean:
            found_times.append(knots.times)
            found_values.append(mean_values(bundle.series, knots))
            continue
        times, table = knots.times, values_at(bundle.series, knots.times, knots.places) * (-1 if hottest else 1)
        if before is not None:
            # A change of the coldest may lie between the last knot of the part before and the first of this one.
            times, table = np.concatenate((before[0], times)), np.concatenate((before[1], table), axis=1)
        found, values = _with_changes(bundle, times, table, hottest=hottest)
        # The last knot is the first of the next part as well.
        found_times.append(found if before is None else found[1:])
        found_values.append(values if before is None else values[1:])
        before = (times[-1:], table[:, -1:])
    times, values = np.concatenate(found_times), np.concatenate(found_values)
    first = np.searchsorted(times, bundle.known.starts, "left").tolist()
    last = np.searchsorted(times, bundle.known.ends, "right").tolist()
    for begin, finish in zip(first, last, strict=True):
        yield LinePiece(times[begin:finish], values[begin:finish])


def _with_changes(bundle: Bundle, knots: Column, table: NDArray[np.int64], *, hottest: bool) -> tuple[Column, Column]:
    """Return the least of the probes at every knot, and around each change of the coldest between two knots."""
    least: Column = table.min(axis=0)
    sign = -1 if hottest else 1
    # Where one probe is the coldest at both ends it is so in between: no change.
    steady = np.any((table[:, :-1] == least[:-1]) & (table[:, 1:] == least[1:]), axis=0)
    place = np.flatnonzero(~steady)
    moments = _changes(knots, table, place)
    if not moments.size:
        return knots, sign * least
    between = values_at(bundle.series, moments, places_at(bundle, moments)) * sign
    times = np.concatenate((knots, moments))
    order = np.argsort(times, kind="stable")
    values: Column = np.concatenate((least, between.min(axis=0)))[order]
    return times[order], sign * values


def _changes(times: Column, table: NDArray[np.int64], place: NDArray[np.intp]) -> Column:
    """Return the whole milliseconds around each instant at which the coldest changes within the given lines.

    Which millisecond is found in floating point; a neighbour taken by mistake is a point of the line all the same,
    because its value is worked out exactly.
    """
    start, end = times[place], times[place + 1]
    one, other = table[:, place].astype(np.float64), table[:, place + 1].astype(np.float64)
    slope = other - one
    probes = np.arange(place.size)
    # Of several that are coldest at the start, the one that falls fastest is coldest just after it.
    current = np.lexsort((slope, one), axis=0)[0]
    at = np.zeros(place.size)
    found = [np.empty(0, dtype=np.int64)]
    for _ in range(table.shape[0] - 1):
        closing = slope[current, probes] - slope
        with np.errstate(divide="ignore", invalid="ignore"):
            meets = np.where(closing > 0, (one - one[current, probes]) / closing, np.inf)
        meets[meets < at] = np.inf
        meets[current, probes] = np.inf
        following = meets.argmin(axis=0)
        share = meets[following, probes]
        kept = share < 1
        if not bool(kept.any()):
            break
        place, probes = place[kept], np.arange(int(kept.sum()))
        start, end, one, slope = start[kept], end[kept], one[:, kept], slope[:, kept]
        current, at = following[kept], share[kept]
        moment = start + np.floor(at * (end - start)).astype(np.int64)
        found += [moment[moment > start], (moment + 1)[moment + 1 < end]]
    return distinct(np.concatenate(found))


def clip(pieces: Sequence[LinePiece], start: int, end: int) -> tuple[LinePiece, ...]:
    """Return the part of a line between two instants, with points at both where it crosses them.

    Args:
        pieces: The line, in order.
        start: UTC ms.
        end: UTC ms.

    Returns:
        Pieces in order; the values at both instants are rounded half-even to the thousandth.
    """
    found = []
    for piece in pieces:
        first, last = max(start, int(piece.times[0])), min(end, int(piece.times[-1]))
        if first > last:
            continue
        begin = int(np.searchsorted(piece.times, first, "right"))
        finish = int(np.searchsorted(piece.times, last, "left"))
        ends = np.array([first, last] if last > first else [first], dtype=np.int64)
        values = value_of(piece, ends)
        if finish < begin or last == first:
            found.append(LinePiece(ends, values))
            continue
        times = np.concatenate((ends[:1], piece.times[begin:finish], ends[1:]))
        found.append(LinePiece(times, np.concatenate((values[:1], piece.milli_c[begin:finish], values[1:]))))
    return tuple(found)


def value_of(piece: LinePiece, at: Column) -> Column:
    """Return the line's value at instants within a piece, thousandths of a degree Celsius, rounded half-even."""
    one = Series(probe="", times=piece.times, milli_c=piece.milli_c)
    values: Column = values_at((one,), at, (np.searchsorted(piece.times, at, "right") - 1,))[0]
    return values


def extremes(pieces: Sequence[LinePiece], start: int | None = None, end: int | None = None) -> tuple[int, int] | None:
    """Return the least and the greatest value of a line between two instants.

    Args:
        pieces: The line, in order.
        start: UTC ms, or None for where the line begins.
        end: UTC ms, or None for where it ends.

    Returns:
        Both in thousandths of a degree Celsius, or None where there is no line.
    """
    if start is not None or end is not None:
        first = int(pieces[0].times[0]) if pieces and start is None else start or 0
        last = int(pieces[-1].times[-1]) if pieces and end is None else end or 0
        pieces = clip(pieces, first, last)
    if not pieces:
        return None
    return min(int(piece.milli_c.min()) for piece in pieces), max(int(piece.milli_c.max()) for piece in pieces)
