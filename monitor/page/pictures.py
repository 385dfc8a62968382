"""What the page draws: every place in section, and a place's readings over time.

Only chooses what is shown; how it looks is `monitor.drawing`'s, whose marks get their colours from the stylesheet.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from zoneinfo import ZoneInfo

from monitor.drawing import (
    BinProbe,
    BinSection,
    Comfort,
    Limit,
    Line,
    LineKind,
    Note,
    NoteKind,
    OverTime,
    PileProbe,
    PileSection,
    PileShape,
    ProbeState,
    Turning,
    Unit,
    bin_section,
    over_time,
    pile_section,
)
from monitor.engine import Engine
from monitor.engine.runs import hold_milli
from monitor.model.effects import EffectKind, Occasion
from monitor.model.readings import hand_series
from monitor.model.settings import AMBIENT
from monitor.model.thresholds import PileThresholds
from monitor.model.times import HOUR_MS
from monitor.model.units import Quantity
from monitor.model.words import Role
from monitor.model.work import WorkKind
from monitor.notices.localtime import say_span
from monitor.page.held import held_spans
from monitor.page.lines import Series, series
from monitor.page.places import PlaceView
from monitor.page.probes import Health, ProbeView
from monitor.page.seams import Look
from monitor.page.work_words import work_words

YARD_WIDTH = 310
"""Width of a section among others, CSS px; there the words beside it say what has no room in it."""
POINTS_WIDE, POINTS_NARROW = 3_800, 2_400
"""Readings that are drawn on a sheet, wide and narrow, about; the plots of a place share them, so that it stays small."""
WIDE, NARROW = 1000, 370
"""Widths of a plot, CSS px: the page has both and shows the one that fits, so that letters stay readable on a phone."""
MOST_NOTES = 24
"""Most numbered marks under one plot; older ones are left out, and the page says so."""


@dataclass(frozen=True, slots=True)
class Remark:
    """A numbered mark under a plot and its words."""

    number: int
    at: int
    words: str
    notice: bool


@dataclass(frozen=True, slots=True)
class Plot:
    """A plot, drawn for a wide screen and for a narrow one; what its marks mean; what the table behind it is made of."""

    quantity: Quantity
    svg: str
    narrow: str
    series: tuple[Series, ...]
    remarks: tuple[Remark, ...]
    left_out: int


def section(engine: Engine, view: PlaceView, now: int, width: int) -> str:
    """Return a place drawn in section at `now` (UTC ms), as SVG."""
    return _bin_section(engine, view, now, width) if view.is_bin else _pile_section(engine, view, width)


def _pile_section(engine: Engine, view: PlaceView, width: int) -> str:
    state = engine.state
    pile = state.settings.piles[view.place]
    method = view.run.method if view.run is not None else pile.method
    shown = [one for one in view.probes if one.heat and one.configured.role is not Role.AMBIENT]
    probes = tuple(
        PileProbe(
            name=one.name,
            milli_c=one.milli,
            depth_milli_m=one.configured.depth_milli_m,
            across_thousandths=_across(number, len(shown)),
            state=_drawn_state(one),
            words=one.words,
        )
        for number, one in enumerate(shown)
    )
    hold = None
    if view.run is not None:
        hold = hold_milli(view.run, pile.thresholds)
    return pile_section(
        PileSection(
            shape=PileShape.of(method),
            probes=probes,
            unit=Unit(state.settings.site.temperature_unit),
            air_milli_c=state.air,
            hold_milli_c=hold,
            title=f"{view.name} in section, {view.state}",
            width=width,
            height=width * 22 // 36,
        )
    )


def _across(number: int, count: int) -> int:
    """Return where a probe is drawn from the left foot (0) to the right (1000): nobody says, so they are spread out."""
    return 300 + 400 * number // max(1, count - 1) if count > 1 else 500


def _bin_section(engine: Engine, view: PlaceView, now: int, width: int) -> str:
    state = engine.state
    limits = state.settings.bins[view.place].thresholds
    bed = state.bins.get(view.place)
    fed = f"fed {say_span(now - bed.fed_at)} ago" if bed is not None and bed.fed_at is not None else ""
    return bin_section(
        BinSection(
            unit=Unit(state.settings.site.temperature_unit),
            probes=tuple(
                BinProbe(
                    name=one.name,
                    quantity=one.configured.quantity,
                    milli=one.milli,
                    state=_drawn_state(one),
                    words=one.words,
                )
                for one in view.probes
                if one.heat or one.damp
            ),
            heat_comfort=(limits.cool_milli_c, limits.warm_milli_c),
            damp_comfort=(limits.too_dry_milli_pct, limits.too_wet_milli_pct),
            air_milli_c=state.air,
            fed=fed if width > YARD_WIDTH else "",
            title=f"{view.name} in section, {view.state}",
            width=width,
            height=width * 20 // 36,
        )
    )


def _drawn_state(one: ProbeView) -> ProbeState:
    return {
        Health.LIVE: ProbeState.LIVE,
        Health.OUT: ProbeState.OUT,
        Health.BROKEN: ProbeState.BROKEN,
        Health.LOST: ProbeState.SILENT,
        Health.SILENT: ProbeState.SILENT,
        Health.NEVER: ProbeState.SILENT,
    }[one.health]


def plots(look: Look, view: PlaceView, start: int, end: int) -> list[Plot]:
    """Return the plots of a place over [start, end] (UTC ms): heat first, then moisture, then oxygen."""
    remarks, left_out = _remarks(look, view.place, start, end)
    found: list[Plot] = []
    drawn = {
        quantity: [one for one in view.probes if one.configured.quantity is quantity]
        for quantity in (Quantity.TEMPERATURE, Quantity.MOISTURE, Quantity.OXYGEN)
    }
    shared = sum(bool(probes) for probes in drawn.values())
    for quantity, probes in drawn.items():
        if probes:
            # The marks stand under the first plot only: they would say the same under each.
            marks, hidden = (remarks, left_out) if not found else ((), 0)
            found.append(_plot(look, view, quantity, probes, (start, end), marks, hidden, shared))
    return found


def _plot(
    look: Look, view: PlaceView, quantity: Quantity, probes: list[ProbeView], span: tuple[int, int],
    remarks: tuple[Remark, ...], left_out: int, shared: int,
) -> Plot:  # fmt: skip
    engine = look.engine
    site = engine.state.settings.site
    heat = quantity is Quantity.TEMPERATURE
    found: list[Series] = []
    lines: list[Line] = []
    for one in probes:
        own = series(look, one.probe, *span)
        found.append(own)
        lines.append(_line(view, one, own))
    if heat:
        lines += _beside(look, view, found, span)
    picture = OverTime(
        start=span[0],
        end=span[1],
        zone=ZoneInfo(site.time_zone),
        unit=Unit(site.temperature_unit) if heat else Unit.PERCENT,
        lines=tuple(lines),
        holds=tuple(_holds(found, view, engine)) if heat else (),
        turnings=tuple(_turnings(look, view, span)) if heat else (),
        notes=tuple(
            Note(at=one.at, number=one.number, words=one.words, kind=NoteKind.NOTICE if one.notice else NoteKind.WORK)
            for one in remarks
        ),
        limits=_limits(engine, view, quantity),
        comfort=_comfort(engine, view, quantity),
        now=look.now if span[0] <= look.now <= span[1] else None,
        title=f"{view.name}, {_QUANTITY_WORDS[quantity]}",
        width=WIDE,
        height=300 if heat else 180,
        points=POINTS_WIDE // shared,
    )
    narrow = replace(picture, width=NARROW, height=260 if heat else 170, points=POINTS_NARROW // shared)
    return Plot(quantity, over_time(picture), over_time(narrow), tuple(found), remarks, left_out)


_QUANTITY_WORDS = {Quantity.TEMPERATURE: "heat", Quantity.MOISTURE: "moisture", Quantity.OXYGEN: "oxygen"}


def _line(view: PlaceView, one: ProbeView, own: Series) -> Line:
    coldest = min((p for p in view.probes if p.core_heat and p.serves), key=lambda p: p.milli or 0, default=None)
    kind = LineKind.GOVERNING if one is coldest else LineKind.PROBE
    return Line(name=one.name, times=own.time, milli=own.milli, kind=kind, max_gap_ms=2 * HOUR_MS)


def _beside(look: Look, view: PlaceView, found: list[Series], span: tuple[int, int]) -> list[Line]:
    """Return what is drawn beside a place's own probes: the air, and readings taken by hand."""
    lines = []
    for probe, one in look.engine.state.settings.probes.items():
        if one.place == AMBIENT and one.quantity is Quantity.TEMPERATURE:
            air = series(look, probe, *span)
            if len(air.time):
                lines.append(Line(name="air", times=air.time, milli=air.milli, kind=LineKind.AMBIENT,
                                  max_gap_ms=2 * HOUR_MS))  # fmt: skip
            break
    by_hand = series(look, hand_series(view.place), *span)
    if len(by_hand.time):
        found.append(by_hand)
        lines.append(Line(name="by hand", times=by_hand.time, milli=by_hand.milli, kind=LineKind.BY_HAND))
    return lines


