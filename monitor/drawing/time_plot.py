"""A plot over time: readings as lines, the hold shaded, unproven time hatched, turnings, lettered notes and limits marked.

Rules this module keeps:
1. Pauses are drawn as pauses. Shading begins and ends with its stretch, to a tenth of a unit.
2. Turnings stand numbered on the upper edge, lettered marks under the time axis; marks too close to be told apart become
   one with the range of their letters.
3. Any number of readings draws in a file of some tens of kilobytes.
"""

from collections.abc import Sequence
from dataclasses import replace
from itertools import zip_longest
from typing import NamedTuple

from monitor.drawing.clearing import Clearing, Place
from monitor.drawing.frame import (
    Frame,
    draw_midnights,
    draw_second_axis,
    draw_time_axis,
    draw_value_axis,
    tick_width,
    value_ticks,
)
from monitor.drawing.ink import Ink, Mark
from monitor.drawing.lettering import shorten, width_of
from monitor.drawing.plot import Comfort, Limit, Note, NoteKind, OverTime, Turning
from monitor.drawing.plot_lines import Shared, columns_for, draw_lines, draw_names, names_room, place_all, thin_all
from monitor.drawing.plot_words import say_over_time
from monitor.drawing.scales import Scale, Unit, room, say_tick
from monitor.drawing.shading import Stretch, blocks, hatching, stretches, widest
from monitor.drawing.svg_sheet import FONT_SIZE, Sheet, segment
from monitor.drawing.thinning import Thinned, thin_again
from monitor.drawing.time_ticks import time_ticks

NOTES_MOST = 200
"""Most lettered marks and turnings in a picture; further ones are left out of it (never of the record)."""


class Size(NamedTuple):
    """The size of a drawing of a plot, and the rooms at its sides, as in `OverTime`."""

    width: int
    height: int
    points: int
    left_room: float
    names_room: float


MOST_NAMES = 0.28
"""Largest share of a plot's width that the names at its lines' ends may take."""


def over_time(picture: OverTime, ink: Ink = Ink.SCREEN) -> str:
    """Return a plot over time as SVG text."""
    thinned = thin_all(picture.lines, picture.start, picture.end, picture.width, picture.points)
    return _plot(picture, thinned, _frame(picture, thinned)).render(ink)


def over_time_sizes(picture: OverTime, sizes: Sequence[Size], name: str) -> list[str]:
    """Return a plot over time at several sizes, for one page: the first drawing has the lines and words of all.

    Args:
        picture: The plot; its own size says nothing.
        sizes: The sizes, the widest first.
        name: Begins the ids of the lines, and is used once on the page.
    """
    sized = [replace(picture, **size._asdict()) for size in sizes]
    widest = sized[0]
    thinned = thin_all(widest.lines, widest.start, widest.end, widest.width, widest.points)
    first = _frame(widest, thinned)
    drawn = place_all(widest.lines, thinned, first)
    plots = [_plot(widest, thinned, first, Shared(name, first, drawn, first))]
    for one in sized[1:]:
        # The others draw nothing of these points; they only keep their words clear of them.
        columns = columns_for(len(one.lines), one.width, one.points)
        fewer = [thin_again(line, start=one.start, end=one.end, columns=columns) for line in thinned]
        frame = _frame(one, fewer)
        plots.append(_plot(one, fewer, frame, Shared(name, first, drawn, frame)))
    return [plot.render(Ink.SCREEN) for plot in plots]


