"""A bin in section: boards, lid, feed layer, bedding and worms; beside it heat and damp against their comfort bands.

Rules this module keeps:
1. The box is a drawing of a bin, the two upright scales beside it are the measurement: a band on the scale marks comfort,
   and a pointer from the right marks a value, with its number and, if there are several probes, the probe's name.
2. The picture states what is unknown: a probe that does not report has no pointer and stands below its scale in words.
3. Unknown things are not drawn. Food appears only after a known feeding, the less the longer ago, and not after a
   week; worms only if heat and moisture are both known and in comfort.
"""

from collections.abc import Sequence
from math import cos, sin

from monitor.drawing.ink import Ink, Mark
from monitor.drawing.lettering import shorten, spread, width_of
from monitor.drawing.plot import Limit
from monitor.drawing.scales import Scale, Unit, say_tick, ticks
from monitor.drawing.section_values import BinProbe, BinSection, ProbeState
from monitor.drawing.svg_sheet import FONT_SIZE, Sheet, number, segment
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


def bin_section(picture: BinSection, ink: Ink = Ink.SCREEN) -> str:
    """Return a bin in section as SVG text."""
    sheet = Sheet(
        picture.width, picture.height, picture.title or "The bin in section", picture.words or say_bin(picture)
    )
    air = "" if picture.air_milli_c is None else f"air {picture.unit.say(picture.air_milli_c)}"
    sheet.text(Mark.STRONG, 4, 14, shorten(picture.condition, picture.width - 100, FONT_SIZE[Mark.STRONG]))
    sheet.text(Mark.TEXT, picture.width - 4, 14, air, "end")
    scales = [
        (Quantity.TEMPERATURE, "temperature", picture.unit, picture.heat_comfort, picture.heat_limits),
        (Quantity.MOISTURE, "moisture", Unit.PERCENT, picture.damp_comfort, picture.damp_limits),
    ]
    shown = [scale for scale in scales if any(probe.quantity is scale[0] for probe in picture.probes)]
    column = 104.0 if picture.width < 500 else 130.0
    _draw_box(sheet, picture, picture.width - column * len(shown) - 14)
    for place, (quantity, name, unit, comfort, limits) in enumerate(shown):
        left = picture.width - column * (len(shown) - place) + 18
        probes = [probe for probe in picture.probes if probe.quantity is quantity]
        _draw_scale(sheet, name, unit, comfort, limits, probes, (left, left + column - 22), picture.height)
    return sheet.render(ink)


