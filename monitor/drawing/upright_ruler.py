"""An upright ruler beside a picture: the band of comfort, every limit in words with its number, and a pointer at each value.

Rules this module keeps:
1. Limits are named on the outer side, values on the inner one; a leader joins words to their height where they had to move.
2. The ruler runs from below the lowest thing that it names to above the highest, values included.
3. A probe that does not report has no pointer; the caller says so in words.
"""

from dataclasses import dataclass

from monitor.drawing.ink import Mark
from monitor.drawing.lettering import shorten, spread, width_of
from monitor.drawing.plot import Limit
from monitor.drawing.scales import Scale, Unit, say_tick
from monitor.drawing.section_values import BinProbe
from monitor.drawing.svg_sheet import FONT_SIZE, Sheet, block, number, segment

_HALF = 5.0
"""Half the width of a ruler, units."""
_GAP = 13.0
VALUES_FROM = 70
"""Least room for values beside the pointers, units; with less the caller writes them elsewhere."""
_SMALL = FONT_SIZE[Mark.SMALL]


@dataclass(frozen=True, slots=True)
class UprightRuler:
    """A ruler: what it measures in words, its unit, its comfort and limits, and the probes whose values it shows.

    Comfort and limits are thousandths of °C or percent.
    """

    name: str
    unit: Unit
    comfort: tuple[int, int]
    limits: tuple[Limit, ...]
    probes: tuple[BinProbe, ...]

    def ends(self) -> tuple[float, float]:
        """Return both ends in the shown unit: comfort with half its width about it, every limit and every value."""
        low, high = (self.unit.shown(edge) for edge in self.comfort)
        spare = (high - low) / 2
        named = [low - spare, high + spare] + [self.unit.shown(limit.milli) for limit in self.limits]
        named += [self.unit.shown(probe.milli) for probe in self.probes if probe.live and probe.milli is not None]
        least, most = min(named), max(named)
        if self.unit is Unit.PERCENT:
            return max(least, 0.0), max(min(most, 100.0), 0.0) if most <= 100 else most
        return least, most


@dataclass(frozen=True, slots=True)
class Stand:
    """The place of a ruler: its axis, its upper and lower end, the outermost x of its words, and of its values, units."""

    axis: float
    top: float
    bottom: float
    outer: float
    inner: float

    @property
    def says_values(self) -> bool:
        """Whether there is room for values beside the pointers."""
        return abs(self.inner - self.axis) >= VALUES_FROM

    @property
    def way(self) -> int:
        """The direction of the values: 1 to the right, -1 to the left."""
        return 1 if self.inner > self.axis else -1


def draw_ruler(sheet: Sheet, ruler: UprightRuler, stand: Stand) -> None:
    """Draw a ruler, its limits and its values.

    Args:
        sheet: Receives the ruler.
        ruler: What it shows.
        stand: Where it stands.
    """
    scale = Scale(*ruler.ends(), stand.bottom, stand.top)
    axis, unit = stand.axis, ruler.unit
    sheet.rect(Mark.UPRIGHT, axis - _HALF, stand.top - 3, 2 * _HALF, stand.bottom - stand.top + 6)
    low, high = (scale.within(unit.shown(edge)) for edge in ruler.comfort)
    sheet.rect(Mark.COMFORT, axis - _HALF + 0.5, high, 2 * _HALF - 1, low - high)
    sheet.path(Mark.COMFORT_BAR, block(axis - stand.way * _HALF - 1.5, high, axis - stand.way * _HALF + 1.5, low))
    sheet.path(Mark.AXIS, "".join(_notches(scale, axis + stand.way * _HALF, -stand.way)))
    for limit in ruler.limits:
        y = scale.within(unit.shown(limit.milli))
        sheet.line(Mark.LIMIT_MARK, axis - _HALF, y, axis + _HALF, y)
    _name_limits(sheet, ruler, scale, stand)
    _point(sheet, ruler, scale, stand)


def _notches(scale: Scale, x: float, way: int) -> list[str]:
    """Return the notches of a ruler, one for every five degrees or percent, every second one longer."""
    first = int(scale.low // 5) + 1
    found = []
    for step in range(first, int(scale.high // 5) + 1):
        y = scale.place(step * 5)
        found.append(segment(x, y, x + way * (5 if step % 2 == 0 else 3), y))
    return found if len(found) <= 60 else []


def _name_limits(sheet: Sheet, ruler: UprightRuler, scale: Scale, stand: Stand) -> None:
    """Write the limits and the ends of comfort beside the ruler, each at its height or as near as there is room."""
    unit, room = ruler.unit, abs(stand.axis - stand.outer) - _HALF - 9
    taken = {unit.say(limit.milli) for limit in ruler.limits}
    wanted = [(limit.milli, _with_number(limit.label, unit, limit.milli, room)) for limit in ruler.limits]
    wanted += [(edge, say_tick(round(unit.shown(edge), 1))) for edge in ruler.comfort if unit.say(edge) not in taken]
    wanted.append((sum(ruler.comfort) // 2, "comfort"))
    wanted.sort(key=lambda one: -one[0])
    heights = [scale.within(unit.shown(milli)) for milli, _ in wanted]
    at, anchor = stand.axis - stand.way * (_HALF + 8), "end" if stand.way > 0 else "start"
    for (_, words), y, placed in zip(wanted, heights, spread(heights, _GAP, stand.top, stand.bottom), strict=True):
        if words != "comfort":
            edge = stand.axis - stand.way * (_HALF + 1)
            sheet.path(Mark.LEADER, segment(edge, y, at + stand.way * 2, placed))
        sheet.text(Mark.SMALL, at, placed + 4, shorten(words, room, _SMALL), anchor)


def _with_number(label: str, unit: Unit, milli: int, room: float) -> str:
    """Return a limit's words with its number, or the number alone where there is no room for both."""
    value = say_tick(round(unit.shown(milli), 1))
    whole = f"{label} {value}".strip()
    return whole if width_of(whole, _SMALL) <= room else value


def _point(sheet: Sheet, ruler: UprightRuler, scale: Scale, stand: Stand) -> None:
    """Point at each value from the inner side, the numbers spread so that they do not overlap."""
    live = [probe for probe in ruler.probes if probe.live]
    shown = [(probe, scale.within(ruler.unit.shown(probe.milli))) for probe in live if probe.milli is not None][:6]
    heights = spread([y for _, y in shown], 14 if len(shown) == 1 else 27, stand.top + 2, stand.bottom - 8)
    way, edge = stand.way, stand.axis + stand.way * (_HALF + 1)
    anchor = "start" if way > 0 else "end"
    at = edge + way * 14
    for (probe, y), placed in zip(shown, heights, strict=True):
        assert probe.milli is not None
        sheet.path(Mark.UPRIGHT_POINTER, f"M{number(edge)} {number(y)}l{8 * way} -4.5v9Z")
        if not stand.says_values:
            continue
        sheet.path(Mark.LEADER, segment(edge + 8 * way, y, at - 2 * way, placed))
        sheet.text(Mark.STRONG, at, placed + 4, ruler.unit.say(probe.milli), anchor, ground=True)
        if len(shown) > 1:
            name = shorten(probe.name, abs(stand.inner - at), _SMALL)
            sheet.text(Mark.SMALL, at, placed + 17, name, anchor, ground=True)
