"""Thinning of readings for a plot: it drops differences that no eye could see, but never lows and highs.

Rules this module keeps:
1. Every column of the plot keeps its lowest and its highest reading, at their own times.
2. A pause longer than `max_gap_ms` splits the line, if it is wide enough to be seen (one column or more).
3. A line is cut off where it crosses the edge of the plot; it is never carried over a pause.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Integers = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Thinned:
    """The remains of a line: runs of (times, values), each drawn as one stroke.

    Attributes:
        times: UTC ms, rising.
        milli: Values, thousandths.
        starts: Index at which each run begins in the two; the first is 0 unless both are empty.
    """

    times: Integers
    milli: Integers
    starts: Integers

    def runs(self) -> list[tuple[list[int], list[int]]]:
        """Return the runs, each as (times, values)."""
        if not len(self.times):
            return []
        ends = [*self.starts[1:].tolist(), len(self.times)]
        return [
            (self.times[a:b].tolist(), self.milli[a:b].tolist())
            for a, b in zip(self.starts.tolist(), ends, strict=True)
        ]


def thin(
    times: Integers, milli: Integers, *, start: int, end: int, columns: int, max_gap_ms: int | None = None,
    cuts: Sequence[int] = (),
) -> Thinned:  # fmt: skip
    """Thin readings to about two a column of a plot.

    Args:
        times: UTC ms, rising.
        milli: Values, thousandths; as many.
        start: Beginning of the plot, UTC ms.
        end: End of the plot, UTC ms; later.
        columns: Number of columns of the plot.
        max_gap_ms: Readings further apart than this are not joined; None joins all.
        cuts: Instants that no line is carried over, however near the readings (UTC ms).

    Returns:
        The thinned line, with a point on each edge of the plot that the line crosses.

    Raises:
        ValueError: The two differ in length.
    """
    if len(times) != len(milli):
        raise ValueError(f"{len(times)} times and {len(milli)} values do not make a line")
    times, milli = np.asarray(times, np.int64), np.asarray(milli, np.int64)
    first, last = int(np.searchsorted(times, start, "left")), int(np.searchsorted(times, end, "right"))
    inside = times[first:last]
    column_ms = (end - start) / columns
    breaks = np.zeros(0, np.int64)
    if max_gap_ms is not None:
        breaks = np.flatnonzero(np.diff(inside) > max(max_gap_ms, int(column_ms))) + 1
    if len(cuts):
        # Split here whatever the width: before and after a cut the probe measured different things.
        places = np.searchsorted(inside, np.asarray(cuts, np.int64), "left")
        breaks = np.union1d(breaks, places[(places > 0) & (places < len(inside))]).astype(np.int64)
    thinned = _columns(inside, milli[first:last], np.append(0, breaks).astype(np.int64), start, column_ms)
    into = _crossing(times, milli, first, start, max_gap_ms, cuts)
    out = _crossing(times, milli, last, end, max_gap_ms, cuts)
    return _framed(thinned, [(start, value) for value in into], [(end, value) for value in out])


def thin_again(thinned: Thinned, *, start: int, end: int, columns: int) -> Thinned:
    """Thin a thinned line further; its pauses stay.

    Args:
        thinned: The line as `thin` returned it.
        start: Beginning of the plot, UTC ms.
        end: End of the plot, UTC ms.
        columns: New number of columns, smaller than before.

    Returns:
        The thinned line.
    """
    return _columns(thinned.times, thinned.milli, thinned.starts, start, (end - start) / columns)


def _crossing(
    times: Integers, milli: Integers, after: int, edge: int, max_gap_ms: int | None, cuts: Sequence[int]
) -> list[int]:
    """Return the value at which the line crosses an edge just before reading `after`, in a list; [] if it does not."""
    before = after - 1
    if before < 0 or after >= len(times) or times[before] == edge or times[after] == edge:
        return []
    wide = int(times[after] - times[before])
    if max_gap_ms is not None and wide > max_gap_ms:
        return []
    if any(times[before] < at <= times[after] for at in cuts):
        return []
    rise = int(milli[after] - milli[before]) * (edge - int(times[before]))
    return [int(milli[before]) + round(rise / wide)]


def _framed(thinned: Thinned, into: list[tuple[int, int]], out: list[tuple[int, int]]) -> Thinned:
    """Return the runs with the crossings of the edges added before and after them."""
    if not into and not out:
        return thinned
    times, milli = (
        np.concatenate(([pair[k] for pair in into], kept, [pair[k] for pair in out])).astype(np.int64)
        for k, kept in enumerate((thinned.times, thinned.milli))
    )
    starts = thinned.starts + len(into)
    starts = np.append(0, starts[1:]) if len(starts) else np.zeros(1, np.int64)
    return Thinned(times, milli, starts)


def _columns(times: Integers, milli: Integers, starts: Integers, start: int, column_ms: float) -> Thinned:
    if not len(times):
        return Thinned(times, milli, np.zeros(0, np.int64))
    count = int((int(times[-1]) - start) / column_ms) + 1
    edges = np.searchsorted(times, start + np.arange(count + 1) * column_ms, "left")
    cells = np.unique(np.concatenate((edges[edges < len(times)], starts)))
    ends = np.append(cells[1:], len(times))
    # A run keeps its first and last reading as well, so that it ends at the line's own ends.
    kept = [starts, np.append(starts[1:], len(times)) - 1]
    if len(cells) < len(times):
        pairs = zip(cells.tolist(), ends.tolist(), strict=True)
        kept.append(
            np.array([a + found for a, b in pairs for found in (milli[a:b].argmin(), milli[a:b].argmax())], np.int64)
        )
    else:
        kept.append(np.arange(len(times)))
    places = np.unique(np.concatenate(kept))
    return Thinned(times[places], milli[places], np.searchsorted(places, starts))
