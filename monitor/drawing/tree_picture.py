"""A tree of material: a lot on top, below it and further right whatever went into it, box by box.

Rules this module keeps:
1. Each kind of box has a shape of its own and says its kind in words. A full line leads to what surely went in, a dashed one,
   with a dashed box, to what may have; the box says so too. Colour carries nothing.
2. Rows never overlap: each box has a row of its own, as high as its words need, and lines run only where no box is.
3. At most `MOST` boxes are drawn, nearest first; the rest is counted in words. A box that stands twice has its parts once.
"""

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass

from monitor.drawing.ink import Ink, Mark
from monitor.drawing.lettering import clean, wrapped
from monitor.drawing.svg_sheet import FONT_SIZE, Sheet, number, segment
from monitor.drawing.tree_values import TreeBox, TreeKind

MOST = 40
"""The most boxes of one picture."""
_EDGE, _STEP, _ALL_STEPS, _GAP, _PAD = 4.0, 20.0, 120.0, 7.0, 7.0
"""Margin of the sheet; how far a part stands to the right, once and at most in all; between two rows; within a box, units."""
_NAME, _WORD = FONT_SIZE[Mark.TEXT], FONT_SIZE[Mark.SMALL]
_CUT = 8.0
_WIDEST = 1.08
"""How much wider the letters of a substitute typeface may be than reckoned."""
_MANY = {
    TreeKind.LOT: "lots",
    TreeKind.HARVEST: "harvests",
    TreeKind.BED: "beds",
    TreeKind.HEAP: "heaps",
    TreeKind.CAME_IN: "materials",
}
_ONE = {
    TreeKind.LOT: "lot",
    TreeKind.HARVEST: "harvest",
    TreeKind.BED: "bed",
    TreeKind.HEAP: "heap",
    TreeKind.CAME_IN: "material",
}


@dataclass(frozen=True, slots=True)
class _Row:
    """A box on the sheet: `over` is the row of the box that it went into, -1 for the first."""

    box: TreeBox
    depth: int
    over: int
    top: float
    height: float
    left: float
    right: float
    name: tuple[str, ...]
    words: tuple[str, ...]

    @property
    def middle(self) -> float:
        return self.top + self.height / 2


def tree_picture(tree: TreeBox, width: float = 640, ink: Ink = Ink.SCREEN) -> str:
    """Return a tree of material as SVG text.

    Args:
        tree: The first box, with its parts.
        width: Size across, units.
        ink: The source of the colours.
    """
    drawn = _nearest(tree)
    rows = _rows(tree, drawn, width)
    rest = wrapped(_rest(tree, drawn), (width - 2 * _EDGE) / _WIDEST, _WORD, 3)
    low = rows[-1].top + rows[-1].height + 22
    sheet = Sheet(width, low + 15 * len(rest) + 6, tree.name, say_tree(tree))
    _draw_lines(sheet, rows)
    for row in rows:
        _draw_box(sheet, row)
    for at, (mark, words) in enumerate(((Mark.TREE_LINE, "surely in it"), (Mark.TREE_MAYBE_LINE, "may be in it"))):
        left = _EDGE + at * (width / 2 - _EDGE)
        sheet.line(mark, left, low - 4, left + 26, low - 4)
        sheet.text(Mark.SMALL, left + 32, low, words)
    for at, line in enumerate(rest, 1):
        sheet.text(Mark.SMALL, _EDGE, low + 15 * at, line)
    return sheet.render(ink)


def say_tree(tree: TreeBox) -> str:
    """Return a description of a tree in sentences: what is in it for certain, and what may be."""
    boxes = [one for one in _all(tree) if one is not tree and not one.told]
    told = []
    for certain, head in ((True, "It contains"), (False, "It may contain")):
        some = [
            f"{clean(one.name)} ({clean(one.words)})" if one.words else clean(one.name)
            for one in boxes
            if one.certain is certain
        ]
        if some:
            told.append(f"{head} {'; '.join(some)}.")
    return " ".join(told) or "Nothing is recorded of what went into it."


def _all(tree: TreeBox) -> list[TreeBox]:
    """Return all boxes, nearest first."""
    found = [tree]
    for box in found:  # the list grows while it is read
        found.extend(_in_order(box))
    return found


def _in_order(box: TreeBox) -> list[TreeBox]:
    """Return the parts of a box, the certain ones first, so that one line serves them."""
    return sorted(box.parts, key=lambda one: not one.certain)


