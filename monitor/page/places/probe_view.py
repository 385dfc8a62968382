"""Probes as the page shows them: where each sits, what it said last, and how it is."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from zoneinfo import ZoneInfo

from monitor.engine import Engine
from monitor.model.settings import Probe
from monitor.model.units import Quantity, plain_number, show_percent, show_temperature
from monitor.model.words import Role
from monitor.notices import clean, say_time
from monitor.page.places.page_times import ago


class Health(StrEnum):
    """How a probe is, in words that people read."""

    LIVE = "live"
    NEVER = "never heard"
    SILENT = "silent"
    BROKEN = "broken"
    LOST = "stopped while hot"
    OUT = "outside"


@dataclass(frozen=True, slots=True, kw_only=True)
class ProbeView:
    """One probe at a place.

    Attributes:
        probe: Its id.
        name: What people call it, safe for one line.
        milli: Its newest accepted value, or None.
        shown: The same for people, in the site's unit, or "".
        time: When that was read, UTC ms, or None.
        health: How it is.
        words: Age and health in a few words.
        counts_from: From when on what it reads counts again, UTC ms; None: it counts now, or is not back yet.
    """

    probe: str
    name: str
    configured: Probe
    milli: int | None
    shown: str
    time: int | None
    health: Health
    words: str
    counts_from: int | None = None

    @property
    def serves(self) -> bool:
        """Whether its newest value says something of the place now."""
        return self.health is Health.LIVE and self.milli is not None

    @property
    def core_heat(self) -> bool:
        """Whether it measures heat in the core of a heap."""
        return self.configured.role is Role.CORE and self.configured.quantity is Quantity.TEMPERATURE

    @property
    def heat(self) -> bool:
        """Whether it measures temperature."""
        return self.configured.quantity is Quantity.TEMPERATURE

    @property
    def damp(self) -> bool:
        """Whether it measures moisture."""
        return self.configured.quantity is Quantity.MOISTURE


def probes_at(engine: Engine, place: str, now: int) -> list[ProbeView]:
    """Return the probes that are at a place now, by id."""
    found = sorted(engine.state.settings.probes.items())
    return [probe_view(engine, probe, one, now) for probe, one in found if engine.place_of(probe) == place]


def last_heard(probes: Sequence[ProbeView], now: int) -> str:
    """Return what some probes said last, of which none speaks now: `95 °F at b1-t, 9 h ago, not known since`; "" for nothing.

    Those that lie outside say nothing of the place. The table of probes and `status` say the same of each.
    """
    said = [one for one in probes if one.time is not None and one.health is not Health.OUT]
    newest = max(said, key=lambda one: (one.time or 0, one.probe), default=None)
    if newest is None or newest.time is None:
        return ""
    return f"{newest.shown} at {newest.name}, {ago(newest.time, now)}, not known since"


def probe_view(engine: Engine, probe: str, configured: Probe, now: int) -> ProbeView:
    """Return one probe as it is at `now` (UTC ms)."""
    watch, outing = engine.state.watches.get(probe), engine.state.outings.get(probe)
    milli = watch.accepted_milli if watch is not None else None
    time = watch.accepted_time if watch is not None else None
    health = Health.LIVE
    if outing is not None and outing.out is not None:
        health = Health.OUT
    elif watch is None or watch.newest is None:
        health = Health.NEVER
    else:
        for word, true in ((Health.LOST, watch.lost), (Health.BROKEN, watch.broken), (Health.SILENT, watch.silent)):
            if true:
                health = word
                break
    unit = engine.state.settings.site.temperature_unit
    words = [] if time is None else [ago(time, now)]
    words += [] if health is Health.LIVE else [health.value]
    counts_from = None
    if health is Health.LIVE and outing is not None and outing.accepted_from is not None and outing.accepted_from > now:
        # It takes a while to be as warm as what is about it; until then no alarm and no rule goes by it.
        counts_from = outing.accepted_from
        zone = ZoneInfo(engine.state.settings.site.time_zone)
        words.append(f"counts again from {say_time(counts_from, now, zone)}")
    return ProbeView(
        probe=probe,
        name=clean(configured.name or probe, 24),
        configured=configured,
        milli=milli,
        shown="" if milli is None else show_value(milli, configured, unit),
        time=time,
        health=health,
        words=", ".join(words),
        counts_from=counts_from,
    )


def show_value(milli: int, configured: Probe, temperature_unit: str) -> str:
    """Return a value for people: `131 °F`, `72.5 %`, `3.1 V`."""
    if configured.quantity is Quantity.TEMPERATURE:
        return show_temperature(milli, temperature_unit)
    if configured.quantity in (Quantity.MOISTURE, Quantity.OXYGEN):
        return show_percent(milli)
    return f"{plain_number(milli)} {'V' if configured.quantity is Quantity.BATTERY else 'dBm'}"
