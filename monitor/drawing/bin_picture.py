"""A bin in section: boards, lid, feed layer, bedding and worms, between a ruler of temperature and one of moisture.

Rules this module keeps:
1. The box is a drawing of a bin; the rulers at its sides are the measurement. They are equally long, and every limit that
   can ring is named on them (`upright_ruler`).
2. The picture states what is unknown: a probe that does not report has no pointer and stands below in words.
3. Unknown things are not drawn. Food appears only after a known feeding, the less the longer ago, and not after a
   week; worms only if heat and moisture are both known and in comfort.
4. Where there is no room for the rulers at its sides, the box stands above them.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import cos, sin

from monitor.drawing.ink import Ink, Mark
from monitor.drawing.lettering import shorten, width_of
from monitor.drawing.scales import Unit
from monitor.drawing.section_values import BinProbe, BinSection, ProbeState
from monitor.drawing.svg_sheet import FONT_SIZE, Sheet, number, segment
from monitor.drawing.upright_ruler import Stand, UprightRuler, draw_ruler
from monitor.model.times import DAY_MS
from monitor.model.units import Quantity

_WORMS = (
    (0.2, 0.5, 0.3),
    (0.42, 0.78, -0.5),
    (0.63, 0.42, 0.8),
    (0.8, 0.7, -0.2),
    (0.28, 0.82, 0.1),
    (0.55, 0.62, 0.4),
)
_SMALL = FONT_SIZE[Mark.SMALL]
ASIDE = 440
"""Least width of a picture whose rulers stand at the sides of the box, units."""


@dataclass(frozen=True, slots=True)
class _Box:
    """The inside of a bin on the sheet, units."""

    left: float
    right: float
    top: float
    bottom: float

    @property
    def wide(self) -> float:
        return self.right - self.left

    @property
    def tall(self) -> float:
        return self.bottom - self.top


def bin_section(picture: BinSection, ink: Ink = Ink.SCREEN) -> str:
    """Return a bin in section as SVG text."""
    sheet = Sheet(
        picture.width, picture.height, picture.title or "The bin in section", picture.words or say_bin(picture)
    )
    air = "" if picture.air_milli_c is None else f"air {picture.unit.say(picture.air_milli_c)}"
    sheet.text(Mark.STRONG, 4, 14, shorten(picture.condition, picture.width - 100, FONT_SIZE[Mark.STRONG]))
    sheet.text(Mark.TEXT, picture.width - 4, 14, air, "end")
    rulers = _rulers(picture)
    lost = [probe for probe in picture.probes if not probe.live]
    foot = picture.height - 8 - 14 * len(_lost_lines(lost, picture.width))
    if picture.width >= ASIDE:
        wide = picture.width
        box = _Box(212, wide - 164, 44, foot - 12)
        stands = [Stand(120, 50, foot - 8, 0, 206), Stand(wide - 90, 50, foot - 8, wide, wide - 160)]
    else:
        box = _Box(10, picture.width - 10, 34, 34 + (foot - 34) * 0.34)
        top, wide = box.bottom + 54, picture.width
        stands = [Stand(116, top, foot - 8, 0, 136), Stand(wide - 100, top, foot - 8, wide, wide - 120)]
    _draw_box(sheet, picture, box)
    for ruler, stand in zip(rulers, stands, strict=True):
        if ruler.probes:
            x, anchor = (4.0, "start") if stand.way > 0 else (picture.width - 4.0, "end")
            value = "" if stand.says_values else _range_of(ruler)
            sheet.text(Mark.SMALL, x, stand.top - (31 if value else 15), f"{ruler.name}, {ruler.unit.sign}", anchor)
            sheet.text(Mark.STRONG, x, stand.top - 15, value, anchor)
            draw_ruler(sheet, ruler, stand)
    for place, words in enumerate(_lost_lines(lost, picture.width)):
        sheet.text(Mark.SMALL, 4, foot + 14 + 14 * place, words)
    return sheet.render(ink)


def _rulers(picture: BinSection) -> list[UprightRuler]:
    def of(quantity: Quantity) -> tuple[BinProbe, ...]:
        return tuple(probe for probe in picture.probes if probe.quantity is quantity)

    return [
        UprightRuler("temperature", picture.unit, picture.heat_comfort, picture.heat_limits, of(Quantity.TEMPERATURE)),
        UprightRuler("moisture", Unit.PERCENT, picture.damp_comfort, picture.damp_limits, of(Quantity.MOISTURE)),
    ]


def _range_of(ruler: UprightRuler) -> str:
    """Return the values that a ruler points at: `79 °F`, or `79 to 81.5 °F`; "" for none."""
    values = [probe.milli for probe in ruler.probes if probe.live and probe.milli is not None]
    if not values:
        return ""
    low, high = (ruler.unit.say(value) for value in (min(values), max(values)))
    return high if low == high else f"{low.split(' ')[0]} to {high}"


def _lost_lines(lost: Sequence[BinProbe], width: float) -> list[str]:
    """Return the words for probes that do not report, at most three lines."""
    lines = []
    for probe in lost[:3]:
        state = _state_words(probe)
        lines.append(_whole((f"{probe.name}: {probe.words or state}", f"{probe.name}: {state}"), width - 8))
    return lines


def _draw_box(sheet: Sheet, picture: BinSection, box: _Box) -> None:
    bedding = box.top + box.tall * 0.42
    left_over = food_left(picture.fed_ms)
    sheet.rect(Mark.EARTH, box.left, bedding, box.wide, box.bottom - bedding)
    _draw_food(sheet, box, bedding, left_over)
    straw: list[str] = []
    for row in range(int((box.bottom - bedding - 8) // 11)):
        for column in range(int((box.wide - 16) // 15)):
            x, y = box.left + 8 + column * 15 + (row % 2) * 7, bedding + 11 + row * 11
            straw.append(f"M{number(x)} {number(y)}l8 {(row * 5 + column * 3) % 7 - 3}")
    sheet.path(Mark.BEDDING, "".join(straw))
    for across, down, turn in _WORMS if worms_are_well(picture) else ():
        sheet.path(Mark.WORM, _worm(box.left + box.wide * across, bedding + (box.bottom - bedding) * down, turn))
    sheet.path(
        Mark.BOX, f"M{number(box.left)} {number(box.top)}V{number(box.bottom)}H{number(box.right)}V{number(box.top)}"
    )
    sheet.path(Mark.BOX, segment(box.left - 4, box.top - 4, box.right + 4, box.top - 7))
    for x in (box.left + 10, box.right - 10):
        sheet.path(Mark.BOX, segment(x, box.bottom, x, box.bottom + 8))
    sheet.text(Mark.SMALL, box.left + 6, box.top + 14, shorten(picture.fed, box.wide - 12, _SMALL), ground=True)
    if not worms_are_well(picture) and width_of("bedding", _SMALL) < box.wide - 12 and box.bottom - bedding > 24:
        # The label would lie on worms or on the boards otherwise, and is not needed there.
        sheet.text(Mark.SMALL, (box.left + box.right) / 2, box.bottom - 6, "bedding", "middle", ground=True)


def _draw_food(sheet: Sheet, box: _Box, bedding: float, left_over: float) -> None:
    """Draw the feed layer, a soft heap of scraps, as thick as what is left of it."""
    if not left_over:
        return
    feed = bedding - box.tall * 0.18 * left_over
    humps = max(4, int(box.wide / 24))
    step = box.wide / humps
    heap = "".join(f"q{number(step / 2)} {-9 - (n * 5) % 4 * 2} {number(step)} 0" for n in range(humps))
    sheet.path(Mark.FEED, f"M{number(box.left)} {number(feed)}{heap}V{number(bedding)}H{number(box.left)}Z")
    for n in range(round(9 * left_over)):
        radius = 1.5 + (bedding - feed > 14) + n % 2
        x = box.left + 12 + (box.wide - 24) * ((n * 37) % 90) / 90
        y = feed + (bedding - feed) * (0.3 + 0.2 * (n % 3))
        sheet.circle(Mark.FEED, x, y, radius)


FOOD_MS = 7 * DAY_MS
"""Age at which a feeding is no longer drawn; common practice, no published source."""


def food_left(fed_ms: int | None) -> float:
    """Return the share of a feeding to draw (1 all of it, 0 none), by its age in ms; None: no feeding is known."""
    return 0.0 if fed_ms is None else min(1.0, max(0.0, 1 - fed_ms / FOOD_MS))


def worms_are_well(picture: BinSection) -> bool:
    """Return whether heat and moisture are both known and every known value lies in comfort."""
    within = {
        quantity: [
            low <= probe.milli <= high
            for probe in picture.probes
            if probe.quantity is quantity and probe.live and probe.milli is not None
        ]
        for quantity, (low, high) in (
            (Quantity.TEMPERATURE, picture.heat_comfort),
            (Quantity.MOISTURE, picture.damp_comfort),
        )
    }
    return all(some and all(some) for some in within.values())


def _worm(x: float, y: float, turn: float) -> str:
    """Return path data of a worm about 18 units long, lying at an angle (radians)."""

    def at(along: float, aside: float) -> str:
        return (
            f"{number(x + along * cos(turn) - aside * sin(turn))} {number(y + along * sin(turn) + aside * cos(turn))}"
        )

    return f"M{at(-9, 0)}C{at(-5, -7)} {at(-2, -5)} {at(0, 0)}C{at(2, 5)} {at(5, 6)} {at(9, 1)}"


def _whole(choices: Sequence[str], room: float) -> str:
    """Return the first of some words that fits whole; cut the last if none does."""
    return next((one for one in choices if shorten(one, room, _SMALL) == one), shorten(choices[-1], room, _SMALL))


def _state_words(probe: BinProbe) -> str:
    return "no value yet" if probe.state is ProbeState.LIVE else probe.state.value


def say_bin(picture: BinSection) -> str:
    """Describe a bin in section in sentences."""
    said = [f"Condition: {picture.condition}."] if picture.condition else []
    for probe in picture.probes[:12]:
        heat = probe.quantity is Quantity.TEMPERATURE
        unit, comfort = (picture.unit, picture.heat_comfort) if heat else (Unit.PERCENT, picture.damp_comfort)
        if not probe.live or probe.milli is None:
            said.append(f"{probe.name}: {probe.words or _state_words(probe)}.")
            continue
        where = "below" if probe.milli < comfort[0] else "above" if probe.milli > comfort[1] else "within"
        said.append(f"{probe.name}: {unit.say(probe.milli)}, {where} comfort ({_say_range(unit, comfort)}).")
    if picture.air_milli_c is not None:
        said.append(f"Air: {picture.unit.say(picture.air_milli_c)}.")
    said += [f"Limit {picture.unit.say(limit.milli)}: {limit.label}." for limit in picture.heat_limits if limit.label]
    said += [f"Limit {Unit.PERCENT.say(limit.milli)}: {limit.label}." for limit in picture.damp_limits if limit.label]
    return " ".join([*said, f"{picture.fed[:1].upper()}{picture.fed[1:]}."] if picture.fed else said)


def _say_range(unit: Unit, ends: tuple[int, int]) -> str:
    return f"{unit.say(ends[0])} to {unit.say(ends[1])}"
