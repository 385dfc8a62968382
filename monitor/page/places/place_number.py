"""Chooses the one large number of a place, and says how it is known.

A heap's is its coldest core, since that decides its rule; while it is too hot, its hottest. A bed's is its hottest spot; near
frost its coldest. What nobody knows now is told as it was last known, with its age.
"""

from dataclasses import dataclass

from monitor.alarms import GOING_ON
from monitor.engine import Engine
from monitor.model.alarm_kinds import CATALOG, WrongSide
from monitor.model.units import Quantity, show_temperature
from monitor.model.words import Role
from monitor.page.places.page_times import coarse
from monitor.page.places.place_view import PlaceView
from monitor.page.places.probe_view import Health


@dataclass(frozen=True, slots=True, kw_only=True)
class PlaceNumber:
    """The number of a place.

    Attributes:
        shown: The number: `146 °F`.
        words: What it is: `coldest core`, `by hand`, `43 h ago`; or "".
        old: Whether it no longer tells of now.
        series: The probe, or the spot by hand, that it comes from.
    """

    shown: str
    words: str
    old: bool
    series: str


def number_of_place(engine: Engine, view: PlaceView, now: int) -> PlaceNumber | None:
    """Return the number of a place, or None: nothing lies there, or nobody ever measured it.

    Args:
        engine: The engine of the look.
        view: The place.
        now: The daemon's time, UTC ms.
    """
    if not view.is_bin and view.run is None:
        return None
    unit = engine.state.settings.site.temperature_unit
    inside = {
        probe.probe for probe in view.probes if probe.heat and (view.is_bin or probe.configured.role is Role.CORE)
    }
    known = [
        one for one in engine.current(view.place, Quantity.TEMPERATURE, now) if one.by_hand or one.series in inside
    ]
    if known:
        hottest = _hottest(view)
        one = (max if hottest else min)(known, key=lambda value: (value.milli, value.series))
        words = "" if len(known) == 1 else f"{'hottest' if hottest else 'coldest'} {'spot' if view.is_bin else 'core'}"
        words = ", ".join(part for part in (words, "by hand" if one.by_hand else "") if part)
        shown = show_temperature(one.milli, unit, whole=True)
        return PlaceNumber(shown=shown, words=words, old=False, series=one.series)
    heard = [
        probe
        for probe in view.probes
        if probe.probe in inside
        and probe.time is not None
        and probe.milli is not None
        and probe.health is not Health.OUT
    ]
    newest = max(heard, key=lambda probe: (probe.time or 0, probe.probe), default=None)
    if newest is None or newest.milli is None or newest.time is None:
        return None
    return PlaceNumber(
        shown=show_temperature(newest.milli, unit, whole=True),
        words=f"{coarse(now - newest.time)} ago",
        old=True,
        series=newest.probe,
    )


def _hottest(view: PlaceView) -> bool:
    """Return whether the hottest value tells most about a place now; else the coldest does."""
    sides = {
        CATALOG[one.alarm].side
        for one in view.needs
        if one.state in GOING_ON and one.alarm in CATALOG and CATALOG[one.alarm].quantity is Quantity.TEMPERATURE
    }
    if view.is_bin:
        return WrongSide.BELOW not in sides
    return WrongSide.ABOVE in sides
