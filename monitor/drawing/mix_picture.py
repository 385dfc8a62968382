"""A mix among its limits: moisture across, C/N upwards.

Rules this module keeps:
1. Left is too dry, right too wet, below too rich in nitrogen, above too woody, and the picture says so at its four sides. C/N
   is drawn by its logarithm, since what counts is by how many times it differs.
2. Two nested areas: the inner, filled one is best, the outer, dashed one must be kept. The mix is a dot, and its cross
   reaches as far as the ranges of its materials let it.
3. Nothing is drawn beyond the frame: what lies there stands at its edge with an arrow that points on.
"""

from dataclasses import dataclass
from math import log

from monitor.drawing.clearing import Clearing, Place
from monitor.drawing.ink import Ink, Mark
from monitor.drawing.lettering import shorten, width_of
from monitor.drawing.mix_position import TOO_DRY, TOO_RICH, TOO_WET, TOO_WOODY, position_words, say_mix
from monitor.drawing.mix_values import MixMaterial, MixPicture, Stretch
from monitor.drawing.scales import Scale, say_tick, ticks
from monitor.drawing.svg_sheet import FONT_SIZE, Sheet, block, number, segment

_MOISTURE_SHOWN, _CN_SHOWN = Stretch(20, 85), Stretch(10, 120)
"""What is shown at least, so that two pictures can be compared."""
_CN_ENDS = Stretch(2, 1_500)
_CN_TICKS = (2, 3, 5, 7, 10, 15, 20, 30, 40, 60, 80, 120, 200, 300, 500, 1_000)
_NAMED = 14
"""The most materials that are drawn; all of them are described."""
_EDGE, _DIAMOND = 11.0, 4.5
"""How far from an edge a mark stands that lies beyond it, so that its arrow is seen; half the width of a mark."""
_SMALL = FONT_SIZE[Mark.SMALL]


@dataclass(frozen=True, slots=True)
class _Frame:
    """The drawn rectangle: `x` takes percent, `y` the logarithm of C/N."""

    x: Scale
    y: Scale

    def across(self, moisture: float) -> float:
        return self.x.within(moisture)

    def up(self, cn: float | None) -> float:
        """Return the height of a C/N; without nitrogen it is endless."""
        return self.y.at_high if cn is None or cn == float("inf") else self.y.within(log(max(cn, _CN_ENDS.low)))

    def place(self, moisture: float, cn: float | None) -> tuple[float, float]:
        """Return the point; one beyond the frame stands within it, as far from the edge as its arrow needs."""
        right, down = self.beyond(moisture, cn)
        x = self.across(moisture) - right * _EDGE
        return x, self.up(cn) - down * _EDGE

    def beyond(self, moisture: float, cn: float | None) -> tuple[int, int]:
        """Return to which sides a point lies beyond the frame: (-1 left or 1 right, -1 above or 1 below), 0 within."""
        right = (moisture > self.x.high) - (moisture < self.x.low)
        up = cn is None or log(max(cn, _CN_ENDS.low)) > self.y.high
        return right, -1 if up else int(log(max(cn or 1.0, 1e-9)) < self.y.low)


def mix_picture(picture: MixPicture, ink: Ink = Ink.SCREEN) -> str:
    """Return a mix among its limits as SVG text."""
    frame = _frame(picture)
    height = frame.y.at_low + 86
    sheet = Sheet(picture.width, height, picture.title or "The mix among its limits", picture.words or say_mix(picture))
    sheet.text(Mark.STRONG, 4, 14, shorten(_head(picture), picture.width - 8, FONT_SIZE[Mark.STRONG]))
    clearing = Clearing()
    _draw_areas(sheet, frame, picture, clearing)
    _draw_axes(sheet, frame)
    _draw_mix(sheet, frame, picture, clearing)
    _name_sides(sheet, frame, picture, clearing)
    _name_mix(sheet, frame, picture, clearing)
    shown = sorted(picture.materials, key=lambda one: not one.taken)[:_NAMED]
    for one in shown:
        x, y = frame.place(one.moisture, one.cn)
        clearing.mark_line([(x - 5, y - 4), (x + 5, y - 4), (x - 5, y + 4), (x + 5, y + 4)])
    for one in shown:
        _draw_material(sheet, frame, one, clearing)
    _draw_key(sheet, frame.y.at_low + 52, picture)
    return sheet.render(ink)


def _head(picture: MixPicture) -> str:
    words = position_words(picture)
    return words[:1].upper() + words[1:]


