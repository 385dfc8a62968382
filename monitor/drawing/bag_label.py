"""The label of a bag: words at the left, a code at the right, cautions below; 96 by 66 mm, eight to a sheet of A4 or US letter.

Rules this module keeps:
1. Cautions come whole or not at all: if there is too much to say, what the record says of heat is cut, and never a caution.
2. A code has four squares of bare paper around it (ISO/IEC 18004) and is black on white, also at night.
3. Without a code the bag's name stands there in large words.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from monitor.drawing.ink import Ink, Mark
from monitor.drawing.lettering import shorten, wrapped
from monitor.drawing.svg_sheet import FONT_SIZE, Sheet, number

WIDTH, HEIGHT = 436.0, 300.0
"""Size of a label, units."""
UNIT_MM = 0.22
"""Size of a unit on paper, mm: letters are 2.4 mm and more."""
_CODE = 118.0
_QUIET = 4
"""Bare squares around a code."""
_EDGE, _LINE, _SMALL = 8.0, 14.0, 12.0
_MOST_HEAT, _MOST_CAUTION = 5, 6
_WIDEST, _WIDEST_BOLD = 1.12, 1.2
"""How much wider the letters of a substitute typeface may be than reckoned; a caution must not run off the paper."""


@dataclass(frozen=True, slots=True)
class BagLabel:
    """The words of a label, and its code.

    Attributes:
        kind: What is in the bag: `Worm castings`.
        lot: The lot's id.
        lines: Whose it is, when it was made, how much.
        heat: What may be said of heat.
        cautions: What to heed, sentence by sentence, the most important first.
        code: The squares of a code, row by row, 1 for dark; () for none.
    """

    kind: str
    lot: str
    lines: tuple[str, ...]
    heat: str
    cautions: tuple[str, ...]
    code: Sequence[Sequence[int]] = ()


def bag_label(label: BagLabel, words: str = "") -> str:
    """Return a label as SVG text in black on white, sized in mm.

    Args:
        label: The label.
        words: A description of it; "": its own words.
    """
    said = words or " ".join((*label.lines, f"{label.heat}.", *label.cautions))
    sheet = Sheet(WIDTH, HEIGHT, f"{label.kind}, {label.lot}", said, unit_mm=UNIT_MM)
    sheet.rect(Mark.LABEL_PAPER, 0, 0, WIDTH, HEIGHT)
    left = WIDTH - _CODE - _EDGE
    _draw_code(sheet, label, left)
    room = left - 2 * _EDGE
    y = _EDGE + 12
    for mark, text in ((Mark.STRONG, label.kind), (Mark.STRONG, label.lot), *((Mark.TEXT, one) for one in label.lines)):
        wider = _WIDEST_BOLD if mark is Mark.STRONG else _WIDEST
        sheet.text(mark, _EDGE, y, shorten(text, room / wider, FONT_SIZE[mark]))
        y += _LINE + 1
    for line in wrapped(f"{label.heat}.", room / _WIDEST_BOLD, FONT_SIZE[Mark.STRONG], _MOST_HEAT):
        sheet.text(Mark.STRONG, _EDGE, y, line)
        y += _LINE
    below = max(y - 6, _CODE) + 10
    _draw_cautions(sheet, label.cautions, below)
    return sheet.render(Ink.PRINT)


def _draw_cautions(sheet: Sheet, cautions: Sequence[str], top: float) -> None:
    """Write the cautions one below the other, as many as have room whole."""
    y = top
    for words in cautions:
        lines = wrapped(words, (WIDTH - 2 * _EDGE) / _WIDEST, FONT_SIZE[Mark.LABEL_WORDS], _MOST_CAUTION)
        if y + _SMALL * (len(lines) - 1) > HEIGHT - 5:
            return
        for line in lines:
            sheet.text(Mark.LABEL_WORDS, _EDGE, y, line)
            y += _SMALL
        y += 1.5


def _draw_code(sheet: Sheet, label: BagLabel, left: float) -> None:
    if not label.code:
        y = _EDGE + 30
        for line in wrapped(label.lot, _CODE / _WIDEST_BOLD, FONT_SIZE[Mark.STRONG], 4):
            sheet.text(Mark.STRONG, left, y, line)
            y += _LINE
        for line in wrapped(
            "Tell the yard this name to hear all that went in.", _CODE / _WIDEST, FONT_SIZE[Mark.LABEL_WORDS], 4
        ):
            sheet.text(Mark.LABEL_WORDS, left, y + 4, line)
            y += _SMALL
        return
    # A whole number of tenths, so that rounding makes no square wider than the next.
    side = int(_CODE / (len(label.code) + 2 * _QUIET) * 10) / 10
    begin = left + _CODE - side * (len(label.code) + _QUIET)
    path: list[str] = []
    for down, row in enumerate(label.code):
        y, across = _EDGE - 4 + side * (_QUIET + down), 0
        while across < len(row):
            run = across
            while run < len(row) and row[run]:
                run += 1
            if run > across:
                wide = side * (run - across)
                path.append(
                    f"M{number(begin + side * across)} {number(y)}h{number(wide)}v{number(side)}h-{number(wide)}z"
                )
            across = max(run, across + 1)
    sheet.path(Mark.CODE, "".join(path))