def _plot(picture: OverTime, thinned: Sequence[Thinned], frame: Frame, shared: Shared | None = None) -> Sheet:
    title = picture.title or "Readings over time"
    words = picture.words or say_over_time(picture, thinned)
    ids = shared.ids if shared else ("", "")
    sheet = Sheet(picture.width, picture.height, title, words, frame.data(picture.zone.key), ids=ids)
    drawn = shared.drawn if shared and shared.frame is shared.first else place_all(picture.lines, thinned, frame)
    holds, unproven = stretches(picture.holds, frame.x), stretches(picture.unproven, frame.x)
    for band in picture.comfort:
        _draw_comfort(sheet, frame, band)
    sheet.path(Mark.HOLD, blocks(holds, frame.top, frame.bottom))
    ticks = time_ticks(picture.start, picture.end, picture.zone, frame.right - frame.left)
    draw_midnights(sheet, frame, ticks)
    draw_value_axis(sheet, frame, sign=not picture.values_at_ends)
    sheet.path(Mark.UNPROVEN, hatching(unproven, frame.top, frame.bottom))
    sheet.path(Mark.HOLD_EDGE, blocks(holds, frame.bottom - 3, frame.bottom))
    _draw_turnings(sheet, frame, picture.turnings)
    _draw_now(sheet, frame, picture)
    draw_lines(sheet, drawn, shared)
    _draw_outside(sheet, frame, picture)
    for limit in picture.limits:
        mark = Mark.HOLD_LINE if limit.wanted else Mark.LIMIT
        sheet.line(mark, frame.left, frame.height_of(limit.milli), frame.right, frame.height_of(limit.milli))
    clearing = Clearing()
    for run in (run for one in drawn for run in one.runs):
        clearing.mark_line(run)
    _label_levels(sheet, frame, picture, clearing)
    second = picture.second_unit and frame.unit.other is not None
    room = (frame.right + (_second_room(frame) if second else 3), picture.width - 2)
    draw_names(sheet, drawn, frame, clearing, room, values=picture.values_at_ends)
    if second:
        draw_second_axis(sheet, frame)
    _label_stretch(sheet, frame, holds, picture.hold_words, clearing)
    _label_stretch(sheet, frame, unproven, picture.unproven_words, clearing)
    draw_time_axis(sheet, frame.x, frame.bottom, ticks)
    _draw_notes(sheet, frame, picture.notes, picture.height - 10)
    return sheet


def _frame(picture: OverTime, thinned: Sequence[Thinned]) -> Frame:
    levels = [int(edge) for one in thinned if len(one.milli) for edge in (one.milli.min(), one.milli.max())]
    levels += [limit.milli for limit in picture.limits]
    levels += [edge for band in picture.comfort for edge in (band.low_milli, band.high_milli)]
    unit = picture.unit
    shown = [unit.shown(level) for level in levels] or [unit.shown(0), unit.shown(50_000)]
    low, high = room(min(shown), max(shown), 9 if unit is Unit.DEGF else 5)
    top = 20 + (15 if picture.turnings else 0)
    bottom = picture.height - 34 - (20 if picture.notes else 0)
    left = 10 + max(tick_width(value_ticks(low, high, bottom - top)), width_of(unit.sign, FONT_SIZE[Mark.SMALL]))
    left = max(left, picture.left_room)
    most = max(56, picture.width * MOST_NAMES)
    names = names_room(picture.lines, most, values=picture.values_at_ends) if picture.lines else 6
    names = max(names, picture.names_room)
    upright = Scale(low, high, bottom, top)
    frame = Frame(Scale(picture.start, picture.end, left, picture.width), upright, unit)
    second = _second_room(frame) if picture.second_unit and unit.other else 3
    return Frame(Scale(picture.start, picture.end, left, picture.width - second - names), upright, unit)


def _second_room(frame: Frame) -> float:
    other = frame.unit.other
    assert other is not None
    low, high = (other.shown(frame.unit.milli(value)) for value in (frame.y.low, frame.y.high))
    return 12 + max(tick_width(value_ticks(low, high, frame.bottom - frame.top)), width_of("°C", FONT_SIZE[Mark.SMALL]))


def _draw_comfort(sheet: Sheet, frame: Frame, band: Comfort) -> None:
    low, high = frame.height_of(band.low_milli), frame.height_of(band.high_milli)
    sheet.rect(Mark.COMFORT, frame.left, high, frame.right - frame.left, max(low - high, 0))
    for y in (low, high):
        sheet.line(Mark.COMFORT_EDGE, frame.left, y, frame.right, y)


