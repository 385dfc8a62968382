"""The daemon's signs of life, for programs that watch the daemon."""

from collections.abc import Callable
from functools import cached_property
from typing import TYPE_CHECKING

from monitor.app.loop.hub import STUCK_S, Hub
from monitor.app.loop.storing import is_marked_failing
from monitor.app.page_ports.page_yard import DaemonYard
from monitor.configuration import Configuration

if TYPE_CHECKING:
    from monitor.app.page_ports.open_metrics import DaemonFigures


class DaemonVitals:
    """Fills `monitor.page.Vitals`."""

    def __init__(self, hub: Hub, yard: DaemonYard, configuration: Callable[[], Configuration]) -> None:
        """Note whom to ask.

        Args:
            hub: The writer's loop, asked how long ago it came round.
            yard: Gives a consistent copy of the engine.
            configuration: Returns the configuration in force.
        """
        self._hub = hub
        self._yard = yard
        self._folder = configuration().data

    def trouble(self) -> str:
        """Return why the daemon stores nothing, a sentence; "" while it does."""
        still_s = self._hub.stuck_s()
        if still_s > STUCK_S:
            return f"Nothing could be stored for {still_s:.0f} s; the daemon's log says why."
        return "Nothing can be stored; the daemon's log says why." if is_marked_failing(self._folder) else ""

    def measurements(self) -> bytes:
        """Return the daemon's figures as OpenMetrics text."""
        return self._figures.text()

    @cached_property
    def _figures(self) -> "DaemonFigures":
        # Loaded when a program first asks: most yards never do, and the daemon is to stay small.
        from monitor.app.page_ports.open_metrics import DaemonFigures  # noqa: PLC0415

        return DaemonFigures(self._yard, self._folder, stores=lambda: not self.trouble(), turn_age_s=self._hub.stuck_s)
