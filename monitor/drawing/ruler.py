"""Draws a small ruler: where a number stands against its limit, and which side of that is wrong.

The ink is that of the words around it, so that it can be read on any ground, in a reader's own colours, and on paper. It has no
letters: number and limit stand beside it as text.
"""

from dataclasses import dataclass

from monitor.drawing.ink import Ink, Mark
from monitor.drawing.scales import Scale
from monitor.drawing.svg_sheet import Sheet, number, segment

WIDTH, HEIGHT = 104, 18
_LINE, _REACH = 12.5, 6.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Ruler:
    """A number against its limit, all in one unit.

    Attributes:
        low, high: The ends of the ruler.
        value: The number; beyond the ends it stands at the end.
        limit: The limit.
        wrong_above: Whether it is wrong to be above the limit; False: below it.
        words: The same in words, for people who cannot see it.
    """

    low: float
    high: float
    value: float
    limit: float
    wrong_above: bool
    words: str


def ruler(one: Ruler) -> str:
    """Return a ruler as SVG: a line with the wrong side thick, a tall tick at the limit, a pointer at the number."""
    scale = Scale(one.low, one.high, 5.0, WIDTH - 5.0)
    at, limit = scale.within(one.value), scale.within(one.limit)
    sheet = Sheet(WIDTH, HEIGHT, one.words, "")
    sheet.path(Mark.RULER, segment(1, _LINE, WIDTH - 1, _LINE))
    sheet.path(
        Mark.RULER_WRONG,
        segment(limit, _LINE, WIDTH - 1, _LINE) if one.wrong_above else segment(1, _LINE, limit, _LINE),
    )
    sheet.path(Mark.RULER_LIMIT, segment(limit, _LINE - _REACH + 1, limit, _LINE + 5))
    left, right, top = number(at - 5), number(at + 5), number(_LINE - 11)
    sheet.path(Mark.RULER_HERE, f"M{number(at)} {number(_LINE - 2.5)}L{left} {top}H{right}Z")
    return sheet.render(Ink.SCREEN)
