"""The frame of a plot over time: its place on the sheet, and its axes.

Rules this module keeps:
1. Time is straight in x and the shown value straight in y; both scales stand as `data-` attributes on the picture, so a
   small script can tell the value under a finger.
2. Everything drawn fits the frame: values, limits and bands together set the range of the axis.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from monitor.drawing.ink import Mark
from monitor.drawing.lettering import width_of
from monitor.drawing.scales import Scale, Unit, say_tick, ticks
from monitor.drawing.svg_sheet import FONT_SIZE, Sheet, across, down, number
from monitor.drawing.time_ticks import Tick, fitting

_SMALL = FONT_SIZE[Mark.SMALL]


@dataclass(frozen=True, slots=True)
class Frame:
    """The drawn rectangle of a plot: `x` takes UTC ms, `y` the shown value in `unit`."""

    x: Scale
    y: Scale
    unit: Unit

    @property
    def left(self) -> float:
        """The left edge, units."""
        return self.x.at_low

    @property
    def right(self) -> float:
        """The right edge, units."""
        return self.x.at_high

    @property
    def top(self) -> float:
        """The upper edge, units."""
        return self.y.at_high

    @property
    def bottom(self) -> float:
        """The lower edge, units."""
        return self.y.at_low

    def height_of(self, milli: float) -> float:
        """Return the y of a value in thousandths of °C or percent, no further out than the frame."""
        return self.y.within(self.unit.shown(milli))

    def data(self, zone: str) -> dict[str, str]:
        """Return the two scales as `data-` attributes."""
        return {
            "t0": str(int(self.x.low)),
            "t1": str(int(self.x.high)),
            "x0": number(self.left),
            "x1": number(self.right),
            "v0": f"{self.y.low:.3f}",
            "v1": f"{self.y.high:.3f}",
            "y0": number(self.bottom),
            "y1": number(self.top),
            "unit": self.unit.sign,
            "zone": zone,
        }


def value_ticks(low: float, high: float, height: float) -> list[float]:
    """Choose the ticks of a value axis.

    Args:
        low: Lower end, in the shown unit.
        high: Upper end, in the shown unit; above `low`.
        height: Length of the axis, units.

    Returns:
        Round values in rising order, about one for each 30 units.
    """
    return ticks(low, high, max(2, int(height // 30)))


def tick_width(values: Sequence[float]) -> float:
    """Return the room that the numbers of a value axis need, units."""
    return max((width_of(say_tick(value), _SMALL) for value in values), default=0)


def draw_value_axis(sheet: Sheet, frame: Frame, *, sign: bool = True) -> None:
    """Draw the value axis on the left, with faint lines across.

    Args:
        sheet: Receives the axis.
        frame: The plot's rectangle.
        sign: Whether the unit's sign stands above it.
    """
    values = value_ticks(frame.y.low, frame.y.high, frame.bottom - frame.top)
    places = [(frame.y.place(value), say_tick(value)) for value in values]
    sheet.path(Mark.RULE, "".join(across(frame.left, y, frame.right) for y, _ in places))
    sheet.texts(Mark.SMALL, [(frame.left - 5, y + 4, words) for y, words in places], "end")
    if sign:
        sheet.text(Mark.SMALL, frame.left - 5, frame.top - 7, frame.unit.sign, "end")


def draw_midnights(sheet: Sheet, frame: Frame, ticks: Sequence[Tick]) -> None:
    """Draw a faint line up from each midnight that the time axis names.

    Args:
        sheet: Receives the lines.
        frame: The plot's rectangle.
        ticks: Those of the time axis.
    """
    lines = [frame.x.place(tick.at) for tick in ticks if tick.midnight]
    sheet.path(Mark.RULE, "".join(down(x, frame.top, frame.bottom) for x in lines if frame.left + 1 < x < frame.right))


def draw_second_axis(sheet: Sheet, frame: Frame) -> None:
    """Draw the other unit's axis on the right; nothing for percent."""
    height = frame.bottom - frame.top
    other = frame.unit.other
    if other is None:
        return
    low, high = (other.shown(frame.unit.milli(value)) for value in (frame.y.low, frame.y.high))
    for value in value_ticks(low, high, height):
        y = frame.y.place(frame.unit.shown(other.milli(value)))
        sheet.line(Mark.AXIS, frame.right, y, frame.right + 3, y)
        sheet.text(Mark.SMALL, frame.right + 6, y + 4, say_tick(value), ground=True)
    sheet.text(Mark.SMALL, frame.right + 6, frame.top - 7, other.sign)


def draw_time_axis(sheet: Sheet, scale: Scale, y: float, ticks: Sequence[Tick]) -> None:
    """Draw a time axis: ticks, their words, and in a second row the day or year they belong to.

    Args:
        sheet: Receives the axis.
        scale: UTC ms to x; the axis runs from end to end.
        y: Height of the axis on the sheet, units.
        ticks: In rising order.
    """
    places = [scale.place(tick.at) for tick in ticks]
    # The name of a day stands in the middle of that day, between its two midnights; other words under their instant.
    middles = [(x + scale.within(tick.until)) / 2 if tick.until else x for x, tick in zip(places, ticks, strict=True)]
    strokes, named = [across(scale.at_low, y, scale.at_high)], []
    for x, at, words in zip(places, middles, fitting(ticks, middles, _SMALL), strict=True):
        strokes.append(down(x, y, y + (5 if words else 3)))
        half = width_of(words, _SMALL) / 2 + 1
        named.append((min(max(at, half), sheet.width - half), y + 16, words))
    sheet.path(Mark.AXIS, "".join(strokes))
    sheet.texts(Mark.SMALL, named, "middle")
    belongs = [(x, tick.belongs) for x, tick in zip(places, ticks, strict=True) if tick.belongs]
    _draw_belongs(sheet, belongs, scale.at_high, y + 30)


def _draw_belongs(sheet: Sheet, belongs: Sequence[tuple[float, str]], end: float, y: float) -> None:
    """Write the day or year of each stretch in its middle, or not at all where it has no room."""
    edges = [*(x for x, _ in belongs[1:]), end][: len(belongs)]
    free = float("-inf")
    named = []
    for (left, words), right in zip(belongs, edges, strict=True):
        half = width_of(words, _SMALL) / 2
        x = max((left + right) / 2, half + 2)
        if 2 * half <= right - left + 24 and x - half >= free:
            named.append((x, y, words))
            free = x + half + 8
    sheet.texts(Mark.SMALL, named, "middle")