def _frame(picture: MixPicture) -> _Frame:
    wet, ratio = picture.moisture_must, picture.cn_must
    low = min(_MOISTURE_SHOWN.low, wet.low - 15, picture.moisture.value - 5)
    high = max(_MOISTURE_SHOWN.high, wet.high + 15, picture.moisture.value + 5)
    least, most = min(_CN_SHOWN.low, ratio.low / 2), max(_CN_SHOWN.high, ratio.high * 2)
    if picture.cn is not None:
        least, most = min(least, picture.cn.value / 1.2), max(most, picture.cn.value * 1.2)
    least, most = max(least, _CN_ENDS.low), min(most, _CN_ENDS.high)
    left, right, top = 34.0, picture.width - 4.0, 40.0
    return _Frame(
        Scale(max(low, 0.0), min(high, 100.0), left, right),
        Scale(log(least), log(most), top + min(300.0, (right - left) * 0.86), top),
    )


def _draw_areas(sheet: Sheet, frame: _Frame, picture: MixPicture, clearing: Clearing) -> None:
    for wet, ratio, marks in (
        (picture.moisture_must, picture.cn_must, (Mark.MIX_MUST,)),
        (picture.moisture_best, picture.cn_best, (Mark.COMFORT, Mark.MIX_BEST)),
    ):
        left, right, top, bottom = (*map(frame.across, wet), *map(frame.up, reversed(ratio)))
        clearing.mark_line([(left, top), (right, top), (right, bottom), (left, bottom), (left, top)])
        for mark in marks:
            sheet.path(mark, block(left, top, right, bottom))


