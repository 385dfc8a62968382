"""The lines of a plot, and their names at their ends.

Rules this module keeps:
1. Line style tells the lines apart, and the name stands at the end of its line: there is no legend.
2. All the lines of a plot together keep to a fixed number of points, so the picture stays small however many there are.
3. Names never overlap; if not all fit, the most important stay (governing, hand, probes, air).
"""

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from monitor.drawing.clearing import Clearing, Place
from monitor.drawing.frame import Frame
from monitor.drawing.ink import DENSE, PROBE_MARKS, Mark
from monitor.drawing.lettering import shorten, spread, width_of
from monitor.drawing.plot import Line, LineKind
from monitor.drawing.svg_sheet import FONT_SIZE, Sheet, polyline
from monitor.drawing.thinning import Thinned, thin, thin_again

DENSE_FROM = 6
"""Mean steepness from which a line is drawn in thinner ink; a choice of this project."""

LABEL_GAP = 13
"""Distance between two names, units."""

NEAR = 60
"""Ends closer to each other than this, units across, have their names in one column."""

_RANK = {LineKind.GOVERNING: 0, LineKind.BY_HAND: 1, LineKind.PROBE: 2, LineKind.AMBIENT: 3}


@dataclass(frozen=True, slots=True)
class Drawn:
    """A line ready to draw: its mark, its runs of (x, y), none if nothing of it is within the frame, and its newest value."""

    line: Line
    mark: Mark
    runs: list[list[tuple[float, float]]]
    last_milli: int | None = None

    @property
    def end(self) -> tuple[float, float] | None:
        """The point at which the line ends."""
        return self.runs[-1][-1] if self.runs else None


def marks_of(lines: Sequence[Line]) -> list[Mark]:
    """Return the line style of each line; probes take turns."""
    marks: list[Mark] = []
    probes = 0
    for line in lines:
        if line.kind is LineKind.PROBE:
            marks.append(PROBE_MARKS[probes % len(PROBE_MARKS)])
        else:
            one = {LineKind.GOVERNING: Mark.GOVERNING, LineKind.AMBIENT: Mark.AMBIENT, LineKind.BY_HAND: Mark.HAND}
            marks.append(one[line.kind])
        # The governing line takes a turn too, so that a probe keeps its style when another becomes the coldest.
        probes += line.kind in (LineKind.PROBE, LineKind.GOVERNING)
    return marks


def thin_all(lines: Sequence[Line], start: int, end: int, width: float, points: int) -> list[Thinned]:
    """Thin every line so that all together keep to a number of points.

    Args:
        lines: The series.
        start: Beginning of the plot, UTC ms.
        end: End of the plot, UTC ms.
        width: Width of the plot, units; no line gets more columns.
        points: Rough limit on the points of all lines together.

    Returns:
        One thinned line for each series, in their order.
    """
    columns = columns_for(len(lines), width, points)
    thinned = [
        thin(line.times, line.milli, start=start, end=end, columns=columns, max_gap_ms=line.max_gap_ms,
             cuts=[begun for begun, _ in line.outside])
        for line in lines
    ]  # fmt: skip
    # Pauses can make more than two points a column; halving the columns roughly halves the points.
    while columns > 24 and sum(len(one.times) for one in thinned) > points * 1.15:
        columns //= 2
        thinned = [thin_again(one, start=start, end=end, columns=columns) for one in thinned]
    return thinned


