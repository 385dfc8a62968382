"""Draws the section of a heap or a bin from its probes' present values, and nothing that they do not show."""

from monitor.drawing import (
    BinProbe,
    BinSection,
    PileProbe,
    PileSection,
    PileShape,
    ProbeState,
    Unit,
    bin_section,
    pile_section,
)
from monitor.engine import Engine, hold_milli
from monitor.model.words import Role
from monitor.notices import say_span
from monitor.page.pictures.plot_limits import damp_limits, every_bin_limit
from monitor.page.pictures.probe_names import by_depth, names_by_depth
from monitor.page.places.place_view import PlaceView
from monitor.page.places.probe_view import Health, ProbeView

WIDE, NARROW = 480, 276
"""Widths of a section, CSS px. The stylesheet never shows a section smaller than it is drawn, so that letters can be read. On
the yard's sheet the narrow one is shown, and the words next to it say what has no room in it."""


def section(engine: Engine, view: PlaceView, now: int, width: int) -> str:
    """Return a place drawn in section, as SVG.

    Args:
        engine: The engine of the look.
        view: The place.
        now: The daemon's time, UTC ms.
        width: The width, CSS px.
    """
    return _bin_section(engine, view, now, width) if view.is_bin else _pile_section(engine, view, width)


def _pile_section(engine: Engine, view: PlaceView, width: int) -> str:
    state = engine.state
    pile = state.settings.piles[view.place]
    method = view.run.method if view.run is not None else pile.method
    shown = by_depth([probe for probe in view.probes if probe.heat and probe.configured.role is not Role.AMBIENT])
    named = names_by_depth(shown, state.settings.site.temperature_unit)
    probes = tuple(
        PileProbe(
            # A depth of its own names a probe better than its id does.
            name=probe.name if probe.name in named[probe.probe] else "",
            milli_c=probe.milli,
            depth_milli_m=probe.configured.depth_milli_m,
            # Only one word has room here; the list of probes beside it shows the age.
            state=_drawn_state(probe),
        )
        for probe in shown
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
            height=264 if width > NARROW else 220,
            empty=view.run is None,
        )
    )


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
                    name=probe.name,
                    quantity=probe.configured.quantity,
                    milli=probe.milli,
                    state=_drawn_state(probe),
                    words=probe.words,
                )
                for probe in view.probes
                if probe.heat or probe.damp
            ),
            heat_comfort=(limits.cool_milli_c, limits.warm_milli_c),
            heat_limits=every_bin_limit(limits),
            damp_limits=damp_limits(limits),
            damp_comfort=(limits.too_dry_milli_pct, limits.too_wet_milli_pct),
            air_milli_c=state.air,
            fed_ms=now - bed.fed_at if bed is not None and bed.fed_at is not None and bed.emptied_at is None else None,
            fed=fed,
            title=f"{view.name} in section, {view.state}",
            width=width,
            height=250 if width > NARROW else 276,
        )
    )


def _drawn_state(probe: ProbeView) -> ProbeState:
    return {
        Health.LIVE: ProbeState.LIVE,
        Health.OUT: ProbeState.OUT,
        Health.BROKEN: ProbeState.BROKEN,
        Health.LOST: ProbeState.SILENT,
        Health.SILENT: ProbeState.SILENT,
        Health.NEVER: ProbeState.SILENT,
    }[probe.health]
