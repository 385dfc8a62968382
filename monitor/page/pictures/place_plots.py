"""Makes the plots of a place: its readings, its limits, the work and the messages.

This module only chooses the content; `monitor.drawing` draws it, and the stylesheet gives the marks their colours.
"""

from __future__ import annotations

from dataclasses import dataclass
from zoneinfo import ZoneInfo

from monitor.drawing import (
    Line,
    LineKind,
    OverTime,
    Size,
    Turning,
    Unit,
    names_room,
    over_time_sizes,
)
from monitor.engine import Engine, hold_milli, spots_at
from monitor.model.readings import hand_series
from monitor.model.settings import AMBIENT
from monitor.model.thresholds import RULE_GAP_MS
from monitor.model.times import DAY_MS, HOUR_MS
from monitor.model.turnings import counted_firsts
from monitor.model.units import Quantity
from monitor.model.work_kinds import is_turning
from monitor.notices import hand_words
from monitor.page.pictures.hold_shading import held_spans
from monitor.page.pictures.plot_limits import comfort_of, limits_of
from monitor.page.pictures.plot_marks import PlotMarks, marks_between
from monitor.page.pictures.plot_series import PlotSeries, series_within
from monitor.page.pictures.probe_names import by_depth, names_by_depth
from monitor.page.pictures.probe_outings import outings
from monitor.page.pictures.time_outside import TimeOutside
from monitor.page.places.place_view import PlaceView
from monitor.page.places.probe_view import ProbeView
from monitor.page.ports import Look

GAP_MS = 2 * HOUR_MS
"""Readings of a probe further apart than this are not joined, ms."""
HAND_GAP_MS = 7 * DAY_MS
FOREVER = 2**62
WIDTHS = (("wide", 860, 300, 180), ("middle", 460, 270, 175), ("narrow", 276, 250, 170))
"""The drawings of a plot: the stylesheet's class, the width, and the heights for heat and for the rest, CSS px. The
stylesheet shows the widest that fits unscaled, so that letters can be read."""
LEFT = 36
"""Room for the numbers of the value axis, CSS px; the same for all plots of a place, so that their time lines up."""
NAMES_MOST = 0.28
"""Largest share of a plot's width for the names at its lines' ends."""
POINTS = 2.6
"""About how many readings a sheet draws for each px of width; a place's plots share them, so that the sheet stays small."""


@dataclass(frozen=True, slots=True)
class Plot:
    """A plot, drawn once for each of `WIDTHS`.

    Attributes:
        quantity: Its quantity.
        words: The quantity in words.
        drawn: Pairs (class, SVG).
        series: The readings, also for the table behind it.
        title: The same as a title, with the unit.
        marks: Its lettered marks.
    """

    quantity: Quantity
    words: str
    title: str
    drawn: tuple[tuple[str, str], ...]
    series: tuple[PlotSeries, ...]
    marks: PlotMarks


def plots(look: Look, view: PlaceView, start: int, end: int) -> list[Plot]:
    """Return the plots of a place: heat first, then moisture, then oxygen.

    Args:
        look: The look.
        view: The place.
        start: First instant, UTC ms.
        end: Last instant, UTC ms.
    """
    outside = outings(look, view, start - GAP_MS, end)
    drawn = {
        quantity: by_depth([probe for probe in view.probes if probe.configured.quantity is quantity])
        for quantity in (Quantity.TEMPERATURE, Quantity.MOISTURE, Quantity.OXYGEN)
    }
    by_hand = bool(spots_at(look.engine.state.hands, view.place))
    shown = [quantity for quantity, probes in drawn.items() if probes or (by_hand and quantity is Quantity.TEMPERATURE)]
    # The marks are the same for each plot, so only the first one has them.
    marks = marks_between(look, view.place, start, end) if shown else PlotMarks()
    pictures = [
        _picture(look, view, quantity, drawn[quantity], (start, end), outside, marks if not place else PlotMarks())
        for place, quantity in enumerate(shown)
    ]
    return [
        Plot(
            quantity,
            _QUANTITY_WORDS[quantity],
            _title(view, quantity, picture.unit),
            _drawn(picture, [one for one, _ in pictures], quantity.value, heat=quantity is Quantity.TEMPERATURE),
            series,
            marks if not place else PlotMarks(),
        )
        for place, (quantity, (picture, series)) in enumerate(zip(shown, pictures, strict=True))
    ]


def _drawn(picture: OverTime, beside: list[OverTime], name: str, *, heat: bool) -> tuple[tuple[str, str], ...]:
    """Return a plot at each width, in the one frame that it shares with the others of its place."""
    sizes = [
        Size(
            width=width,
            height=high if heat else low,
            points=int(POINTS * width) // len(beside),
            left_room=LEFT,
            names_room=max(names_room(one.lines, width * NAMES_MOST, values=True) for one in beside),
        )
        for _, width, high, low in WIDTHS
    ]
    drawings = over_time_sizes(picture, sizes, f"line-{name}")
    return tuple((name, drawing) for (name, *_), drawing in zip(WIDTHS, drawings, strict=True))


