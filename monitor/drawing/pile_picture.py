"""A pile in section: the heap by its method, a scale of depth, its probes as sticks, and the heat between them.

Rules this module keeps:
1. A probe hangs at its depth below the surface, read off the scale at the left: to scale if the height is known. Its name
   and value stand above its handle, so nothing is written over the heat.
2. A probe that is silent has a broken stem and an open tip, a probe that is out lies on the surface, a broken one bears a
   cross; each says so in words.
3. Heat follows the rules of `heat`: by depth alone, and only between live probes. Nobody knows where a probe sits from left
   to right; the sticks stand evenly so that they can be told apart, and the picture says so.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from monitor.drawing.heat import Level, contours, heat_strokes, known_runs
from monitor.drawing.ink import Ink, Mark
from monitor.drawing.lettering import shorten, spread, width_of
from monitor.drawing.pile_outline import Heap, draw_earth, draw_method
from monitor.drawing.scales import Unit
from monitor.drawing.section_values import PileProbe, PileSection, PileShape, ProbeState
from monitor.drawing.svg_sheet import FONT_SIZE, Sheet, segment
from monitor.model.units import divide_half_even

PROBES_MOST = 12
"""Most probes drawn in one pile; the words say how many more there are."""

DEEPEST = 0.68
"""Share of a heap of unknown height at which its deepest probe is drawn; a choice of this project."""
CORE_WORDS = 0.7
"""Share of the heap's width that words within it may take."""
NO_SIDES = "left to right means nothing"
_HEAD = 64.0
_FOOT = 34.0
_SCALE = 46.0
"""Room for the scale of depth at the left, units."""
_CONTOUR = 82.0
"""Room for the name of the contour at the right, units."""
WIDE_FROM = 360
"""Least width of a picture with room for that; a narrower one has the name below the heap, behind a piece of the line."""
_STICKS = 0.42
"""Share of the heap's width over which the sticks stand."""
_DEFAULT_HEIGHT_MM = 1500  # common practice, no published source: a heap about as high as a person's chest
_STEPS_IN, _STEPS_CM = (6, 12, 24, 48, 120), (10, 20, 50, 100, 200)
_IN_TENTHS_MM, _CM_TENTHS_MM = 254, 100


@dataclass(frozen=True, slots=True)
class _Placed:
    """A probe with the place of its tip, and the x of its label."""

    probe: PileProbe
    x: float
    y: float
    label: float


@dataclass(frozen=True, slots=True)
class _Depths:
    """The scale of depth: the height of the surface on the sheet, and units for each millimetre."""

    top: float
    per_mm: float

    def place(self, milli_m: int) -> float:
        return self.top + milli_m * self.per_mm


def pile_section(picture: PileSection, ink: Ink = Ink.SCREEN) -> str:
    """Return a pile in section as SVG text."""
    sheet = Sheet(
        picture.width, picture.height, picture.title or "The pile in section", picture.words or say_pile(picture)
    )
    # A narrow picture has two lines of words below the heap.
    ground = picture.height - (_FOOT if picture.width >= WIDE_FROM else _FOOT + 14)
    bare = picture.empty and picture.shape is not PileShape.VESSEL
    right = picture.width - (_CONTOUR if picture.width >= WIDE_FROM else 12)
    heap = Heap(_SCALE, right, ground, ground if bare else _HEAD + 16, picture.shape)
    depths = _Depths(heap.crest, heap.tall / _shown_mm(picture))
    _draw_head(sheet, picture)
    if not picture.empty:
        draw_earth(sheet, heap)
    placed = _placed(picture, heap, depths)
    levels = [
        Level(one.y - heap.crest, one.probe.milli_c if one.probe.live else None)
        for one in placed
        if one.probe.depth_milli_m is not None and not picture.empty
    ]
    for mark, data in heat_strokes(levels, heap.core_at, heap.crest).items():
        sheet.path(mark, data)
    draw_method(sheet, heap)
    if not picture.empty:
        _draw_depths(sheet, picture, heap, depths)
    for one in placed:
        _draw_probe(sheet, heap, one)
    named = _draw_hold(sheet, picture, heap, levels)
    _say_below(sheet, heap, levels)
    _label_probes(sheet, picture, placed)
    _draw_foot(sheet, picture, heap, placed, named=named)
    return sheet.render(ink)


def _draw_head(sheet: Sheet, picture: PileSection) -> None:
    air = "" if picture.air_milli_c is None else f"air {picture.unit.say(picture.air_milli_c)}"
    sheet.text(Mark.STRONG, 4, 14, shorten(picture.phase, picture.width - 110, FONT_SIZE[Mark.STRONG]))
    sheet.text(Mark.TEXT, picture.width - 4, 14, air, "end")


def _shown_mm(picture: PileSection) -> float:
    """Return the depth from crest to ground as drawn, mm."""
    deepest = max((probe.depth_milli_m or 0 for probe in picture.probes[:PROBES_MOST]), default=0)
    if picture.height_milli_m is not None:
        return max(picture.height_milli_m, 1)
    return deepest / DEEPEST or _DEFAULT_HEIGHT_MM


