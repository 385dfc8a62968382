"""A pile in section: the heap by its method, its probes at their depths, and the heat around them.

Rules this module keeps:
1. A probe stands at its depth below the surface, to scale if the height is known; its name and value stand above its
   handle, so nothing is written over the heat.
2. A probe that is silent has a broken stem and an open tip, a probe that is out lies on the surface, a broken one bears a
   cross; each says so in words.
3. Heat follows the rules of `heat`: by depth alone, and only within reach of a live probe. Nobody knows where a probe sits
   from left to right; the probes stand side by side so that they can be told apart.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from monitor.drawing.heat import Level, heat_strokes
from monitor.drawing.ink import Ink, Mark
from monitor.drawing.lettering import shorten, spread, width_of
from monitor.drawing.scales import Unit
from monitor.drawing.section_values import PileProbe, PileSection, PileShape, ProbeState
from monitor.drawing.svg_sheet import FONT_SIZE, Sheet, polyline, segment
from monitor.model.units import divide_half_even

PROBES_MOST = 12
"""Most probes drawn in one pile; the words say how many more there are."""

REACH = 0.2
"""Distance above and below a probe at which its value still holds, in heights of the heap."""
CORE = 0.62
"""Share of the heap's width that is its core; a choice of this project, like the reach."""
_ASIDE = 7.0
"""Distance of a probe's depth label to the right of its tip, units."""
_HEAD = 64.0
_FOOT = 34.0
_DEFAULT_HEIGHT_MM = 1500  # common practice, no published source: a heap about as high as a person's chest


@dataclass(frozen=True, slots=True)
class Heap:
    """The outline of a heap on the sheet: its feet, the ground, its crest, and the curve of its surface."""

    left: float
    right: float
    ground: float
    crest: float
    shape: PileShape

    def surface(self, x: float) -> float:
        """Return the height of the surface at x; the ground beyond the feet."""
        if not self.left < x < self.right:
            return self.ground
        if self.shape is PileShape.VESSEL:
            return self.crest
        # Flat-topped for a windrow, rounder for a mound: |u|^p, u from -1 at one foot to 1 at the other.
        power = {PileShape.MOUND: 1.9, PileShape.WINDROW: 2.6}.get(self.shape, 2.2)
        u = abs(2 * (x - self.left) / (self.right - self.left) - 1)
        rise: float = (1 - u**power) ** 0.9
        return self.ground - (self.ground - self.crest) * rise

    def outline(self, lift: float = 0.0) -> list[tuple[float, float]]:
        """Return the surface from foot to foot, `lift` units further out."""
        count = 40
        points = []
        for step in range(count + 1):
            x = self.left + (self.right - self.left) * step / count
            u = 2 * step / count - 1
            points.append((x + lift * u, self.surface(x) - (lift if 0 < step < count else 0)))
        return points


@dataclass(frozen=True, slots=True)
class _Placed:
    """A probe with the place of its tip, and the x of its label."""

    probe: PileProbe
    x: float
    y: float
    label: float


def pile_section(picture: PileSection, ink: Ink = Ink.SCREEN) -> str:
    """Return a pile in section as SVG text."""
    sheet = Sheet(
        picture.width, picture.height, picture.title or "The pile in section", picture.words or say_pile(picture)
    )
    margin = 16.0 if picture.width < 500 else 40.0
    ground = picture.height - _FOOT
    bare = picture.empty and picture.shape is not PileShape.VESSEL
    heap = Heap(margin, picture.width - margin, ground, ground if bare else _HEAD + 18, picture.shape)
    _draw_head(sheet, picture)
    if not picture.empty:
        _draw_heap(sheet, heap)
    placed = _placed(picture, heap)
    levels = [
        Level(one.y - heap.surface(one.x), one.probe.milli_c if one.probe.live else None)
        for one in placed
        if one.probe.depth_milli_m is not None and not picture.empty
    ]
    reach = (heap.ground - heap.crest) * REACH
    box = (heap.left, heap.crest, heap.right, heap.ground)

    def depth(x: float, y: float) -> float:
        return y - heap.surface(x)

    for mark, data in heat_strokes(_in_core(heap), box, depth, levels, reach, picture.hold_milli_c).items():
        sheet.path(mark, data)
    _draw_method(sheet, heap)
    for one in placed:
        _draw_probe(sheet, heap, one)
    _label_probes(sheet, picture, heap, placed)
    _draw_foot(sheet, picture, heap, placed)
    return sheet.render(ink)