def _label_levels(sheet: Sheet, frame: Frame, picture: OverTime, clearing: Clearing) -> None:
    """Write the labels of limits at their lines, and of bands within their edges, at the place that covers the least."""
    size = FONT_SIZE[Mark.SMALL]
    wanted = [
        # A limit is named on its own line, as contours are on a map: words between two lines could be either's.
        (_limit_words(frame, picture, limit), [frame.height_of(limit.milli) + 4])
        for limit in picture.limits
    ]
    wanted += [
        (band.label, [frame.height_of(band.high_milli) + 12, frame.height_of(band.low_milli) - 4])
        for band in picture.comfort
    ]
    for label, heights in wanted:
        words = shorten(label, (frame.right - frame.left) * 0.6, size)
        if not words:
            continue
        inside = [y for y in heights if frame.top + size <= y <= frame.bottom] or [
            min(max(heights[0], frame.top + size), frame.bottom - 4)
        ]
        places = [Place(x, y, anchor) for x, anchor in _across(frame, words) for y in inside]
        place = clearing.take(places, words, size)
        sheet.text(Mark.SMALL, place.x, place.y, words, place.anchor, ground=True)


def _limit_words(frame: Frame, picture: OverTime, limit: Limit) -> str:
    """Return a limit's label with its number: words between two lines could be either's.

    On a plot too narrow for that the label stands alone: the description has the values.
    """
    if not limit.label or any(one.isdigit() for one in limit.label):
        return limit.label  # a label that is itself a value must not get the value a second time
    whole = f"{limit.label} {say_tick(round(picture.unit.shown(limit.milli), 1))}"
    return whole if width_of(whole, FONT_SIZE[Mark.SMALL]) < (frame.right - frame.left) / 2 else limit.label


def _across(frame: Frame, words: str) -> list[tuple[float, str]]:
    """Return candidate places for a label along the plot: at the left, at the right, and at steps between."""
    half = width_of(words, FONT_SIZE[Mark.SMALL]) / 2 + 5
    free = frame.right - frame.left - 2 * half
    steps = [(frame.left + half + free * step / 12, "middle") for step in range(1, 12)]
    return [(frame.left + 5, "start"), (frame.right - 5, "end"), *steps]


def _label_stretch(sheet: Sheet, frame: Frame, seen: Sequence[Stretch], words: str, clearing: Clearing) -> None:
    """Write the meaning of a shading once, within its widest stretch, at the place that covers the least."""
    stretch = widest(seen)
    words = shorten(words, frame.right - frame.left - 8, FONT_SIZE[Mark.SMALL])
    if stretch is None or not words:
        return
    half = width_of(words, FONT_SIZE[Mark.SMALL]) / 2 + 4
    x = min(max((stretch[0] + stretch[1]) / 2, frame.left + half), frame.right - half)
    tenth = (frame.bottom - frame.top) / 10
    places = [Place(x, frame.bottom - 8 - tenth * step, "middle") for step in range(9)]
    place = clearing.take(places, words, FONT_SIZE[Mark.SMALL])
    sheet.text(Mark.SMALL, place.x, place.y, words, "middle", ground=True)


def _draw_turnings(sheet: Sheet, frame: Frame, turnings: Sequence[Turning]) -> None:
    free = frame.left - 20
    for count, turning in enumerate(turnings[:NOTES_MOST], start=1):
        if not frame.x.low <= turning.at <= frame.x.high:
            continue
        x = frame.x.place(turning.at)
        sheet.line(Mark.TURNING, x, frame.top, x, frame.bottom)
        sheet.path(Mark.TIP, f"M{x - 4:.1f} {frame.top - 6:.1f}H{x + 4:.1f}L{x:.1f} {frame.top:.1f}Z")
        words = shorten(turning.label or str(count), 90, FONT_SIZE[Mark.SMALL])
        half = width_of(words, FONT_SIZE[Mark.SMALL]) / 2
        if x - half >= free:
            sheet.text(Mark.SMALL, x, frame.top - 9, words, "middle")
            free = x + half + 4