def _placed(picture: PileSection, heap: Heap, depths: _Depths) -> list[_Placed]:
    probes = picture.probes[:PROBES_MOST]
    if not probes:
        return []
    count, wide = len(probes), heap.right - heap.left
    xs = [heap.middle + wide * _STICKS * ((2 * n + 1) / (2 * count) - 0.5) for n in range(count)]
    # Labels stand further apart than their sticks if their words need it; a leader joins the two.
    words = max(
        max(width_of(text[:60], 13) for text in (_name(picture, probe), probe.trouble, _value(picture, probe)))
        for probe in probes
    )
    room = min((picture.width - 8) / count, max(1.2 * words + 8, 72))
    labels = spread(xs, room, 4 + room / 2, picture.width - 4 - room / 2)
    placed = []
    for probe, x, label in zip(probes, xs, labels, strict=True):
        deep = depths.place(probe.depth_milli_m) if probe.depth_milli_m is not None else heap.crest + heap.tall / 2
        placed.append(_Placed(probe, x, min(max(deep, heap.surface(x) + 6), heap.ground - 6), label))
    return placed


def _name(picture: PileSection, probe: PileProbe) -> str:
    """Return the words above a probe: its name with its depth, or the depth alone for a probe without a name."""
    if probe.depth_milli_m is None or probe.state is ProbeState.OUT:
        return probe.name or "no depth given"
    return f"{probe.name} {say_depth(probe.depth_milli_m, picture.unit)}".strip()


def _value(picture: PileSection, probe: PileProbe) -> str:
    return picture.unit.say(probe.milli_c) if probe.live and probe.milli_c is not None else ""


def _draw_depths(sheet: Sheet, picture: PileSection, heap: Heap, depths: _Depths) -> None:
    """Draw the scale of depth at the left, as deep as probes reach, or to the ground if the height is known."""
    inches = picture.unit is Unit.DEGF
    tenths = _IN_TENTHS_MM if inches else _CM_TENTHS_MM
    deepest = max((probe.depth_milli_m or 0 for probe in picture.probes[:PROBES_MOST]), default=0)
    reach = picture.height_milli_m or deepest
    if not reach:
        return
    per_step = depths.per_mm * tenths / 10
    step = next((one for one in (_STEPS_IN if inches else _STEPS_CM) if one * per_step >= 20), 0)
    most = divide_half_even(reach * 10, tenths)
    steps = list(range(0, most + 1, step)) if step else [0, most]
    if steps[-1] < most and (most - steps[-1]) * per_step < 16:
        steps.pop()
    steps = sorted({*steps, most})
    axis = heap.left - 12
    sheet.line(Mark.AXIS, axis, heap.crest, axis, min(depths.place(reach), heap.ground))
    for deep in steps:
        y = min(depths.top + deep * per_step, heap.ground)
        sheet.line(Mark.AXIS, axis - 3, y, axis + 3, y)
        sheet.text(Mark.SMALL, axis - 6, y + 4, str(deep), "end")
    below = min(depths.top + steps[-1] * per_step, heap.ground - 14)
    sheet.text(Mark.SMALL, axis - 6, below + 18, "in" if inches else "cm", "end")


def _draw_probe(sheet: Sheet, heap: Heap, one: _Placed) -> None:
    """Draw a stick from its handle to its tip, by the probe's state."""
    handle = _HEAD + 4
    state, top = one.probe.state, heap.surface(one.x)
    sheet.path(Mark.LEADER, segment(one.label, _HEAD - 3, one.x, handle))
    if state is ProbeState.OUT:
        # A probe that is out lies on the surface.
        sheet.line(Mark.STEM_LOST, one.x, handle, one.x, top - 6)
        sheet.line(Mark.STEM, one.x - 16, top - 5, one.x + 16, top - 5)
        sheet.circle(Mark.TIP_LOST, one.x + 16, top - 5, 3)
        return
    sheet.line(Mark.STEM if one.probe.live else Mark.STEM_LOST, one.x, handle, one.x, one.y)
    if one.probe.live:
        sheet.circle(Mark.TIP, one.x, one.y, 4)
        return
    sheet.circle(Mark.TIP_LOST, one.x, one.y, 4)
    if state is ProbeState.BROKEN:
        x, y = one.x, one.y
        sheet.path(Mark.CROSS, segment(x - 5, y - 5, x + 5, y + 5) + segment(x - 5, y + 5, x + 5, y - 5))


def _draw_hold(sheet: Sheet, picture: PileSection, heap: Heap, levels: Sequence[Level]) -> bool:
    """Draw the hold as a contour with its number where heat passes it; return whether it is named below the heap."""
    hold = picture.hold_milli_c
    found = contours(levels, hold) if hold is not None else []
    if not found:
        return False
    words = _hold_words(picture)
    aside = picture.width >= WIDE_FROM
    for depth in found:
        y = heap.crest + depth
        left, right = heap.core_at(y)
        sheet.line(Mark.CONTOUR, left - 8, y, heap.right + 4 if aside and depth == found[0] else right + 8, y)
    if aside:
        sheet.text(Mark.SMALL, heap.right + 7, heap.crest + found[0] + 4, words)
    else:
        y = heap.ground + 23
        sheet.line(Mark.CONTOUR, 4, y, 30, y)
        sheet.text(Mark.SMALL, 34, y + 4, words)
    return not aside