def _holds(found: list[Series], view: PlaceView, engine: Engine) -> list[tuple[int, int]]:
    """Return when the coldest core probe was at the hold temperature, as the plot shades it."""
    if view.run is None:
        return []
    cores = {one.probe for one in view.probes if one.core_heat}
    limit = hold_milli(view.run, engine.state.settings.piles[view.place].thresholds)
    gap = engine.state.settings.piles[view.place].thresholds.max_gap_ms
    return held_spans([one for one in found if one.probe in cores], limit, gap)


def _turnings(look: Look, view: PlaceView, span: tuple[int, int]) -> list[Turning]:
    turned = [
        entry.work.time for entry in look.works(view.place, view.built or span[0]) if entry.work.kind is WorkKind.TURNED
    ]
    return [
        Turning(at=at, label=str(number))
        for number, at in enumerate(turned, 1)
        if span[0] <= at <= span[1]
    ]  # fmt: skip


def _limits(engine: Engine, view: PlaceView, quantity: Quantity) -> tuple[Limit, ...]:
    settings = engine.state.settings
    if view.is_bin:
        limits = settings.bins[view.place].thresholds
        if quantity is Quantity.TEMPERATURE:
            return (Limit(milli=limits.danger_all_milli_c, label="worms in danger"),)
        return ()
    pile = settings.piles[view.place].thresholds
    if quantity is Quantity.TEMPERATURE:
        hold = hold_milli(view.run, pile) if view.run is not None else pile.hold_milli_c
        return (Limit(milli=hold, label="hold"), Limit(milli=pile.hot_milli_c, label="hot"))
    if quantity is Quantity.OXYGEN:
        return (Limit(milli=pile.oxygen_low_milli_pct, label="low"),)
    return ()