def _picture(
    look: Look, view: PlaceView, quantity: Quantity, probes: list[ProbeView], span: tuple[int, int],
    outside: dict[str, tuple[TimeOutside, ...]], marks: PlotMarks,
) -> tuple[OverTime, tuple[PlotSeries, ...]]:  # fmt: skip
    engine = look.engine
    site = engine.state.settings.site
    heat = quantity is Quantity.TEMPERATURE
    named = names_by_depth(probes, site.temperature_unit)
    found: list[PlotSeries] = []
    lines: list[Line] = []
    for probe in probes:
        own = series_within(look, probe.probe, *span, GAP_MS, outside.get(probe.probe, ()))
        found.append(own)
        lines.append(_line(view, probe, named[probe.probe], own))
    if heat:
        lines += _beside(look, view, found, span)
    unit = Unit(site.temperature_unit) if heat else Unit.PERCENT
    picture = OverTime(
        start=span[0],
        end=span[1],
        zone=ZoneInfo(site.time_zone),
        unit=unit,
        lines=tuple(lines),
        holds=tuple(_holds(found, view, engine)) if heat else (),
        turnings=tuple(_turnings(look, view, span)) if heat else (),
        notes=marks.shown,
        limits=limits_of(engine, view, quantity, found, span),
        comfort=comfort_of(engine, view, quantity),
        now=look.now if span[0] <= look.now <= span[1] else None,
        values_at_ends=True,
        title=f"{view.name}, {_title(view, quantity, unit)}",
    )
    return picture, tuple(found)


def _title(view: PlaceView, quantity: Quantity, unit: Unit) -> str:
    """Return a plot's title: what it shows, and the unit of its numbers."""
    words = _QUANTITY_WORDS[quantity]
    where = "" if quantity is not Quantity.TEMPERATURE else " in the bedding" if view.is_bin else " inside"
    return f"{words[:1].upper()}{words[1:]}{where}, {unit.sign}"


_QUANTITY_WORDS = {Quantity.TEMPERATURE: "temperature", Quantity.MOISTURE: "moisture", Quantity.OXYGEN: "oxygen"}


def _line(view: PlaceView, probe: ProbeView, name: str, own: PlotSeries) -> Line:
    coldest = min((p for p in view.probes if p.core_heat and p.serves), key=lambda p: p.milli or 0, default=None)
    kind = LineKind.GOVERNING if probe is coldest else LineKind.PROBE
    outs = tuple((out.start, FOREVER if out.end is None else out.end) for out in own.outings)
    fits = tuple(FOREVER if out.fit is None else out.fit for out in own.outings)
    return Line(name=name, times=own.time, milli=own.milli, kind=kind, max_gap_ms=GAP_MS, outside=outs, fit_again=fits)


def _beside(look: Look, view: PlaceView, found: list[PlotSeries], span: tuple[int, int]) -> list[Line]:
    """Return the lines beside a place's own probes: the air, and readings taken by hand."""
    lines = []
    for name, probe in look.engine.state.settings.probes.items():
        if probe.place == AMBIENT and probe.quantity is Quantity.TEMPERATURE:
            air = series_within(look, name, *span, GAP_MS)
            if len(air.time):
                lines.append(Line(name="air", times=air.time, milli=air.milli, kind=LineKind.AMBIENT,
                                  max_gap_ms=GAP_MS))  # fmt: skip
            break
    spots = spots_at(look.engine.state.hands, view.place)
    for name in sorted({hand_series(view.place), *spots}):
        by_hand = series_within(look, name, *span, HAND_GAP_MS)
        if len(by_hand.time):
            found.append(by_hand)
            words = hand_words(look.engine.state.settings, name)
            lines.append(Line(name=words, times=by_hand.time, milli=by_hand.milli, kind=LineKind.BY_HAND))
    return lines


def _holds(found: list[PlotSeries], view: PlaceView, engine: Engine) -> list[tuple[int, int]]:
    """Return when the coldest core probe was at the hold temperature, to be shaded."""
    if view.run is None:
        return []
    cores = {probe.probe for probe in view.probes if probe.core_heat}
    limit = hold_milli(view.run, engine.state.settings.piles[view.place].thresholds)
    gap = min(engine.state.settings.piles[view.place].thresholds.max_gap_ms, RULE_GAP_MS)
    return held_spans([series for series in found if series.probe in cores], limit, gap)


def _turnings(look: Look, view: PlaceView, span: tuple[int, int]) -> list[Turning]:
    # Numbered as they count: entries less than 6 h apart are a single turning.
    turned = counted_firsts(
        entry.work.time for entry in look.works(view.place, view.built or span[0]) if is_turning(entry.work)
    )
    return [
        Turning(at=at, label=str(number))
        for number, at in enumerate(turned, 1)
        if span[0] <= at <= span[1]
    ]  # fmt: skip
