"""A probe's readings for a plot: calibrated as in the engine, without flagged ones.

A reading that waits for its verdict is shown like the others; a later look knows better. A plot's series has one reading on
either side of the span, so that lines run to its edges, and none taken while the probe lay outside.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from monitor.conditioning import stretch_at
from monitor.model.readings import is_hand
from monitor.model.settings import Probe
from monitor.model.units import Quantity
from monitor.model.words import Role
from monitor.page.pictures.time_outside import TimeOutside, inside_at
from monitor.page.ports import Look

if TYPE_CHECKING:
    from numpy import int64
    from numpy.typing import NDArray


HAND = Probe(place="", role=Role.CORE, address="")
"""The settings for readings by hand: a temperature, without calibration."""


@dataclass(frozen=True, slots=True)
class PlotSeries:
    """A probe's accepted readings: own times (UTC ms, rising) and thousandths of the canonical unit."""

    probe: str
    quantity: Quantity
    time: NDArray[int64]
    milli: NDArray[int64]
    outings: tuple[TimeOutside, ...] = ()
    """The times outside its place, without readings here."""


def series_within(
    look: Look, probe: str, start: int, end: int, gap_ms: int, outings: tuple[TimeOutside, ...] = ()
) -> PlotSeries:
    """Return a probe's readings within a span and in its place, and one on either side.

    Args:
        look: The look.
        probe: Name of the series.
        start: First instant, UTC ms.
        end: Last instant, inclusive, UTC ms.
        gap_ms: How far outside the readings on either side may lie: lines are not drawn across more.
        outings: The times that the probe lay outside its place.
    """
    import numpy as np  # noqa: PLC0415

    found = series_of(look, probe, start - gap_ms, end + gap_ms)
    first, last = (int(place) for place in np.searchsorted(found.time, [start, end + 1]))
    time, milli = (one[max(0, first - 1) : last + 1] for one in (found.time, found.milli))
    if outings and len(time):
        keep = np.asarray(inside_at(outings, time.tolist()), bool)
        time, milli = time[keep], milli[keep]
    return PlotSeries(found.probe, found.quantity, time, milli, outings)


def series_of(look: Look, probe: str, start: int, end: int) -> PlotSeries:
    """Return a probe's readings.

    Args:
        look: The look.
        probe: Name of the series.
        start: First instant, UTC ms.
        end: Last instant, inclusive, UTC ms.
    """
    import numpy as np  # noqa: PLC0415 (loaded with the first plot, not with the page)

    configured = HAND if is_hand(probe) else look.engine.state.settings.probes.get(probe, HAND)
    times: list[NDArray[int64]] = []
    values: list[NDArray[int64]] = []
    for column in look.columns(probe, start, end):
        begin = 0
        while begin < len(column.time):
            # A calibration holds for a stretch, and is a straight line there.
            stretch = stretch_at(configured, column.unit, int(column.time[begin]))
            stop = int(np.searchsorted(column.time, min(stretch.end, end + 1)))
            if stretch.line is not None:
                times.append(column.time[begin:stop])
                line = stretch.line
                # Plots show tenths of a degree, so floating-point rounding of the last thousandth does not show.
                micro = column.micro[begin:stop].astype(np.float64)
                values.append(np.rint((micro * line.numerator + line.addend) / line.denominator).astype(np.int64))
            begin = max(stop, begin + 1)
    time = np.concatenate(times) if times else np.empty(0, np.int64)
    milli = np.concatenate(values) if values else np.empty(0, np.int64)
    if len(times) > 1:
        order = np.argsort(time, kind="stable")
        time, milli = time[order], milli[order]
    flagged = look.dropped(probe, start, end)
    if flagged and len(time):
        keep = ~np.isin(time, np.fromiter(flagged, np.int64))
        time, milli = time[keep], milli[keep]
    return PlotSeries(probe, configured.quantity, time, milli)