def _draw_head(sheet: Sheet, picture: PileSection) -> None:
    air = "" if picture.air_milli_c is None else f"air {picture.unit.say(picture.air_milli_c)}"
    sheet.text(Mark.STRONG, 4, 14, shorten(picture.phase, picture.width - 110, FONT_SIZE[Mark.STRONG]))
    sheet.text(Mark.TEXT, picture.width - 4, 14, air, "end")


def _in_core(heap: Heap) -> Callable[[float, float], bool]:
    """Return a test of points: in the core, that is within the heap and clear of its edges and feet, where no probe sits."""
    middle, half = (heap.left + heap.right) / 2, (heap.right - heap.left) / 2 * CORE

    def in_core(x: float, y: float) -> bool:
        return abs(x - middle) < half and heap.surface(x) + 6 < y < heap.ground - 5

    return in_core


def _depths(picture: PileSection, placed: Sequence[_Placed]) -> list[str]:
    """Return the depth of each probe in words; "" if it is not known, or the probe does not sit at it."""
    return [
        ""
        if one.probe.depth_milli_m is None or one.probe.state is ProbeState.OUT
        else say_depth(one.probe.depth_milli_m, picture.unit)
        for one in placed
    ]


def _fit_beside(heap: Heap, placed: Sequence[_Placed], depths: Sequence[str]) -> bool:
    """Return whether every depth has room beside its tip: within the heap, and under no other probe's stem."""
    size = FONT_SIZE[Mark.SMALL]
    for one, words in zip(placed, depths, strict=True):
        right = one.x + _ASIDE + width_of(words, size) + 2
        stems = [other.x for other in placed if other.x > one.x and other.y > one.y - size]
        if words and (right > min(stems, default=heap.right) or heap.surface(right) > one.y - size):
            return False
    return True


def _draw_heap(sheet: Sheet, heap: Heap) -> None:
    if heap.shape is PileShape.VESSEL:
        sheet.rect(Mark.EARTH, heap.left, heap.crest, heap.right - heap.left, heap.ground - heap.crest, 10)
        return
    sheet.path(Mark.EARTH, polyline(heap.outline()) + "Z")


def _draw_method(sheet: Sheet, heap: Heap) -> None:
    """Draw the surface, the ground, and the parts of the method: cover and pipe, or lid and legs."""
    middle = (heap.left + heap.right) / 2
    if heap.shape is PileShape.VESSEL:
        sheet.rect(Mark.BOX, heap.left, heap.crest, heap.right - heap.left, heap.ground - heap.crest, 10)
        sheet.line(Mark.PIPE, heap.left + 14, heap.crest - 4, heap.right - 14, heap.crest - 4)
        for x in (heap.left + 24, heap.right - 24):
            sheet.path(Mark.OUTLINE, segment(x, heap.ground, x, heap.ground + 7) + "m-5 0h10")
    else:
        sheet.path(Mark.OUTLINE, polyline(heap.outline()))
        wide = heap.left + heap.right
        tufts = (segment(x, heap.ground + 2, x - 4, heap.ground + 8) for x in range(12, int(wide) - 4, 14))
        sheet.path(Mark.SOIL, segment(2, heap.ground, wide - 2, heap.ground) + "".join(tufts))
    if heap.shape is PileShape.STATIC and heap.crest < heap.ground:
        sheet.path(Mark.COVER, polyline(heap.outline(6)))
        sheet.circle(Mark.PIPE, middle, heap.ground - 8, 7)
        for dx in (-1, 0, 1):
            x = middle + dx * 9
            sheet.path(
                Mark.DRAUGHT,
                f"M{x:.1f} {heap.ground - 18:.1f}l{dx * 7} -14m{-3 - dx} 4l{3 + dx} -4l{3 - dx} 4",
            )