def _draw_outside(sheet: Sheet, frame: Frame, picture: OverTime) -> None:
    """Draw a bracket under each time that a probe lay outside, a single one for probes that lay there together."""
    free = frame.left
    y = frame.bottom - 6
    drawn: set[tuple[int, int]] = set()
    spans = [
        (start, end, line.name, fit)
        for line in picture.lines
        for (start, end), fit in zip_longest(line.outside, line.fit_again)
    ]
    for start, end, name, fit in sorted(spans, key=lambda one: one[:3]):
        if end < frame.x.low or start > frame.x.high:
            continue
        left, right = frame.x.within(start), max(frame.x.within(end), frame.x.within(start) + 3)
        sheet.line(
            Mark.AXIS, left, y, right, y, out=name, fit=right if fit is None else max(right, frame.x.within(fit))
        )
        edges = (round(left), round(right))
        if edges in drawn:
            continue
        drawn.add(edges)
        sheet.path(Mark.AXIS, segment(left, y - 4, left, y) + segment(right, y - 4, right, y))
        middle, half = (left + right) / 2, width_of("out", FONT_SIZE[Mark.SMALL]) / 2
        if middle - half >= free and middle + half <= frame.right:
            sheet.text(Mark.SMALL, middle, y - 6, "out", "middle", ground=True)
            free = middle + half + 4


def _draw_now(sheet: Sheet, frame: Frame, picture: OverTime) -> None:
    """Draw the line of now, with its word if no turning stands near."""
    if picture.now is None or not picture.start <= picture.now <= picture.end:
        return
    x = frame.x.place(picture.now)
    sheet.line(Mark.NOW, x, frame.top, x, frame.bottom)
    if all(abs(frame.x.place(turning.at) - x) > 40 for turning in picture.turnings) and x < frame.right - 12:
        sheet.text(Mark.SMALL, x, frame.top - 7, "now", "middle")


def _draw_notes(sheet: Sheet, frame: Frame, notes: Sequence[Note], y: float) -> None:
    """Draw lettered marks at height y; marks too close to be told apart share one."""
    shown = sorted((note for note in notes if frame.x.low <= note.at <= frame.x.high), key=lambda note: note.at)
    groups: list[list[Note]] = []
    right = float("-inf")
    for note in shown[:NOTES_MOST]:
        x = frame.x.place(note.at)
        if groups and x - 8 < right:
            groups[-1].append(note)
        else:
            groups.append([note])
        middle = (frame.x.place(groups[-1][0].at) + x) / 2
        right = middle + width_of(_letters(groups[-1]), FONT_SIZE[Mark.NOTE_TEXT]) / 2 + 6
    for group in groups:
        words = _letters(group)
        x = (frame.x.place(group[0].at) + frame.x.place(group[-1].at)) / 2
        wide = max(16, width_of(words, FONT_SIZE[Mark.NOTE_TEXT]) + 8)
        # A group that holds a notice is round, so that a warning among work still looks like a warning.
        round_by = 8 if any(note.kind is NoteKind.NOTICE for note in group) else 0
        mark = Mark.NOTE_NOTICE if round_by else Mark.NOTE_WORK
        for note in group:
            at = frame.x.place(note.at)
            sheet.line(Mark.AXIS, at, frame.bottom - 5, at, frame.bottom)
        sheet.rect(mark, x - wide / 2, y - 8, wide, 16, round_by)
        sheet.text(Mark.NOTE_TEXT, x, y + 4, words, "middle")


def _letters(group: Sequence[Note]) -> str:
    numbers = sorted(note.number for note in group)
    return letter(numbers[0]) if len(numbers) == 1 else f"{letter(numbers[0])}–{letter(numbers[-1])}"


def letter(number: int) -> str:
    """Return the letter of a mark: 1 is `a`, 26 `z`, 27 `aa`; nothing below 1."""
    letters = ""
    while number > 0:
        number, rest = divmod(number - 1, 26)
        letters = chr(ord("a") + rest) + letters
    return letters