def _nearest(tree: TreeBox) -> set[int]:
    """Return the ids of the boxes that are drawn."""
    return {id(one) for one in _all(tree)[:MOST]}


def _rest(tree: TreeBox, drawn: set[int]) -> str:
    left = Counter(one.kind for one in _all(tree) if id(one) not in drawn and not one.told)
    if not left:
        return ""
    count = sum(left.values())
    each = ", ".join(
        f"{left[kind]} {_ONE[kind] if left[kind] == 1 else _MANY[kind]}" for kind in TreeKind if left[kind]
    )
    return f"{count} more {'is' if count == 1 else 'are'} not drawn: {each}. The list names all."


def _rows(tree: TreeBox, drawn: set[int], width: float) -> list[_Row]:
    deepest = max(depth for _, depth, _ in _walk(tree, drawn))
    step = min(_STEP, _ALL_STEPS / max(1, deepest))
    rows: list[_Row] = []
    top = _EDGE
    for box, depth, over in _walk(tree, drawn):
        left, right = _EDGE + depth * step, width - _EDGE
        room = (right - left - 2 * _PAD - _CUT) / _WIDEST
        name = tuple(wrapped(box.name, room, _NAME, 2))
        words = tuple(wrapped(_said(box), room, _WORD, 3))
        height = 2 * _PAD + 15 * len(name) + 13 * len(words)
        rows.append(_Row(box, depth, over, top, height, left, right, name, words))
        top += height + _GAP
    return rows


def _walk(tree: TreeBox, drawn: set[int]) -> Iterator[tuple[TreeBox, int, int]]:
    """Yield each drawn box with its depth and the row of the box that it went into, from top to bottom."""
    todo = [(tree, 0, -1)]
    row = 0
    while todo:
        box, depth, over = todo.pop()
        yield box, depth, over
        todo.extend((one, depth + 1, row) for one in reversed(_in_order(box)) if id(one) in drawn)
        row += 1


def _said(box: TreeBox) -> str:
    parts = ("" if box.certain else "may be in it", box.words, "its parts stand at its other box" if box.told else "")
    return "; ".join(one for one in parts if one)


def _draw_lines(sheet: Sheet, rows: list[_Row]) -> None:
    """Draw the lines from each box down to its parts; where a line serves several, it is full as far as a certain one."""
    from_y = {at: row.top + row.height for at, row in enumerate(rows)}
    for row in rows[1:]:
        over = rows[row.over]
        x = over.left + (row.left - over.left) / 2
        mark = Mark.TREE_LINE if row.box.certain else Mark.TREE_MAYBE_LINE
        sheet.path(mark, segment(x, from_y[row.over], x, row.middle) + f"H{number(row.left)}")
        from_y[row.over] = row.middle


def _draw_box(sheet: Sheet, row: _Row) -> None:
    mark = Mark.TREE_BOX if row.box.certain else Mark.TREE_MAYBE_BOX
    left, right, top, low = row.left, row.right, row.top, row.top + row.height
    kind = row.box.kind
    if kind is TreeKind.HARVEST:
        sheet.rect(mark, left, top, right - left, row.height, 10)
    elif kind is TreeKind.HEAP:
        # Its sides lean in like a heap's.
        lean = f"L{number(left + _CUT / 2)} {number(top)}H{number(right - _CUT)}L{number(right)} {number(low)}Z"
        sheet.path(mark, f"M{number(left)} {number(low)}{lean}")
    elif kind is TreeKind.CAME_IN:
        # A bag: its upper right corner is folded over.
        fold = f"H{number(right - _CUT)}L{number(right)} {number(top + _CUT)}"
        sheet.path(mark, f"M{number(left)} {number(top)}{fold}V{number(low)}H{number(left)}Z")
        sheet.path(mark, f"M{number(right - _CUT)} {number(top)}V{number(top + _CUT)}H{number(right)}")
    else:
        sheet.rect(mark, left, top, right - left, row.height)
        if kind is TreeKind.LOT:
            sheet.rect(mark, left + 2.5, top + 2.5, right - left - 5, row.height - 5)
        else:
            # A bed stands in boards: a second line at its foot.
            sheet.path(mark, segment(left, low - 3, right, low - 3))
    y = top + _PAD
    for text in row.name:
        y += 15
        sheet.text(Mark.TEXT, left + _PAD, y - 4, text)
    for text in row.words:
        y += 13
        sheet.text(Mark.SMALL, left + _PAD, y - 3, text)
