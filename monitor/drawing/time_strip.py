"""A thin strip over time for one place: its condition or phase as bands, messages as ticks, labelled troubles as brackets.

Rules this module keeps:
1. Two rows share one time axis, so that today's settings and changed ones can be compared by looking down.
2. A band bears its word if it fits; hot is hatched slanting, cold upright, unknown sparsely.
3. Messages that the changed settings would drop are open, new ones larger and filled; a moved one bears a bar.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from zoneinfo import ZoneInfo

from monitor.drawing.frame import draw_time_axis
from monitor.drawing.ink import Ink, Mark
from monitor.drawing.lettering import clean, shorten, width_of
from monitor.drawing.scales import Scale
from monitor.drawing.shading import hatching, stretches
from monitor.drawing.svg_sheet import FONT_SIZE, Sheet, number, segment
from monitor.drawing.time_ticks import say_date, time_ticks

MESSAGES_MOST = 400
"""Most messages drawn in a row; the words say how many there were."""

_ROW = 24.0
_HEAD = 22.0
_GAP = 12.0


class BandLook(StrEnum):
    """The look of a band."""

    CALM = "calm"
    WARM = "warm"
    HOT = "hot"
    COLD = "cold"
    UNKNOWN = "unknown"


class MessageLook(StrEnum):
    """Fate of a message under the changed settings."""

    KEPT = "kept"
    NEW = "new"
    GONE = "gone"
    MOVED = "moved"


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """A stretch with one condition or phase: its ends (UTC ms), its word, and its look."""

    start: int
    end: int
    word: str
    look: BandLook = BandLook.CALM


@dataclass(frozen=True, slots=True, kw_only=True)
class Message:
    """A message: its instant (UTC ms), its words for people who listen, and its fate."""

    at: int
    words: str = ""
    look: MessageLook = MessageLook.KEPT


@dataclass(frozen=True, slots=True, kw_only=True)
class StripRow:
    """One row: its name, bands and messages."""

    name: str
    bands: tuple[Band, ...]
    messages: tuple[Message, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Trouble:
    """A stretch that a person labelled: trouble, or fine; ends in UTC ms."""

    start: int
    end: int
    label: str = ""
    fine: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Strip:
    """A strip over time: its ends (UTC ms), the yard's zone, rows from above, and labelled stretches.

    Raises:
        ValueError: It ends before it starts.
    """

    start: int
    end: int
    zone: ZoneInfo
    rows: tuple[StripRow, ...]
    troubles: tuple[Trouble, ...] = ()
    width: int = 720
    title: str = ""
    words: str = ""

    def __post_init__(self) -> None:
        """Check the ends."""
        if self.end <= self.start:
            raise ValueError(f"a strip cannot start at {self.start} and end at {self.end}")


_FILL = {
    BandLook.CALM: Mark.BAND_CALM,
    BandLook.WARM: Mark.BAND_WARM,
    BandLook.HOT: Mark.BAND_HOT,
    BandLook.COLD: Mark.BAND_COLD,
    BandLook.UNKNOWN: Mark.BAND_UNKNOWN,
}


def strip(picture: Strip, ink: Ink = Ink.SCREEN) -> str:
    """Return a strip over time as SVG text."""
    top = 30.0 if picture.troubles else 6.0
    block = _HEAD + _ROW + _GAP
    floor = top + block * len(picture.rows)
    data = {"t0": str(picture.start), "t1": str(picture.end), "x0": "6", "x1": number(picture.width - 6.0)}
    sheet = Sheet(
        picture.width, floor + 34, picture.title or "The record as a strip", picture.words or say_strip(picture), data
    )
    scale = Scale(picture.start, picture.end, 6, picture.width - 6)
    _draw_troubles(sheet, scale, picture.troubles, floor - _GAP)
    for place, row in enumerate(picture.rows):
        _draw_row(sheet, scale, row, top + place * block)
    draw_time_axis(sheet, scale, floor, time_ticks(picture.start, picture.end, picture.zone, picture.width - 12))
    return sheet.render(ink)


def _draw_troubles(sheet: Sheet, scale: Scale, troubles: Sequence[Trouble], bottom: float) -> None:
    free = 0.0
    for trouble in sorted(troubles, key=lambda one: one.start)[:MESSAGES_MOST]:
        if trouble.end < scale.low or trouble.start > scale.high:
            continue
        left, right = scale.within(trouble.start), max(scale.within(trouble.end), scale.within(trouble.start) + 2)
        mark = Mark.FINE if trouble.fine else Mark.TROUBLE
        sheet.path(mark, f"M{number(left)} 24V19H{number(right)}V24")
        sheet.path(Mark.LEADER, segment(left, 26, left, bottom) + segment(right, 26, right, bottom))
        words = shorten(trouble.label or ("fine" if trouble.fine else "trouble"), 140, FONT_SIZE[Mark.SMALL])
        half = width_of(words, FONT_SIZE[Mark.SMALL]) / 2
        x = min(max((left + right) / 2, half + 2), scale.at_high - half)
        if x - half >= free:
            sheet.text(Mark.SMALL, x, 13, words, "middle")
            free = x + half + 6


def _draw_row(sheet: Sheet, scale: Scale, row: StripRow, top: float) -> None:
    """Draw a row: its name and messages above, its bands below."""
    y, bottom = top + _HEAD, top + _HEAD + _ROW
    for look in BandLook:
        seen = stretches([(band.start, band.end) for band in row.bands if band.look is look], scale)
        sheet.path(
            _FILL[look], "".join(f"M{number(a)} {number(y)}H{number(b)}V{number(bottom)}H{number(a)}Z" for a, b in seen)
        )
        if look in (BandLook.HOT, BandLook.UNKNOWN):
            sheet.path(Mark.BAND_HATCH, hatching(seen, y, bottom, 6 if look is BandLook.HOT else 14))
        elif look is BandLook.COLD:
            upright = [segment(x, y, x, bottom) for a, b in seen for x in range(int(a) + 3, int(b), 6)]
            sheet.path(Mark.BAND_HATCH, "".join(upright[:300]))
        edges = "".join(segment(x, y, x, bottom) for pair in seen for x in pair)
        sheet.path(Mark.BAND_EDGE, edges)
    sheet.rect(Mark.BAND_EDGE, scale.at_low, y, scale.at_high - scale.at_low, _ROW)
    for band in row.bands:
        left, right = scale.within(band.start), scale.within(band.end)
        word = clean(band.word, 60)
        if word and width_of(word, FONT_SIZE[Mark.SMALL]) + 8 <= right - left:
            sheet.text(Mark.SMALL, (left + right) / 2, y + 16, word, "middle", ground=band.look is not BandLook.CALM)
    name = shorten(row.name, scale.at_high * 0.6, FONT_SIZE[Mark.TEXT])
    ticks = dict.fromkeys(MessageLook, "")
    for message in row.messages[:MESSAGES_MOST]:
        if scale.low <= message.at <= scale.high:
            ticks[message.look] += _tick(scale.place(message.at), y, message.look)
    for kind, data in ticks.items():
        sheet.path(Mark.MESSAGE_GONE if kind is MessageLook.GONE else Mark.MESSAGE, data)
    sheet.text(Mark.TEXT, scale.at_low, top + 9, name, ground=True)


def _tick(x: float, y: float, look: MessageLook) -> str:
    """Return path data of a message's mark, standing on a row's upper edge at y."""
    half = 4.5 if look is MessageLook.NEW else 3.2
    flag = f"M{number(x)} {number(y)}l{number(-half)} {number(-2 * half)}h{number(2 * half)}Z"
    return flag + (f"M{number(x - 6)} {number(y - 10)}h12" if look is MessageLook.MOVED else "")


def say_strip(picture: Strip) -> str:
    """Describe a strip in sentences."""
    said = [f"From {say_date(picture.start, picture.zone)} to {say_date(picture.end, picture.zone)}."]
    for row in picture.rows:
        looks = [message.look for message in row.messages]
        counts = [
            f"{looks.count(look)} {look}" for look in MessageLook if look in looks and look is not MessageLook.KEPT
        ]
        more = f" ({', '.join(counts)})" if counts else ""
        said.append(f"{row.name}: {len(looks)} {'message' if len(looks) == 1 else 'messages'}{more}.")
    troubles = sum(not trouble.fine for trouble in picture.troubles)
    if troubles:
        said.append(f"{troubles} {'stretch is' if troubles == 1 else 'stretches are'} marked as trouble.")
    return " ".join(said)
