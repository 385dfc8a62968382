"""Draws a place's last days as one small line: a band in which all is well, the line with its gaps, a dot at its end.

It has no letters and takes any width: it is stretched to its card, and its strokes keep their thickness. What it says stands in
words beside it.
"""

from monitor.drawing.ink import Ink, Mark
from monitor.drawing.plot import PlanLine
from monitor.drawing.scales import Scale
from monitor.drawing.svg_sheet import Sheet, block, polyline, segment
from monitor.drawing.thinning import thin

WIDTH, HEIGHT = 144, 40
_TOP, _FOOT = 4.0, 36.0
_SIDE = 4.0
"""Room at the right for the dot, units."""
_COLUMNS = 36
"""A line keeps the lowest and highest reading of each column, so about 72 points."""


def plan_line(one: PlanLine) -> str:
    """Return the line as SVG, to be stretched sideways; "" if it has no reading."""
    thinned = thin(
        one.times, one.milli, start=one.start, end=one.end, columns=_COLUMNS, max_gap_ms=one.max_gap_ms, cuts=one.cuts
    )
    runs = thinned.runs()
    if not runs:
        return ""
    across, up = Scale(one.start, one.end, 0.0, WIDTH - _SIDE), Scale(one.low, one.high, _FOOT, _TOP)
    sheet = Sheet(WIDTH, HEIGHT, one.words, "", stretched=True)
    if one.band is not None:
        foot, top = (up.within(value) for value in one.band)
        sheet.path(Mark.HOLD, block(0, top, WIDTH, foot))
        sheet.path(Mark.PLAN_EDGE, segment(0, foot, WIDTH, foot))
    points = []
    for times, values in runs:
        points = [(across.within(time), up.within(value)) for time, value in zip(times, values, strict=True)]
        if one.max_gap_ms is None or len(points) == 1:
            sheet.path(Mark.PLAN_READ, "".join(_dot(*point) for point in points))
        else:
            sheet.path(Mark.PLAN_LINE, polyline(points))
    sheet.path(Mark.PLAN_END, _dot(*points[-1]))
    return sheet.render(Ink.SCREEN)


def _dot(x: float, y: float) -> str:
    """Return a stroke of no length: with round ends it is a dot, however the drawing is stretched."""
    return f"{polyline([(x, y)])}h0"