def _comfort(engine: Engine, view: PlaceView, quantity: Quantity) -> tuple[Comfort, ...]:
    settings = engine.state.settings
    if view.is_bin:
        limits = settings.bins[view.place].thresholds
        if quantity is Quantity.TEMPERATURE:
            return (Comfort(low_milli=limits.cool_milli_c, high_milli=limits.warm_milli_c, label="comfort"),)
        if quantity is Quantity.MOISTURE:
            low, high = limits.too_dry_milli_pct, limits.too_wet_milli_pct
            return (Comfort(low_milli=low, high_milli=high, label="comfort"),)
        return ()
    if quantity is Quantity.MOISTURE:
        pile: PileThresholds = settings.piles[view.place].thresholds
        low, high = pile.moisture_comfort_low_milli_pct, pile.moisture_comfort_high_milli_pct
        return (Comfort(low_milli=low, high_milli=high, label="comfort"),)
    return ()


_LEFT_OUT = (WorkKind.PROBE_IN, WorkKind.PROBE_OUT, WorkKind.TURNED)
"""Turnings have marks of their own; probes in and out stand in the log below."""


def _remarks(look: Look, place: str, start: int, end: int) -> tuple[tuple[Remark, ...], int]:
    """Return the numbered marks of a span, oldest first, and how many older ones were left out."""
    settings = look.engine.state.settings
    marks: list[tuple[int, str, bool]] = [
        (entry.work.time, work_words(settings, entry.work), False)
        for entry in look.works(place, start - 1)
        if entry.work.kind not in _LEFT_OUT and entry.work.time <= end
    ]
    told: set[str] = set()
    for effect in look.effects(start - 1, end, place):
        draft = effect.draft
        if draft.kind is EffectKind.NOTICE and draft.axis == Occasion.NEW and draft.text not in told:
            told.add(draft.text)
            marks.append((effect.at, draft.text.split(". ", 1)[0], True))
    marks.sort(key=lambda mark: mark[0])
    shown = marks[-MOST_NOTES:]
    return tuple(
        Remark(number, at, words, notice) for number, (at, words, notice) in enumerate(shown, 1)
    ), len(marks) - len(shown)  # fmt: skip
