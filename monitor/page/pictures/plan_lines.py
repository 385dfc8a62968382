"""Makes the line of a place's last 72 hours for its card: of the one series whose value is the card's number.

It reads these hours of that series alone, however long the record is.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from monitor.drawing import PlanLine, plan_line
from monitor.engine import hold_milli
from monitor.model.readings import is_hand
from monitor.model.times import DAY_MS, HOUR_MS, MINUTE_MS
from monitor.model.units import show_temperature
from monitor.model.words import Phase
from monitor.page.pictures.plot_series import series_within
from monitor.page.pictures.probe_outings import outings

if TYPE_CHECKING:
    from monitor.page.places.place_number import PlaceNumber
    from monitor.page.places.place_view import PlaceView
    from monitor.page.ports import Look

SPAN_MS = 72 * HOUR_MS
_GAP_MS = 2 * HOUR_MS
_WORK_MS = 10 * DAY_MS
_STEP_MS = 10 * MINUTE_MS
_HEAP_C, _BED_C = (20_000, 80_000), (5_000, 40_000)
"""Foot and top of the lines of heaps and of beds, thousandths of °C: the same on all cards. Ours."""


def line_of(look: Look, view: PlaceView, number: PlaceNumber) -> str:
    """Return the line of a place as SVG; "" if nothing was read in its hours.

    Args:
        look: The look.
        view: The place.
        number: The number of its card.
    """
    # To the next ten minutes, so that the line stays the same drawing while nothing is read.
    end = (look.now // _STEP_MS + 1) * _STEP_MS
    start, by_hand = end - SPAN_MS, is_hand(number.series)
    own = tuple(probe for probe in view.probes if probe.probe == number.series)
    # Older work than this cannot have put a probe out that tells of now.
    since = max(view.built or 0, start - _WORK_MS)
    out = (
        outings(look, replace(view, probes=own, built=since), start - _GAP_MS, end).get(number.series, ())
        if own
        else ()
    )
    found = series_within(look, number.series, start, end, _GAP_MS, out)
    now = found.milli[int(found.time.searchsorted(start)) :]
    if not len(now):
        return ""
    unit = look.engine.state.settings.site.temperature_unit
    low, high = (show_temperature(int(one), unit, whole=True) for one in (now.min(), now.max()))
    foot, top = _BED_C if view.is_bin else _HEAP_C
    return plan_line(
        PlanLine(
            times=found.time,
            milli=found.milli,
            start=start,
            end=end,
            low=foot,
            high=top,
            band=_band(look, view),
            max_gap_ms=None if by_hand else _GAP_MS,
            cuts=[one.start for one in out],
            words=f"72 hours: {low} to {high}" if low != high else f"72 hours: {low}",
        )
    )


def _band(look: Look, view: PlaceView) -> tuple[int, int] | None:
    """Return between which temperatures all is well: comfort in a bed, from hold to hot in a heap that is to be hot."""
    settings = look.engine.state.settings
    if view.is_bin:
        limits = settings.bins[view.place].thresholds
        return limits.cool_milli_c, limits.warm_milli_c
    pile = settings.piles[view.place].thresholds
    if view.run is None or view.run.walk.shown_phase in (Phase.COOLING, Phase.READY):
        return None  # it need not be hot any more
    return hold_milli(view.run, pile), pile.hot_milli_c
