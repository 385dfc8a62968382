"""Heat in a section, as an engraver would hatch it: the hotter, the longer, heavier and closer its strokes.

Rules this module keeps:
1. A probe's depth is all that is known of its position, so heat is drawn by depth alone, in layers that follow the surface
   across the core. A probe's place from left to right has no meaning, and a probe without a depth counts for no layer.
2. Heat is drawn only as far above and below a live probe as its reach; between two in reach of each other it runs straight
   from one to the other. Elsewhere the heap stays bare: nobody knows. Of several at one depth the coldest is drawn.
3. The heap stays bare around a probe that is silent, out or broken too, up to half-way to the next live one.
4. From the hold temperature on, strokes are crossed, so that the hold shows without colour.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from monitor.drawing.ink import HEAT, Mark
from monitor.drawing.svg_sheet import number

STEP = 9.0
"""Distance of two strokes, units."""

STROKES_MOST = 900
"""Most strokes in one picture; they stand further apart in a larger one."""


@dataclass(frozen=True, slots=True)
class Level:
    """A probe's depth, units below the surface, and its value in thousandths of °C; None for a probe that is not live."""

    depth: float
    milli_c: int | None


SAME = 1.0
"""Levels nearer to each other than this, units, count as one."""


def heat_at(depth: float, levels: Sequence[Level], reach: float) -> int | None:
    """Interpolate the temperature at a depth between the live probes.

    Args:
        depth: Depth below the surface, units.
        levels: The probes with a known depth, in any order; a value of None marks a probe that is not live.
        reach: Distance above and below a probe at which its value still holds, units; a choice of this project.

    Returns:
        Thousandths of °C; None where no live probe is in reach, or a lost probe is nearer.
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
    """Draw the strokes that hatch a heap.

    Args:
        inside: Whether a point is well inside the heap.
        box: Left, top, right and bottom of the area to hatch, units.
        depth: Depth of a point below the surface, units.
        levels: The probes with a known depth.
        reach: Distance above and below a probe at which its value still holds, units.
        hold_milli_c: Strokes are crossed from this temperature on, thousandths of °C; None: never.

    Returns:
        Path data by mark, in rising order of heat; marks without strokes are left out.
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
            # Shift each stroke a little, the same each time, so that the hatching looks drawn by hand.
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
