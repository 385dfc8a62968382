"""Heat in a section, as an engraver would hatch it: the hotter, the longer, heavier and closer its strokes.

Rules this module keeps:

1. Heat is drawn only about live probes, each as far as its reach; between probes in reach it is worked out from their
   values, each counting by the inverse fourth power of its distance. Elsewhere the heap stays bare: nobody knows.
2. About a probe that is silent, out or broken it stays bare too, up to half-way to the next live one.
3. From the hold temperature on, strokes are crossed, so that it shows without colour.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from monitor.drawing.ink import HEAT, Mark
from monitor.drawing.sheet import number

STEP = 9.0
"""Distance of two strokes, units."""

STROKES_MOST = 900
"""Strokes in one picture at most; they stand further apart in a larger one."""


@dataclass(frozen=True, slots=True)
class Spot:
    """Where a probe measures, units, and its value in thousandths of °C; None of one that is not live."""

    x: float
    y: float
    milli_c: int | None


@dataclass(frozen=True, slots=True)
class Reach:
    """How far a probe speaks for the material about it, units across and down; a choice of this project."""

    across: float
    down: float

    def distance(self, spot: Spot, x: float, y: float) -> float:
        """Return the squared distance from a spot, 1 at the end of its reach."""
        return ((x - spot.x) / self.across) ** 2 + ((y - spot.y) / self.down) ** 2


def heat_at(x: float, y: float, spots: Sequence[Spot], reach: Reach) -> int | None:
    """Return the temperature at a point, thousandths of °C, or None where no live probe speaks for it."""
    weight = total = 0.0
    nearest_live = nearest_lost = float("inf")
    for spot in spots:
        distance = reach.distance(spot, x, y)
        if spot.milli_c is None:
            nearest_lost = min(nearest_lost, distance)
            continue
        nearest_live = min(nearest_live, distance)
        share = 1 / (distance + 0.01) ** 2
        weight += share
        total += share * spot.milli_c
    if nearest_live > 1 or nearest_lost < nearest_live:
        return None
    return round(total / weight)


def heat_strokes(
    inside: Callable[[float, float], bool],
    box: tuple[float, float, float, float],
    spots: Sequence[Spot],
    reach: Reach,
    hold_milli_c: int | None,
) -> dict[Mark, str]:
    """Return path data of the strokes by mark, in order of heat.

    Args:
        inside: Whether a point is well inside the heap.
        box: Left, top, right and bottom of what is to be hatched, units.
        spots: The probes.
        reach: How far each speaks.
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
            milli_c = heat_at(x, y, spots, reach) if inside(x + dx, y + dy) else None
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