def _hold_words(picture: PileSection) -> str:
    return "" if picture.hold_milli_c is None else f"hold {picture.unit.say(picture.hold_milli_c)}"


def _say_below(sheet: Sheet, heap: Heap, levels: Sequence[Level]) -> None:
    """Say below the deepest live probe that nothing is known there, if there is room for the words."""
    deepest = max((run[-1][0] for run in known_runs(levels)), default=None)
    words = "not measured below"
    if deepest is not None and heap.tall - deepest > 30 and width_of(words, 12) < (heap.right - heap.left) * CORE_WORDS:
        sheet.text(Mark.SMALL, heap.middle, (heap.crest + deepest + 8 + heap.ground) / 2 + 4, words, "middle")


def _label_probes(sheet: Sheet, picture: PileSection, placed: Sequence[_Placed]) -> None:
    edges = [0.0, *sorted(one.label for one in placed), float(picture.width)]
    # A label may reach half the way to either neighbour, or the whole way to the edge of the sheet.
    gaps = [b - a for a, b in pairwise(edges[1:-1])] + [2 * edges[1] - edges[0], 2 * (edges[-1] - edges[-2])]
    room = min(gaps) - 6
    size = FONT_SIZE[Mark.SMALL]
    # All depths behind the names, or none: a single depth would look like the only one known.
    behind = all(width_of(_name(picture, one.probe), size) <= room for one in placed)
    for one in placed:
        name = _name(picture, one.probe) if behind or not one.probe.name else shorten(one.probe.name, room, size)
        sheet.text(Mark.SMALL, one.label, 38, name, "middle")
        if one.probe.live:
            assert one.probe.milli_c is not None
            value = picture.unit.say(one.probe.milli_c)
            mark = Mark.STRONG if len(placed) <= 5 else Mark.SMALL
            sheet.text(mark, one.label, 54, value.replace(" °", "°") if len(placed) > 5 else value, "middle")
        else:
            sheet.text(Mark.SMALL, one.label, 53, shorten(one.probe.trouble, room, size), "middle")


def _draw_foot(sheet: Sheet, picture: PileSection, heap: Heap, placed: Sequence[_Placed], *, named: bool) -> None:
    """Write under the heap its size, whether all of it that is known keeps the hold, and that sides mean nothing.

    Args:
        sheet: Receives the words.
        picture: The picture.
        heap: Its heap.
        placed: Its probes.
        named: Whether the contour is named there already.
    """
    y = heap.ground + 27
    hold = picture.hold_milli_c
    live = [one.probe.milli_c for one in placed if one.probe.live and one.probe.depth_milli_m is not None]
    all_hot = hold is not None and bool(live) and all(milli is not None and milli >= hold for milli in live)
    size, room = FONT_SIZE[Mark.SMALL], picture.width - 8
    parts = [picture.size, f"all at {picture.unit.say(hold)} or more" if all_hot and hold is not None else ""]
    words = "" if named else "; ".join(part for part in parts if part)
    taken = 30 + width_of(_hold_words(picture), size) if named else width_of(words, size)
    sheet.text(Mark.SMALL, 4, y, shorten(words, room, size))
    if len(placed) > 1 and not picture.empty:
        fits = taken + width_of(NO_SIDES, size) + 6 <= room
        sheet.text(Mark.SMALL, picture.width - 4, y if fits else y + 14, NO_SIDES, "end")


def say_depth(milli_m: int, unit: Unit) -> str:
    """Return a depth for people: inches beside °F (`24 in`), else centimetres (`60 cm`)."""
    if unit is Unit.DEGF:
        return f"{divide_half_even(milli_m * 10, 254)} in"
    return f"{divide_half_even(milli_m, 10)} cm"


def say_pile(picture: PileSection) -> str:
    """Describe a pile in section in sentences."""
    said = [f"Phase: {picture.phase}."] if picture.phase else []
    for probe in picture.probes[:PROBES_MOST]:
        deep = "" if probe.depth_milli_m is None else say_depth(probe.depth_milli_m, picture.unit)
        who = f"{probe.name} at {deep}" if probe.name and deep else probe.name or deep or "a probe"
        value = picture.unit.say(probe.milli_c) if probe.live and probe.milli_c is not None else probe.trouble
        said.append(f"{who}: {value}.")
    if len(picture.probes) > PROBES_MOST:
        said.append(f"And {len(picture.probes) - PROBES_MOST} more probes.")
    if picture.air_milli_c is not None:
        said.append(f"Air: {picture.unit.say(picture.air_milli_c)}.")
    if picture.size:
        said.append(f"Size: {picture.size}.")
    if picture.empty:
        return " ".join([*said, "Nothing is known to lie there."])
    said.append(
        "Heat is drawn by depth alone, between probes that report; where they stand from left to right means nothing."
    )
    return " ".join(said)