def _draw_axes(sheet: Sheet, frame: _Frame) -> None:
    x, y = frame.x, frame.y
    sheet.path(
        Mark.AXIS, segment(x.at_low, y.at_high, x.at_low, y.at_low) + segment(x.at_low, y.at_low, x.at_high, y.at_low)
    )
    sheet.text(Mark.SMALL, 4, y.at_high - 8, "C/N")
    free = y.at_low + 1
    for ratio in _CN_TICKS:
        at = y.place(log(ratio))
        if y.at_high <= at <= free:
            sheet.line(Mark.AXIS, x.at_low - 4, at, x.at_low, at)
            sheet.text(Mark.SMALL, x.at_low - 6, at + 4, str(ratio), "end")
            free = at - 15
    for value in ticks(x.low, x.high, max(3, int((x.at_high - x.at_low) // 40))):
        at = x.place(value)
        half = width_of(say_tick(value), _SMALL) / 2
        sheet.line(Mark.AXIS, at, y.at_low, at, y.at_low + 4)
        sheet.text(Mark.SMALL, min(at, sheet.width - half), y.at_low + 16, say_tick(value), "middle")
    sheet.text(Mark.SMALL, (x.at_low + x.at_high) / 2, y.at_low + 31, "moisture, % of the wet weight", "middle")


def _name_sides(sheet: Sheet, frame: _Frame, picture: MixPicture, clearing: Clearing) -> None:
    """Write the four words at the four sides, each beside the area that has to be kept."""
    x, y = frame.x, frame.y
    wet, ratio = picture.moisture_must, picture.cn_must
    middle_x = (frame.across(wet.low) + frame.across(wet.high)) / 2
    middle_y = (frame.up(ratio.low) + frame.up(ratio.high)) / 2
    aside, down = (0, 30, -30, 60, -60), (4, -22, 30, -40, 48)
    for words, places in (
        (TOO_WOODY, [Place(middle_x + by, y.at_high + 13, "middle") for by in aside]),
        (f"{TOO_RICH} in nitrogen", [Place(middle_x + by, y.at_low - 8, "middle") for by in aside]),
        (TOO_DRY, [Place(x.at_low + 5, middle_y + by) for by in down]),
        (TOO_WET, [Place(x.at_high - 3, middle_y + by, "end") for by in down]),
    ):
        size = FONT_SIZE[Mark.TEXT]
        place = clearing.take(_fitting(places, words, size, frame), words, size)
        sheet.text(Mark.TEXT, place.x, place.y, words, place.anchor)


def _draw_mix(sheet: Sheet, frame: _Frame, picture: MixPicture, clearing: Clearing) -> None:
    ratio = None if picture.cn is None else picture.cn.value
    x, y = frame.place(picture.moisture.value, ratio)
    left, right = frame.across(picture.moisture.low), frame.across(picture.moisture.high)
    cross = segment(left, y, right, y)
    cross += "".join(segment(end, y - 4, end, y + 4) for end in (left, right)) if right - left > 12 else ""
    clearing.mark_line([(left, y), (right, y)])
    if picture.cn is not None:
        top, bottom = frame.up(picture.cn.high), frame.up(picture.cn.low)
        cross += segment(x, top, x, bottom)
        cross += "".join(segment(x - 4, end, x + 4, end) for end in (top, bottom)) if bottom - top > 12 else ""
        clearing.mark_line([(x, top), (x, bottom)])
    sheet.path(Mark.MIX_RANGE, cross)
    sheet.circle(Mark.TIP, x, y, 5)
    _point_on(sheet, frame, picture.moisture.value, ratio)


def _name_mix(sheet: Sheet, frame: _Frame, picture: MixPicture, clearing: Clearing) -> None:
    x, y = frame.place(picture.moisture.value, None if picture.cn is None else picture.cn.value)
    beside = [Place(x + 9, y - 7), Place(x - 9, y - 7, "end"), Place(x + 9, y + 17), Place(x - 9, y + 17, "end")]
    words = "the mix"
    place = clearing.take(_fitting(beside, words, FONT_SIZE[Mark.STRONG], frame), words, FONT_SIZE[Mark.STRONG])
    sheet.text(Mark.STRONG, place.x, place.y, words, place.anchor)


def _draw_material(sheet: Sheet, frame: _Frame, one: MixMaterial, clearing: Clearing) -> None:
    x, y = frame.place(one.moisture, one.cn)
    sheet.path(Mark.MIX_TAKEN if one.taken else Mark.MIX_LEFT_OUT, _diamond(x, y))
    _point_on(sheet, frame, one.moisture, one.cn)
    words = shorten(one.name, min(130.0, (frame.x.at_high - frame.x.at_low) * 0.45), _SMALL)
    beside = [
        Place(x + 9, y + 4), Place(x - 9, y + 4, "end"), Place(x, y - 9, "middle"), Place(x, y + 18, "middle"),
        *(Place(x + aside, y + down, "end" if aside < 0 else "start")
          for down in (-9, 17, -22, 30, -35, 43) for aside in (8, -8)),
    ]  # fmt: skip
    place = clearing.take(_fitting(beside, words, _SMALL, frame), words, _SMALL)
    if abs(place.y - y - 4) > 20:
        sheet.line(Mark.LEADER, x, y + (5 if place.y > y else -5), place.x, place.y - (9 if place.y > y else -3))
    sheet.text(Mark.SMALL, place.x, place.y, words, place.anchor)


def _fitting(places: list[Place], words: str, size: int, frame: _Frame) -> list[Place]:
    """Return the places at which words stay within the frame; if there is none, the nearest within it."""
    wide, low, high = width_of(words, size), frame.x.at_low + 2, frame.x.at_high

    def left_of(place: Place) -> float:
        return place.x - {"start": 0.0, "middle": wide / 2, "end": wide}[place.anchor]

    fit = [
        place
        for place in places
        if low <= left_of(place) <= high - wide and frame.y.at_high + size <= place.y <= frame.y.at_low - 3
    ]
    first = places[0]
    within = min(max(first.y, frame.y.at_high + size), frame.y.at_low - 3)
    return fit or [Place(min(max(left_of(first), low), high - wide), within)]


def _diamond(x: float, y: float) -> str:
    side = number(_DIAMOND)
    return f"M{number(x)} {number(y - _DIAMOND)}l{side} {side}l-{side} {side}l-{side} -{side}Z"


def _point_on(sheet: Sheet, frame: _Frame, moisture: float, cn: float | None) -> None:
    """Draw the arrow of a point that lies beyond the frame: from its mark to the edge."""
    right, down = frame.beyond(moisture, cn)
    if not right and not down:
        return
    x, y = frame.place(moisture, cn)
    tip_x, tip_y = x + right * _EDGE, y + down * _EDGE
    side_x, side_y = (-down, right) if not (right and down) else (0, 0)
    back_x, back_y = tip_x - right * 3.0, tip_y - down * 3.0
    if right and down:
        # In a corner the head of the arrow is the corner itself.
        head = f"M{number(tip_x - right * 4)} {number(tip_y)}H{number(tip_x)}V{number(tip_y - down * 4)}"
    else:
        head = f"M{number(back_x + side_x * 3)} {number(back_y + side_y * 3)}L{number(tip_x)} {number(tip_y)}"
        head += f"L{number(back_x - side_x * 3)} {number(back_y - side_y * 3)}"
    sheet.path(Mark.MIX_ARROW, segment(x, y, tip_x, tip_y) + head)


def _draw_key(sheet: Sheet, top: float, picture: MixPicture) -> None:
    """Say below the picture which mark means which."""
    half = sheet.width / 2
    sheet.rect(Mark.COMFORT, 4, top - 9, 14, 10)
    sheet.path(Mark.MIX_BEST, block(4, top - 9, 18, top + 1))
    sheet.text(Mark.SMALL, 24, top, "best")
    sheet.path(Mark.MIX_MUST, block(half, top - 9, half + 14, top + 1))
    sheet.text(Mark.SMALL, half + 20, top, "must lie within")
    low = top + 20
    sheet.path(Mark.MIX_TAKEN, _diamond(11, low - 4))
    sheet.text(Mark.SMALL, 24, low, "a material of it")
    if any(not one.taken for one in picture.materials):
        sheet.path(Mark.MIX_LEFT_OUT, _diamond(half + 7, low - 4))
        sheet.text(Mark.SMALL, half + 20, low, "left out")
