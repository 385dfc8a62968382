"""The outline of a heap in section, and the parts of its method: cover and pipe, lid and legs, the ground."""

from dataclasses import dataclass

from monitor.drawing.ink import Mark
from monitor.drawing.section_values import PileShape
from monitor.drawing.svg_sheet import Sheet, polyline, segment

CORE = 0.62
"""Share of the heap's width that is its core; a choice of this project."""


@dataclass(frozen=True, slots=True)
class Heap:
    """The outline of a heap on the sheet: its feet, the ground, its crest, and the curve of its surface."""

    left: float
    right: float
    ground: float
    crest: float
    shape: PileShape

    @property
    def middle(self) -> float:
        """The x half-way between the feet."""
        return (self.left + self.right) / 2

    @property
    def tall(self) -> float:
        """The height of the heap, units."""
        return self.ground - self.crest

    def surface(self, x: float) -> float:
        """Return the height of the surface at x; the ground beyond the feet."""
        if not self.left < x < self.right:
            return self.ground
        if self.shape is PileShape.VESSEL:
            return self.crest
        # Nearly level over the core, so that a depth is the same wherever a probe is drawn: |u|^p, u from -1 to 1 at the feet.
        power = {PileShape.MOUND: 3.0, PileShape.WINDROW: 3.6}.get(self.shape, 3.3)
        u = abs(2 * (x - self.left) / (self.right - self.left) - 1)
        rise: float = (1 - u**power) ** 0.9
        return self.ground - self.tall * rise

    def core_at(self, y: float) -> tuple[float, float]:
        """Return where the core begins and ends at a height of the sheet; the same x twice outside the heap."""
        half = (self.right - self.left) / 2 * CORE
        # Wider at the base, as a heap is; and always clear of the surface.
        half *= 0.86 + 0.14 * min(max((y - self.crest) / self.tall, 0), 1) if self.tall else 1
        while half > 0 and self.surface(self.middle + half) > y - 4:
            half -= 2
        half = max(half, 0.0)
        return self.middle - half, self.middle + half

    def outline(self, lift: float = 0.0) -> list[tuple[float, float]]:
        """Return the surface from foot to foot, `lift` units further out."""
        count = 40
        points = []
        for step in range(count + 1):
            x = self.left + (self.right - self.left) * step / count
            u = 2 * step / count - 1
            points.append((x + lift * u, self.surface(x) - (lift if 0 < step < count else 0)))
        return points


def draw_earth(sheet: Sheet, heap: Heap) -> None:
    """Fill the heap."""
    if heap.shape is PileShape.VESSEL:
        sheet.rect(Mark.EARTH, heap.left, heap.crest, heap.right - heap.left, heap.tall, 10)
        return
    sheet.path(Mark.EARTH, polyline(heap.outline()) + "Z")


def draw_method(sheet: Sheet, heap: Heap) -> None:
    """Draw the surface, the ground, and the parts of the method: cover and pipe, or lid and legs."""
    if heap.shape is PileShape.VESSEL:
        sheet.rect(Mark.BOX, heap.left, heap.crest, heap.right - heap.left, heap.tall, 10)
        sheet.line(Mark.PIPE, heap.left + 14, heap.crest - 4, heap.right - 14, heap.crest - 4)
        for x in (heap.left + 24, heap.right - 24):
            sheet.path(Mark.OUTLINE, segment(x, heap.ground, x, heap.ground + 7) + "m-5 0h10")
    else:
        sheet.path(Mark.OUTLINE, polyline(heap.outline()))
        first, last = heap.left - 10, min(heap.right + 10, sheet.width - 2)
        tufts = (segment(x, heap.ground + 2, x - 4, heap.ground + 8) for x in range(int(first) + 8, int(last) - 2, 14))
        sheet.path(Mark.SOIL, segment(first, heap.ground, last, heap.ground) + "".join(tufts))
    if heap.shape is PileShape.STATIC and heap.crest < heap.ground:
        sheet.path(Mark.COVER, polyline(heap.outline(6)))
        sheet.circle(Mark.PIPE, heap.middle, heap.ground - 8, 7)
        for dx in (-1, 0, 1):
            x = heap.middle + dx * 9
            sheet.path(
                Mark.DRAUGHT,
                f"M{x:.1f} {heap.ground - 18:.1f}l{dx * 7} -14m{-3 - dx} 4l{3 + dx} -4l{3 - dx} 4",
            )
