"""The question that each source of due things answers."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from monitor.app.stock import read_material
from monitor.configuration import Configuration
from monitor.diary import Due
from monitor.engine import Engine
from monitor.journal import Store
from monitor.material import MaterialRecord
from monitor.model.settings import Settings


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """A look at the yard: what falls due before `until`?

    Attributes:
        engine: An engine at the end of the record; asking it changes nothing.
        store: The journal.
        configuration: The configuration.
        now: The instant of the look, UTC ms.
        until: The first instant that is too late to matter, UTC ms; a source may give later things too.
        read: Returns the yard's material, if somebody keeps it; None: it is read from the record.
    """

    engine: Engine
    store: Store
    configuration: Configuration
    now: int
    until: int
    read: Callable[[], MaterialRecord] | None = None

    def material(self) -> MaterialRecord:
        """Return the graph of the yard's material, and its stock."""
        if self.read is not None:
            return self.read()
        return read_material(self.store, self.configuration, lambda: self.engine)

    @property
    def settings(self) -> Settings:
        """The settings in force."""
        return self.engine.state.settings

    @property
    def zone(self) -> ZoneInfo:
        """The yard's time zone."""
        return ZoneInfo(self.settings.site.time_zone)


Source = Callable[[Asked], Iterable[Due]]
"""Gives the due things of one kind, in no order."""
