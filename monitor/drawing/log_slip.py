"""An empty slip for a bay: lines to write on what was done and read, drawn to size for paper; black on white also at night.

Rules this module keeps:
1. It fits both A4 and Letter, with a margin for a clip.
2. A heap has a column for each depth that its probes, or its spots by hand, are known for, else for three depths to fill in.
3. What the hand must heed stands on the slip itself.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from monitor.drawing.ink import Ink, Mark
from monitor.drawing.lettering import shorten, wrapped
from monitor.drawing.svg_sheet import FONT_SIZE, Sheet, segment

UNIT_MM = 0.35
WIDTH, HEIGHT = 528.0, 700.0
LINES = 20
"""Lines to write on."""
_HEAD, _LINE = 92.0, 26.0
_SMALL = FONT_SIZE[Mark.LABEL_WORDS]


@dataclass(frozen=True, slots=True)
class LogSlip:
    """The words of a slip.

    Attributes:
        site: The yard.
        place: The place.
        is_bin: Whether it is a worm bin.
        unit: The sign of its temperatures: `°F`.
        depths: The depths at which it is read, in words, the deepest first; () leaves three to fill in.
        caution: What to heed.
        address: Where its page is; "" if no phone can reach it.
    """

    site: str
    place: str
    is_bin: bool
    unit: str
    depths: Sequence[str] = ()
    caution: str = ""
    address: str = ""


def log_slip(slip: LogSlip) -> str:
    """Return an empty slip as SVG text, sized in mm."""
    columns = _columns(slip)
    heads = ", ".join(f"{head} {below}".strip() for head, below, _ in columns)
    words = f"An empty slip for {slip.place} with {LINES} lines. Columns: {heads}."
    sheet = Sheet(WIDTH, HEIGHT, f"Log slip, {slip.place}", words, unit_mm=UNIT_MM)
    sheet.rect(Mark.LABEL_PAPER, 0, 0, WIDTH, HEIGHT)
    sheet.text(Mark.SLIP_NAME, 4, 30, shorten(slip.place, WIDTH - 200, FONT_SIZE[Mark.SLIP_NAME]))
    sheet.text(Mark.LABEL_WORDS, WIDTH - 4, 18, shorten(slip.site, 190, _SMALL), "end")
    sheet.text(Mark.LABEL_WORDS, WIDTH - 4, 34, shorten(slip.address, 190, _SMALL), "end")
    for number, line in enumerate(wrapped(slip.caution, WIDTH - 8, _SMALL, 2)):
        sheet.text(Mark.LABEL_WORDS, 4, 50 + 13 * number, line)
    _draw_grid(sheet, columns)
    foot = _HEAD + 14 + LINES * _LINE + 18
    sheet.text(Mark.LABEL_WORDS, 4, foot, "Type it in when you can: what is not written down counts for no rule.")
    return sheet.render(Ink.PRINT)


def _columns(slip: LogSlip) -> list[tuple[str, str, float]]:
    """Return the columns as (head, second line of the head, share of the width)."""
    when = [("Date", "and time", 2.0), ("Who", "", 1.7)]
    if slip.is_bin:
        return [
            *when, ("Fed", "how much", 1.7), ("Water", "", 1.1), ("Temperature", slip.unit, 2.0), ("Squeeze", "", 1.5),
            ("Seen, and done", "", 2.8),
        ]  # fmt: skip
    depths = list(slip.depths[:4]) or ["at ____"] * 3
    return [
        *when, ("Turned", "", 1.35), ("Water", "", 1.1), *((f"{slip.unit}", depth, 1.1) for depth in depths),
        ("Seen, and done", "", 3.0),
    ]  # fmt: skip


def _draw_grid(sheet: Sheet, columns: Sequence[tuple[str, str, float]]) -> None:
    """Draw the columns with their heads, and the lines."""
    total = sum(share for *_, share in columns)
    top, bottom = _HEAD - 14, _HEAD + 14 + LINES * _LINE
    x = 0.5
    path = [segment(0, top, WIDTH, top)]
    for head, below, share in columns:
        path.append(segment(x, top, x, bottom))
        wide = (WIDTH - 1) * share / total
        sheet.text(Mark.LABEL_WORDS, x + 4, _HEAD - 1, shorten(head, wide - 6, _SMALL))
        sheet.text(Mark.LABEL_WORDS, x + 4, _HEAD + 11, shorten(below, wide - 6, _SMALL))
        x += wide
    path.append(segment(x, top, x, bottom))
    path += [segment(0, y, WIDTH, y) for y in (_HEAD + 14 + _LINE * number for number in range(LINES + 1))]
    sheet.path(Mark.SLIP_LINE, "".join(path))
