"""Chooses the limits on a plot or scale: limits that raise alarms, if readings come near them or they always matter."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from monitor.drawing import Comfort, Limit
from monitor.engine import hold_milli
from monitor.model.alarm_kinds import Alarm
from monitor.model.units import Quantity

if TYPE_CHECKING:
    from collections.abc import Sequence

    from monitor.engine import Engine
    from monitor.model.thresholds import BinThresholds
    from monitor.page.pictures.plot_series import PlotSeries
    from monitor.page.places.place_view import PlaceView

NEAR_MILLI_K = 8_000
"""A limit against cold is drawn only if readings come this near: far below them it would flatten the plot."""


def limits_of(
    engine: Engine, view: PlaceView, quantity: Quantity, found: Sequence[PlotSeries], span: tuple[int, int]
) -> tuple[Limit, ...]:
    """Return the limits on a plot.

    Args:
        engine: The engine of the look.
        view: The place.
        quantity: The plot's quantity.
        found: The plot's readings.
        span: First and last instant of the plot, UTC ms.
    """
    settings = engine.state.settings
    if view.is_bin:
        if quantity is not Quantity.TEMPERATURE:
            return damp_limits(settings.bins[view.place].thresholds) if quantity is Quantity.MOISTURE else ()
        return bin_limits(settings.bins[view.place].thresholds, _values(found, span))
    pile = settings.piles[view.place].thresholds
    if quantity is Quantity.TEMPERATURE:
        hold = hold_milli(view.run, pile) if view.run is not None else pile.hold_milli_c
        return (
            Limit(milli=hold, label="hold", wanted=True),
            Limit(milli=pile.hot_milli_c, label=Alarm.HOT.kind.name),
            Limit(milli=pile.too_hot_milli_c, label=Alarm.TOO_HOT.kind.name),
            Limit(milli=pile.fire_milli_c, label=Alarm.FIRE.kind.name),
        )
    if quantity is Quantity.OXYGEN:
        return (Limit(milli=pile.oxygen_low_milli_pct, label="low"),)
    return ()


def bin_limits(limits: BinThresholds, values: Iterable[int]) -> tuple[Limit, ...]:
    """Return the limits of temperature on a bin's plot, the lowest first; `values` (thousandths of °C) are those plotted.

    A limit against cold is left out while readings stay far above it.
    """
    lowest = min(values, default=None)
    return tuple(
        limit
        for limit in every_bin_limit(limits)
        if limit.milli >= limits.cool_milli_c or (lowest is not None and lowest <= limit.milli + NEAR_MILLI_K)
    )


def every_bin_limit(limits: BinThresholds) -> tuple[Limit, ...]:
    """Return every limit of a bin's temperature that can ring, the lowest first."""
    every = [
        Limit(milli=limits.freezing_milli_c, label="frost"),
        Limit(milli=limits.overheating_milli_c, label=Alarm.OVERHEATING.kind.name),
        Limit(milli=limits.danger_all_milli_c, label="danger"),
        Limit(milli=limits.danger_any_milli_c, label="hot spot"),
    ]
    if limits.near_freezing_milli_c > limits.freezing_milli_c:
        every.insert(1, Limit(milli=limits.near_freezing_milli_c, label="near freezing"))
    return tuple(sorted(every, key=lambda limit: limit.milli))


def damp_limits(limits: BinThresholds) -> tuple[Limit, ...]:
    """Return every limit of a bin's moisture that can ring, the lowest first."""
    return (
        Limit(milli=limits.too_dry_milli_pct, label=Alarm.TOO_DRY.kind.name),
        Limit(milli=limits.too_wet_milli_pct, label=Alarm.TOO_WET.kind.name),
    )


def _values(found: Sequence[PlotSeries], span: tuple[int, int]) -> list[int]:
    """Return the lowest and highest value of each series within a span."""
    ends: list[int] = []
    for one in found:
        first, last = one.time.searchsorted([span[0], span[1] + 1])
        if last > first:
            ends += [int(one.milli[first:last].min()), int(one.milli[first:last].max())]
    return ends


def comfort_of(engine: Engine, view: PlaceView, quantity: Quantity) -> tuple[Comfort, ...]:
    """Return the band of a plot within which all is well, or ().

    Args:
        engine: The engine of the look.
        view: The place.
        quantity: The plot's quantity.
    """
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
        pile = settings.piles[view.place].thresholds
        low, high = pile.moisture_comfort_low_milli_pct, pile.moisture_comfort_high_milli_pct
        return (Comfort(low_milli=low, high_milli=high, label="comfort"),)
    return ()