def _placed(picture: PileSection, heap: Heap) -> list[_Placed]:
    probes = picture.probes[:PROBES_MOST]
    if not probes:
        return []
    deepest = max((probe.depth_milli_m or 0 for probe in probes), default=0)
    tall = picture.height_milli_m or max(_DEFAULT_HEIGHT_MM, deepest * 10 // 8)
    across = [
        probe.across_thousandths if probe.across_thousandths is not None else 1000 * (2 * n + 1) // (2 * len(probes))
        for n, probe in enumerate(probes)
    ]
    # Stay clear of the feet, where the heap has no depth.
    xs = [heap.left + (heap.right - heap.left) * (0.14 + 0.72 * min(max(a, 0), 1000) / 1000) for a in across]
    # Labels stand further apart than their probes if their words need it; a leader joins the two.
    words = max(
        max(width_of(text[:60], 13) for text in (probe.name, probe.trouble, _value(picture, probe))) for probe in probes
    )
    room = min((picture.width - 8) / len(probes), max(1.2 * words + 8, 72))
    labels = spread(xs, room, 4 + room / 2, picture.width - 4 - room / 2)
    placed = []
    for probe, x, label in zip(probes, xs, labels, strict=True):
        top = heap.surface(x)
        deep = (heap.ground - heap.crest) * (probe.depth_milli_m or tall // 2) / tall
        placed.append(_Placed(probe, x, min(top + max(deep, 8), heap.ground - 6), label))
    return placed


def _value(picture: PileSection, probe: PileProbe) -> str:
    return picture.unit.say(probe.milli_c) if probe.live and probe.milli_c is not None else ""


def _draw_probe(sheet: Sheet, heap: Heap, one: _Placed) -> None:
    """Draw a stem from its handle to its tip, by the probe's state."""
    handle = _HEAD + 4
    state, top = one.probe.state, heap.surface(one.x)
    sheet.path(Mark.LEADER, segment(one.label, _HEAD - 2, one.x, handle))
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


def _label_probes(sheet: Sheet, picture: PileSection, heap: Heap, placed: Sequence[_Placed]) -> None:
    edges = [0.0, *sorted(one.label for one in placed), float(picture.width)]
    # A label may reach half the way to either neighbour, or the whole way to the edge of the sheet.
    gaps = [b - a for a, b in pairwise(edges[1:-1])] + [2 * edges[1] - edges[0], 2 * (edges[-1] - edges[-2])]
    room = min(gaps) - 6
    size = FONT_SIZE[Mark.SMALL]
    depths = _depths(picture, placed)
    named = [f"{one.probe.name} {depth}".rstrip() for one, depth in zip(placed, depths, strict=True)]
    # All depths beside the tips, else all behind the names, else none: a single depth would look like the only one known.
    beside = _fit_beside(heap, placed, depths)
    behind = not beside and all(width_of(words, size) <= room for words in named)
    for one, depth, words in zip(placed, depths, named, strict=True):
        sheet.text(Mark.SMALL, one.label, 36, words if behind else shorten(one.probe.name, room, size), "middle")
        if one.probe.live:
            assert one.probe.milli_c is not None
            value = picture.unit.say(one.probe.milli_c)
            mark = Mark.STRONG if len(placed) <= 5 else Mark.SMALL
            sheet.text(mark, one.label, 52, value.replace(" °", "°") if len(placed) > 5 else value, "middle")
        else:
            sheet.text(Mark.SMALL, one.label, 51, shorten(one.probe.trouble, 0.8 * room, size), "middle")
        if beside:
            sheet.text(Mark.SMALL, one.x + _ASIDE, one.y + 4, depth, ground=True)


def _draw_foot(sheet: Sheet, picture: PileSection, heap: Heap, placed: Sequence[_Placed]) -> None:
    """Write the size under the heap, and the meaning of crossed strokes if there may be any."""
    y = heap.ground + 27
    hold = picture.hold_milli_c
    hot = hold is not None and any(one.probe.live and (one.probe.milli_c or 0) >= hold for one in placed)
    key = f"crossed: {picture.unit.say(hold)} and more" if hot and hold is not None else ""
    sheet.text(Mark.SMALL, 4, y, shorten(picture.size, picture.width - (160 if key else 8), 11))
    sheet.text(Mark.SMALL, picture.width - 4, y, key, "end")


def say_depth(milli_m: int, unit: Unit) -> str:
    """Return a depth for people: inches beside °F (`24 in`), else centimetres (`60 cm`)."""
    if unit is Unit.DEGF:
        return f"{divide_half_even(milli_m * 10, 254)} in"
    return f"{divide_half_even(milli_m, 10)} cm"


def say_pile(picture: PileSection) -> str:
    """Describe a pile in section in sentences."""
    said = [f"Phase: {picture.phase}."] if picture.phase else []
    for probe in picture.probes[:PROBES_MOST]:
        deep = "" if probe.depth_milli_m is None else f" at {say_depth(probe.depth_milli_m, picture.unit)}"
        value = picture.unit.say(probe.milli_c) if probe.live and probe.milli_c is not None else probe.trouble
        said.append(f"{probe.name}{deep}: {value}.")
    if len(picture.probes) > PROBES_MOST:
        said.append(f"And {len(picture.probes) - PROBES_MOST} more probes.")
    if picture.air_milli_c is not None:
        said.append(f"Air: {picture.unit.say(picture.air_milli_c)}.")
    if picture.size:
        said.append(f"Size: {picture.size}.")
    if picture.empty:
        return " ".join([*said, "Nothing is known to lie there."])
    said.append(
        "Heat is drawn by depth alone, near probes that report; where they stand from left to right means nothing."
    )
    return " ".join(said)
