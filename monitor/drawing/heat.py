"""Heat in a section, as an engraver would hatch it: the hotter, the longer, heavier and closer its strokes.

Rules this module keeps:

1. Of a probe only its depth is known, so heat is drawn by depth alone, in layers that follow the surface across the core.
   Where a probe sits from left to right says nothing, and a probe without a depth speaks for no layer.
2. Heat is drawn only as far above and below a live probe as its reach; between two in reach of each other it runs straight
   from one to the other. Elsewhere the heap stays bare: nobody knows. Of several at one depth the coldest is drawn.
3. About a probe that is silent, out or broken it stays bare too, up to half-way to the next live one.
4. From the hold temperature on, strokes are crossed, so that it shows without colour.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from monitor.drawing.ink import HEAT, Mark
from monitor.drawing.svg_sheet import number

STEP = 9.0
"""Distance of two strokes, units."""

STROKES_MOST = 900
"""Strokes in one picture at most; they stand further apart in a larger one."""


@dataclass(frozen=True, slots=True)
class Level:
    """How deep a probe measures, units below the surface, and its value in thousandths of °C; None of one that is not live."""

    depth: float
    milli_c: int | None


SAME = 1.0
"""Levels nearer to each other, units, are one."""


def heat_at(depth: float, levels: Sequence[Level], reach: float) -> int | None:
    """Return the temperature at a depth (units), thousandths of °C, or None where no live probe speaks for it.

    `reach` is how far a probe speaks for the material above and below it, units; a choice of this project.
    """
    live: list[tuple[float, int]] = []
    for level in sorted(levels, key=lambda one: one.depth):
        if level.milli_c is None:
            continue
        if live and level.depth - live[-1][0] < SAME:
            live[-1] = (live[-1][0], min(live[-1][1], level.milli_c))
        else:
            live.append((level.depth, level.milli_c))
    lost = min((abs(one.depth - depth) for one in levels if one.milli_c is None), default=float("inf"))
    nearest = min((abs(at - depth) for at, _ in live), default=float("inf"))
    if nearest > reach or lost < nearest:
        return None
    above = max((one for one in live if one[0] <= depth), default=None)
    below = min((one for one in live if one[0] >= depth), default=None)
    if above is None or below is None or above == below or below[0] - above[0] > 2 * reach:
        return next(value for at, value in live if abs(at - depth) == nearest)
    return round(above[1] + (below[1] - above[1]) * (depth - above[0]) / (below[0] - above[0]))


def heat_strokes(
    inside: Callable[[float, float], bool],
    box: tuple[float, float, float, float],
    depth: Callable[[float, float], float],
    levels: Sequence[Level],
    reach: float,
    hold_milli_c: int | None,
) -> dict[Mark, str]:
    """Return path data of the strokes by mark, in order of heat.

    Args:
        inside: Whether a point is well inside the heap.
        box: Left, top, right and bottom of what is to be hatched, units.
        depth: How far a point lies below the surface, units.
        levels: The probes whose depth is known.
        reach: How far each speaks above and below.
        hold_milli_c: From here on strokes are crossed; None never.
    """
    left, top, right, bottom = box
    step = max(STEP, ((right - left) * (bottom - top) / STROKES_MOST) ** 0.5)
    strokes: dict[Mark, list[str]] = {mark: [] for _, mark in reversed(HEAT)}
    ranks = list(strokes)
    row = 0
    y = top + step / 2
    while y < bottom:
        x = left + step / 2 + (step / 2 if row % 2 else 0)
        column = 0
        while x < right:
            # A little out of line, the same each time, as if by hand.
            dx, dy = (row * 7 + column * 3) % 5 * 0.4 - 0.8, (row * 3 + column * 5) % 7 * 0.3 - 0.9
            milli_c = heat_at(depth(x + dx, y + dy), levels, reach) if inside(x + dx, y + dy) else None
            if milli_c is not None:
                mark = next(mark for least, mark in HEAT if milli_c >= least)
                crossed = hold_milli_c is not None and milli_c >= hold_milli_c
                strokes[mark].append(_stroke(x + dx, y + dy, 0.8 + 0.5 * ranks.index(mark), crossed=crossed))
            x += step
            column += 1
        y += step
        row += 1
    return {mark: "".join(found) for mark, found in strokes.items() if found}


def _stroke(x: float, y: float, half: float, *, crossed: bool) -> str:
    long = number(2 * half)
    first = f"M{number(x - half)} {number(y + half)}l{long}-{long}"
    short = number(half)
    return first + (f"m-{number(1.5 * half)} {number(0.5 * half)}l{short} {short}" if crossed else "")
