"""Says how warm the air is, was, and is forecast to be, for the head of the yard's sheet; only what is known.

Yesterday's high is told only of a day that was watched: with a reading in 18 of its hours or more. Ours.
"""

from datetime import timedelta
from zoneinfo import ZoneInfo

from monitor.model.settings import AMBIENT
from monitor.model.times import HOUR_MS
from monitor.model.units import Quantity, show_temperature
from monitor.notices import instant, local
from monitor.page.pictures.plot_series import series_of
from monitor.page.places.page_times import coarse
from monitor.page.places.probe_view import Health, probe_view
from monitor.page.ports import Look

WATCHED_HOURS = 18
FRESH_MS = HOUR_MS
"""An older reading of the air is told with its age."""


def air_words(look: Look, *, names: bool) -> str:
    """Return `air 81 °F, high 97 °F yesterday; tomorrow 97 °F, typed in by Ann`, or as much of it as is known; "" for nothing.

    Args:
        look: The look.
        names: Whether it may say who typed the forecast in.
    """
    return "; ".join(one for one in (_measured(look), look.air_ahead(names=names)) if one)


def _measured(look: Look) -> str:
    """Return `air 81 °F, high 97 °F yesterday`, or as much of it as is known; "" without a probe in the air."""
    settings = look.engine.state.settings
    for name, probe in settings.probes.items():
        if probe.place != AMBIENT or probe.quantity is not Quantity.TEMPERATURE:
            continue
        view = probe_view(look.engine, name, probe, look.now)
        unit = settings.site.temperature_unit
        said = []
        if view.milli is not None and view.time is not None:
            old = view.health is not Health.LIVE or look.now - view.time >= FRESH_MS
            said.append(f"air {show_temperature(view.milli, unit, whole=True)}")
            said += [f"{coarse(look.now - view.time)} ago"] if old else []
        high = _high_of_yesterday(look, name)
        if high is not None:
            shown = show_temperature(high, unit, whole=True)
            said.append(f"high {shown} yesterday" if said else f"air: high {shown} yesterday")
        if said:
            return ", ".join(said)
    return ""


def _high_of_yesterday(look: Look, probe: str) -> int | None:
    """Return the highest reading of the local day before today, thousandths of °C; None if too little of it was watched."""
    zone = ZoneInfo(look.engine.state.settings.site.time_zone)
    today = local(look.now, zone).date()
    start, end = instant(today - timedelta(days=1), 0, zone), instant(today, 0, zone)
    found = series_of(look, probe, start, end - 1)
    if len({at // HOUR_MS for at in found.time.tolist()}) < WATCHED_HOURS:
        return None
    return int(found.milli.max())
