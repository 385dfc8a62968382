"""Describes probes: where each sits, its last value, and its health."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from zoneinfo import ZoneInfo

from monitor.engine import Engine
from monitor.model.settings import Probe
from monitor.model.units import Quantity, show_milli
from monitor.model.words import Role
from monitor.notices import clean, say_time
from monitor.page.places.page_times import ago


class Health(StrEnum):
    """A probe's health, in people's words."""

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
        name: Its name, safe for one line.
        milli: Its newest accepted value, thousandths of the canonical unit, or None.
        shown: The same for people, in the site's unit, or "".
        time: When that was read, UTC ms, or None.
        health: Its health.
        words: Age and health in a few words.
        counts_from: When its readings will count again, UTC ms; None: they count now, or it is not back yet.
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
        """Whether its newest value describes the place now."""
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
    """Return the probes that are at a place now, by id.

    Args:
        engine: The engine of the look.
        place: Id of the place.
        now: The daemon's time, UTC ms.
    """
    found = sorted(engine.state.settings.probes.items())
    return [probe_view(engine, probe, one, now) for probe, one in found if engine.place_of(probe) == place]


def last_heard(probes: Sequence[ProbeView], now: int) -> str:
    """Return the newest value of probes that are all silent now: `95 °F at b1-t, 9 h ago, not known since`; "" for none.

    Probes that lie outside are left out. The table of probes and `status` show the same value for each.
    """
    said = [one for one in probes if one.time is not None and one.health is not Health.OUT]
    newest = max(said, key=lambda one: (one.time or 0, one.probe), default=None)
    if newest is None or newest.time is None:
        return ""
    return f"{newest.shown} at {newest.name}, {ago(newest.time, now)}, not known since"


def probe_view(engine: Engine, probe: str, configured: Probe, now: int) -> ProbeView:
    """Return one probe.

    Args:
        engine: The engine of the look.
        probe: Its id.
        configured: Its settings.
        now: The daemon's time, UTC ms.
    """
    watch, outing = engine.state.watches.get(probe), engine.state.outings.get(probe)
    milli = watch.accepted_milli if watch is not None else None
    time = watch.accepted_time if watch is not None else None
    health = Health.LIVE
    if outing is not None and outing.out is not None:
        health = Health.OUT
    elif watch is None or watch.newest is None:
        health = Health.NEVER
    else:
        silent = watch.silent or (time is not None and not engine.speaks(probe, now))
        for word, true in ((Health.LOST, watch.lost), (Health.BROKEN, watch.broken), (Health.SILENT, silent)):
            if true:
                health = word
                break
    unit = engine.state.settings.site.temperature_unit
    words = [] if time is None else [ago(time, now)]
    words += [] if health is Health.LIVE else [health.value]
    counts_from = None
    if health is Health.LIVE and outing is not None and outing.accepted_from is not None and outing.accepted_from > now:
        # A probe needs a while to take on the heat around it; until then alarms and rules ignore it.
        counts_from = outing.accepted_from
        zone = ZoneInfo(engine.state.settings.site.time_zone)
        words.append(f"counts again from {say_time(counts_from, now, zone)}")
    return ProbeView(
        probe=probe,
        name=clean(configured.name or probe, 24),
        configured=configured,
        milli=milli,
        shown="" if milli is None else show_milli(milli, configured.quantity, unit),
        time=time,
        health=health,
        words=", ".join(words),
        counts_from=counts_from,
    )
