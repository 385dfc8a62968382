"""Heat in a section, as an engraver would rule it: level strokes, the hotter, the heavier and the closer together.

Rules this module keeps:
1. A probe's depth is all that is known of its position, so heat is drawn by depth alone, in level strokes across the core.
   A probe's place from left to right has no meaning, and a probe without a depth counts for no level.
2. Heat is drawn from the shallowest live probe to the deepest, straight from one to the next, and nowhere else: nothing is
   known above and below them. Of several at one depth the coldest is drawn.
3. Two live probes with a silent, broken or absent one between them are not joined.
4. The hold is a contour: the depths at which the drawn heat passes it.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from monitor.drawing.ink import HEAT, Mark
from monitor.drawing.svg_sheet import number

GAPS = (9.0, 8.0, 7.0, 6.0, 5.0, 4.0)
"""Distance of two strokes, units, by degree of heat, the coolest first."""

SAME = 1.0
"""Levels nearer to each other than this, units, count as one."""


@dataclass(frozen=True, slots=True)
class Level:
    """A probe's depth, units below the surface, and its value in thousandths of °C; None for a probe that is not live."""

    depth: float
    milli_c: int | None


def known_runs(levels: Sequence[Level]) -> list[list[tuple[float, int]]]:
    """Return the stretches of depth over which heat is known, as (depth, thousandths of °C) in rising order of depth.

    A stretch of a single point is a depth with nothing known beside it.
    """
    live: list[tuple[float, int]] = []
    for level in sorted(levels, key=lambda one: one.depth):
        if level.milli_c is None:
            continue
        if live and level.depth - live[-1][0] < SAME:
            live[-1] = (live[-1][0], min(live[-1][1], level.milli_c))
        else:
            live.append((level.depth, level.milli_c))
    lost = [level.depth for level in levels if level.milli_c is None]
    runs: list[list[tuple[float, int]]] = []
    for point in live:
        if runs and not any(runs[-1][-1][0] + SAME <= depth <= point[0] - SAME for depth in lost):
            runs[-1].append(point)
        else:
            runs.append([point])
    return runs


def heat_at(depth: float, levels: Sequence[Level]) -> int | None:
    """Return the temperature at a depth, thousandths of °C: a straight line between two live probes, else None."""
    for run in known_runs(levels):
        if depth in (at for at, _ in run):
            return dict(run)[depth]
        for (above, hot), (below, other) in pairwise(run):
            if above < depth < below:
                return round(hot + (other - hot) * (depth - above) / (below - above))
    return None


def contours(levels: Sequence[Level], milli_c: int) -> list[float]:
    """Return the depths, units, at which the heat between two live probes passes a temperature."""
    found = []
    for run in known_runs(levels):
        for (above, first), (below, second) in pairwise(run):
            if min(first, second) < milli_c <= max(first, second):
                found.append(above + (below - above) * (milli_c - first) / (second - first))
    return found


def heat_strokes(
    levels: Sequence[Level], across: Callable[[float], tuple[float, float]], top: float
) -> dict[Mark, str]:
    """Rule the level strokes of a heap's core.

    Args:
        levels: The probes with a known depth.
        across: Left and right end of a stroke at a height of the sheet, units.
        top: Height of depth zero on the sheet, units.

    Returns:
        Path data by mark, in rising order of heat; marks without strokes are left out.
    """
    ranks = [mark for _, mark in reversed(HEAT)]
    strokes: dict[Mark, list[str]] = {mark: [] for mark in ranks}
    row = 0
    for run in known_runs(levels):
        depth = run[0][0]
        while depth <= run[-1][0] + SAME / 2:
            milli_c = heat_at(min(depth, run[-1][0]), levels)
            assert milli_c is not None
            mark = next(mark for least, mark in HEAT if milli_c >= least)
            left, right = across(top + depth)
            # Each stroke ends a little elsewhere, the same each time, so that the ruling looks drawn by hand.
            left, right = left + row * 7 % 5 * 1.6, right - row * 3 % 7 * 1.3
            if right > left:
                strokes[mark].append(f"M{number(left)} {number(top + depth)}H{number(right)}")
            depth += GAPS[ranks.index(mark)]
            row += 1
    return {mark: "".join(found) for mark, found in strokes.items() if found}