def columns_for(lines: int, width: float, points: int) -> int:
    """Return how many columns each line has, so that the points of all keep to a number.

    Args:
        lines: How many lines there are.
        width: Width of the plot, units; the most columns.
        points: Rough limit on the points of all lines together.
    """
    return max(24, min(int(width), points // 2 // max(lines, 1)))


def place_all(lines: Sequence[Line], thinned: Sequence[Thinned], frame: Frame) -> list[Drawn]:
    """Turn thinned lines into points on the sheet.

    Args:
        lines: The series.
        thinned: The same, thinned, in the same order.
        frame: The plot's scales.

    Returns:
        One drawn line for each series, in their order, with its mark.
    """
    drawn: list[Drawn] = []
    for line, mark, one in zip(lines, marks_of(lines), thinned, strict=True):
        runs = [
            [(frame.x.place(at), frame.height_of(milli)) for at, milli in zip(times, values, strict=True)]
            for times, values in one.runs()
        ]
        last = int(one.milli[-1]) if len(one.milli) else None
        drawn.append(Drawn(line, DENSE.get(mark, mark) if _is_dense(runs) else mark, runs, last))
    return drawn


def _is_dense(runs: Sequence[Sequence[tuple[float, float]]]) -> bool:
    """Return whether a line moves up and down more than `DENSE_FROM` units for each unit across."""
    along = sum(run[-1][0] - run[0][0] for run in runs)
    up = sum(abs(b[1] - a[1]) for run in runs for a, b in pairwise(run))
    return up > DENSE_FROM * max(along, 1)


@dataclass(frozen=True, slots=True)
class Shared:
    """The lines that drawings of one page share.

    Attributes:
        name: Begins the ids.
        first: The frame of the drawing that has the lines.
        drawn: The lines as they are drawn there.
        frame: The frame of this drawing.
    """

    name: str
    first: Frame
    drawn: Sequence[Drawn]
    frame: Frame

    @property
    def ids(self) -> tuple[str, str]:
        """The id of this drawing if it has the plot's words, else that of the one which has them, as `Sheet` takes them."""
        return (self.name, "") if self.frame is self.first else ("", self.name)

    def draw(self, sheet: Sheet, number: int, mark: Mark) -> None:
        """Draw a line: its strokes from the first drawing, and its lone readings, which would shrink to nothing, here.

        Args:
            sheet: The drawing.
            number: Its number among the lines.
            mark: Its class name.
        """
        one, here = self.drawn[number], self.frame is self.first
        across, down, left, top = self._moved()
        if any(len(run) > 1 for run in one.runs):
            data = "".join(polyline(eased(run)) for run in one.runs if len(run) > 1) if here else ""
            moved = "" if here else f"matrix({across:.5g} 0 0 {down:.5g} {left:.4g} {top:.4g})"
            sheet.shared(mark, one.line.name, f"{self.name}-{number}", moved, data)
        lone = [run[0] for run in one.runs if len(run) == 1]
        dots = "".join(_run([(x * across + left, y * down + top)]) for x, y in lone)
        sheet.path(mark, dots, line=one.line.name)

    def _moved(self) -> tuple[float, float, float, float]:
        """Return the stretch across and down from the first frame into this one, and then the step across and down."""
        first, frame = self.first, self.frame
        across = (frame.right - frame.left) / (first.right - first.left)
        down = (frame.bottom - frame.top) / (first.bottom - first.top)
        return across, down, frame.left - first.left * across, frame.top - first.top * down


def draw_lines(sheet: Sheet, drawn: Sequence[Drawn], shared: Shared | None = None) -> None:
    """Draw every line, the governing one last.

    Args:
        sheet: The drawing.
        drawn: The lines.
        shared: How it shares them with other drawings of the page; None: it has them for itself.
    """
    for number, one in sorted(enumerate(drawn), key=lambda numbered: -_RANK[numbered[1].line.kind]):
        if shared is None:
            sheet.path(one.mark, "".join(map(_run, one.runs)), line=one.line.name)
        else:
            shared.draw(sheet, number, one.mark)
        if one.line.kind is LineKind.BY_HAND:
            points = [point for run in one.runs for point in run]
            for x, y in points[:: max(1, len(points) // 120)]:
                sheet.circle(Mark.HAND_RING, x, y, 2.5)


def eased(run: Sequence[tuple[float, float]], most: float = 0.2) -> list[tuple[float, float]]:
    """Leave out the points that lie nearly on the line between those that stay: no eye sees them, no number needs them.

    Args:
        run: The points of a stroke, from left to right.
        most: How far a point that is left out may lie above or below the line, units.

    Returns:
        Some of the points; always the first and the last.
    """
    kept = [run[0]]
    (x0, y0), (low, high) = run[0], (-math.inf, math.inf)
    for before, (x, y) in pairwise(run):
        along = x - x0
        if before is not run[0] and (along <= 0 or not low * along <= y - y0 <= high * along):
            kept.append(before)
            (x0, y0), (low, high) = before, (-math.inf, math.inf)
            along = x - x0
        if along > 0:
            low, high = max(low, (y - most - y0) / along), min(high, (y + most - y0) / along)
        else:  # straight up or down: nothing can stand in for this point
            low, high = math.inf, -math.inf
    return [*kept, run[-1]]


def show_milli(shown: float) -> str:
    """Return a value with at most one decimal: `147.5`, `60`."""
    return f"{shown:.1f}".removesuffix(".0")


def _run(points: list[tuple[float, float]]) -> str:
    if len(points) == 1:  # a path of one point draws nothing, so a lone reading becomes a dot
        x, y = points[0]
        points = [(x - 0.5, y), (x + 0.5, y)]
    return polyline(points)


def names_room(lines: Sequence[Line], most: float, *, values: bool = False) -> float:
    """Return the room that names take beside a plot.

    Args:
        lines: The series.
        most: The most that they may take, units.
        values: Whether the newest value stands behind each name.

    Returns:
        Units.
    """
    return min(most, max((_label_width(line) for line in lines), default=0) + 16 + values * (VALUE_ROOM + 6))


VALUE_ROOM = 36
"""Room for a value behind a name, such as `147.5`, units."""


def _label_width(line: Line) -> float:
    return width_of(line.name[:80], FONT_SIZE[_label_mark(line)])


def _label_size(line: Line) -> int:
    return FONT_SIZE[_label_mark(line)]


def _label_mark(line: Line) -> Mark:
    return Mark.STRONG if line.kind is LineKind.GOVERNING else Mark.TEXT


def draw_names(
    sheet: Sheet,
    drawn: Sequence[Drawn],
    frame: Frame,
    clearing: Clearing,
    edges: tuple[float, float],
    *,
    values: bool = False,
) -> None:
    """Write each line's name at its end: beside the plot, or within it if the line ends early.

    Args:
        sheet: Receives the names.
        drawn: The lines as drawn.
        frame: The plot's rectangle.
        clearing: The taken places of the sheet; names within the plot are added.
        edges: Left and right end of the room for names beside the plot, units.
        values: Whether the newest value stands behind each name beside the plot.
    """
    left, right = edges
    inside: list[tuple[Drawn, float, float]] = []
    beside: list[tuple[Drawn, float, float]] = []
    for one in sorted(drawn, key=lambda one: _RANK[one.line.kind]):
        if one.end is not None:
            (beside if one.end[0] > frame.right - 24 else inside).append((one, *one.end))
    beside = beside[: max(1, int((frame.bottom - frame.top) // LABEL_GAP))]
    heights = spread([y for _, _, y in beside], LABEL_GAP, frame.top + 4, frame.bottom - 2)
    room = right - left - 6 - values * VALUE_ROOM
    leaders, named, shown = [], defaultdict[Mark, list[_Text]](list), defaultdict[Mark, list[_Text]](list)
    for (one, x, y), at in zip(beside, heights, strict=True):
        leaders.append(polyline([(x + 1, y), (left, at), (left + 4, at)]))
        mark = _label_mark(one.line)
        named[Mark.SMALL if values else mark].append((left + 6, at + 4, shorten(one.line.name, room, FONT_SIZE[mark])))
        if values and one.last_milli is not None:
            shown[mark].append((right, at + 4, show_milli(frame.unit.shown(one.last_milli))))
    sheet.path(Mark.LEADER, "".join(leaders))
    for texts, anchor in ((named, "start"), (shown, "end")):
        for mark, some in texts.items():
            sheet.texts(mark, some, anchor)
    most = max(1, int((frame.bottom - frame.top) // LABEL_GAP / 2))
    for group in _near(inside[:most]):
        _name_within(sheet, group, frame, clearing)


_Text = tuple[float, float, str]
_End = tuple[Drawn, float, float]


def _near(ends: Sequence[_End]) -> list[list[_End]]:
    """Group ends within the plot that stand so near to each other that their names would mix."""
    groups: list[list[_End]] = []
    for end in sorted(ends, key=lambda end: end[1]):
        if groups and end[1] - groups[-1][-1][1] < NEAR:
            groups[-1].append(end)
        else:
            groups.append([end])
    return groups


def _name_within(sheet: Sheet, group: Sequence[_End], frame: Frame, clearing: Clearing) -> None:
    """Write the names of lines that end near each other: in the order of their ends, each with a line to its own."""
    words = [shorten(one.line.name, min(120, frame.right - frame.left), _label_size(one.line)) for one, _, _ in group]
    widest = max(width_of(text, _label_size(one.line)) for text, (one, _, _) in zip(words, group, strict=True))
    for _, x, y in group:
        sheet.circle(Mark.TIP, x, y, 1.8)
    if len(group) == 1:
        ((one, x, y),) = group
        size = _label_size(one.line)
        # Names stand to the right of the ends, or to the left if they would leave the plot.
        side = ("start", 6) if x + 6 + widest < frame.right else ("end", -6)
        heights = [min(max(y + move, frame.top + size), frame.bottom - 4) for move in (4, -6, 15, -20, 28)]
        place = clearing.take([Place(x + side[1], height, side[0]) for height in heights], words[0], size)
        sheet.text(_label_mark(one.line), place.x, place.y, words[0], place.anchor, ground=True)
        return
    right, left = max(x for _, x, _ in group), min(x for _, x, _ in group)
    after = right + 14 + widest < frame.right
    column, anchor, step = (right + 12, "start", 3) if after else (left - 12, "end", -3)
    heights = spread([y for _, _, y in group], LABEL_GAP, frame.top + 8, frame.bottom - 8)
    for text, (one, x, y), at in zip(words, group, heights, strict=True):
        sheet.path(Mark.LEADER, polyline([(x, y), (column - step, at), (column, at)]))
        size = _label_size(one.line)
        place = clearing.take([Place(column + step, at + 4, anchor)], text, size)
        sheet.text(_label_mark(one.line), place.x, place.y, text, anchor, ground=True)