def _draw_box(sheet: Sheet, picture: BinSection, right: float) -> None:
    left, top, bottom = 8.0, 44.0, picture.height - 26.0
    bedding = top + (bottom - top) * 0.38
    left_over = food_left(picture.fed_ms)
    feed = bedding - (bottom - top) * 0.18 * left_over
    sheet.rect(Mark.EARTH, left, bedding, right - left, bottom - bedding)
    # Feed: a soft heap of scraps, with the fed words above it under the lid.
    if left_over:
        humps = max(4, int((right - left) / 24))
        step = (right - left) / humps
        heap = "".join(f"q{number(step / 2)} {-9 - (n * 5) % 4 * 2} {number(step)} 0" for n in range(humps))
        sheet.path(Mark.FEED, f"M{number(left)} {number(feed)}{heap}V{number(bedding)}H{number(left)}Z")
        for n in range(round(9 * left_over)):
            x, y = (
                left + 12 + (right - left - 24) * ((n * 37) % 90) / 90,
                feed + 12 + (bedding - feed - 18) * (n % 3) / 2,
            )
            sheet.circle(Mark.FEED, x, y, 2.5 + n % 3)
    straw: list[str] = []
    for row in range(int((bottom - bedding - 10) // 11)):
        for column in range(int((right - left - 16) // 15)):
            x, y = left + 8 + column * 15 + (row % 2) * 7, bedding + 11 + row * 11
            straw.append(f"M{number(x)} {number(y)}l8 {(row * 5 + column * 3) % 7 - 3}")
    sheet.path(Mark.BEDDING, "".join(straw))
    for across, down, turn in _WORMS if worms_are_well(picture) else ():
        sheet.path(Mark.WORM, _worm(left + (right - left) * across, bedding + (bottom - bedding) * down, turn))
    sheet.path(Mark.BOX, f"M{number(left)} {number(top)}V{number(bottom)}H{number(right)}V{number(top)}")
    sheet.path(Mark.BOX, segment(left - 5, top - 4, right + 5, top - 7))
    for x in (left + 10, right - 10):
        sheet.path(Mark.BOX, segment(x, bottom, x, bottom + 8))
    sheet.text(Mark.SMALL, left + 6, top + 14, shorten(picture.fed, right - left - 12, 11), ground=True)
    if not worms_are_well(picture) and width_of("bedding", FONT_SIZE[Mark.SMALL]) < right - left - 12:
        # The label would lie on worms or on the boards otherwise, and is not needed there.
        sheet.text(Mark.SMALL, (left + right) / 2, bottom - 6, "bedding", "middle", ground=True)


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


def _range(
    unit: Unit, comfort: tuple[int, int], limits: Sequence[Limit], probes: Sequence[BinProbe]
) -> Sequence[float]:
    """Return the ends of a scale in the shown unit: comfort with half its width about it, every limit and value."""
    low, high = (unit.shown(edge) for edge in comfort)
    spare = (high - low) / 2
    ends = [low - spare, high + spare] + [unit.shown(limit.milli) for limit in limits]
    ends += [unit.shown(probe.milli) for probe in probes if probe.live and probe.milli is not None]
    least, most = min(ends), max(ends)
    if unit is Unit.PERCENT:
        return max(least, 0.0), min(max(most, 0.0), 100.0) if most <= 100 else most
    return least, most


def _draw_scale(
    sheet: Sheet,
    name: str,
    unit: Unit,
    comfort: tuple[int, int],
    limits: Sequence[Limit],
    probes: Sequence[BinProbe],
    sides: tuple[float, float],
    height: float,
) -> None:
    left, right = sides
    lost = [probe for probe in probes if not probe.live]
    top, bottom = 48.0, height - 20.0 - 13 * min(len(lost), 2)
    least, most = _range(unit, comfort, limits, probes)
    scale = Scale(least, most, bottom, top)
    axis = left + 22
    low, high = (scale.within(unit.shown(edge)) for edge in comfort)
    sheet.rect(Mark.COMFORT, axis - 8, high, 16, low - high)
    hatches = range(int(high) + 4, int(low), 5)
    sheet.path(Mark.COMFORT_EDGE, segment(axis - 8, high, axis + 8, high) + segment(axis - 8, low, axis + 8, low))
    sheet.path(Mark.RULE, "".join(segment(axis - 8, y, axis + 8, y) for y in hatches))
    sheet.line(Mark.AXIS, axis, top, axis, bottom)
    sheet.text(Mark.SMALL, axis, 38, f"{name}, {unit.sign}", "middle")
    for value in ticks(least, most, max(3, int((bottom - top) // 34))):
        y = scale.place(value)
        sheet.line(Mark.AXIS, axis - 3, y, axis, y)
        sheet.text(Mark.SMALL, axis - 11, y + 4, say_tick(value), "end")
    for limit in limits:
        y = scale.within(unit.shown(limit.milli))
        sheet.line(Mark.LIMIT, axis - 8, y, axis + 11, y)
    taken = _point(sheet, unit, scale, axis, right, [probe for probe in probes if probe.live])
    for limit in limits:
        y = scale.within(unit.shown(limit.milli))
        # A limit's name gives way to a value, because the words below the picture name the limit too.
        if all(y < high - 8 or y > low + 8 for high, low in taken):
            # A cut word would name nothing, so take a shorter one; the sentences name every limit.
            sheet.text(Mark.SMALL, axis + 12, y + 4, _whole((limit.label, "limit"), right - axis - 12))
            taken.append((y - 4, y + 4))
    for place, probe in enumerate(lost[:2]):
        state = _state_words(probe)
        words = _whole((f"{probe.name}: {probe.words or state}", f"{probe.name}: {state}"), right - left + 4)
        sheet.text(Mark.SMALL, left - 4, bottom + 15 + 13 * place, words)


def _whole(choices: Sequence[str], room: float) -> str:
    """Return the first of some words that fits whole; cut the last if none does."""
    return next((one for one in choices if shorten(one, room, 11) == one), shorten(choices[-1], room, 11))


def _state_words(probe: BinProbe) -> str:
    return "no value yet" if probe.state is ProbeState.LIVE else probe.state.value


def _point(
    sheet: Sheet, unit: Unit, scale: Scale, axis: float, right: float, probes: Sequence[BinProbe]
) -> list[tuple[float, float]]:
    """Point at each value from the right, spreading the numbers so that they do not overlap; return the heights they take."""
    shown = [(probe, scale.within(unit.shown(probe.milli))) for probe in probes if probe.milli is not None][:6]
    heights = spread([y for _, y in shown], 14 if len(shown) == 1 else 26, scale.at_high + 2, scale.at_low - 2)
    for (probe, y), at in zip(shown, heights, strict=True):
        assert probe.milli is not None
        sheet.path(Mark.TIP, f"M{number(axis + 1)} {number(y)}l7 -4v8Z")
        sheet.path(Mark.LEADER, segment(axis + 8, y, axis + 14, at))
        sheet.text(Mark.STRONG, axis + 15, at + 4, unit.say(probe.milli), ground=True)
        if len(shown) > 1:
            sheet.text(Mark.SMALL, axis + 15, at + 16, shorten(probe.name, right - axis - 15, 11), ground=True)
    return [(at - 8, at + (18 if len(shown) > 1 else 5)) for at in heights]


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
