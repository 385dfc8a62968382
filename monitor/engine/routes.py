"""Where a probe's readings go: looked up once and kept until settings or places change, since readings are many."""

from enum import Enum

from monitor.bins import Bed
from monitor.conditioning import comparable
from monitor.engine.core import Core
from monitor.engine.danger import Danger
from monitor.engine.watch import ProbeWatch
from monitor.model.settings import AMBIENT
from monitor.model.units import Quantity
from monitor.model.words import Role


class Goal(Enum):
    """Who takes a probe's accepted readings."""

    AMBIENT = "ambient"
    BED = "bed"
    CORE = "core"
    PILE = "pile"
    PILE_LINE = "line of a pile"
    NOBODY = "nobody"


_NEVER_HOT = 1 << 40
"""Above anything that is read: nothing is *hot and lost* with it."""


class Route:
    """What is needed to take one probe's readings."""

    __slots__ = ("bed", "comparable_from", "danger", "fit", "goal", "hot_milli", "place", "quantity", "since", "watch")

    def __init__(self, core: Core, probe: str) -> None:
        configured = core.settings.probes[probe]
        self.place = core.place_of(probe)
        # What it said before it was carried here says nothing of this place.
        self.since = max((one.time for one in core.state.carried if one.probe == probe), default=0)
        self.quantity = configured.quantity
        self.watch: ProbeWatch = core.watch(probe)
        self.bed: Bed | None = None
        self.danger: Danger | None = None
        self.hot_milli = _NEVER_HOT
        # A moisture probe may become comparable with its first calibration; for all others the answer never changes.
        starts = sorted(c.start or 0 for c in configured.calibrations)
        self.comparable_from: int | None = 0 if comparable(configured, 0) else None
        if self.comparable_from is None:
            self.comparable_from = next((start for start in starts if comparable(configured, start)), None)
        warm = self.quantity is Quantity.TEMPERATURE
        if self.place == AMBIENT:
            self.goal = Goal.AMBIENT if warm else Goal.NOBODY
        elif self.place in core.settings.bins:
            bed = core.bed(self.place)
            # What probes say in an empty bin is of no bed.
            self.goal, self.bed = (Goal.BED, bed) if bed.state.emptied_at is None else (Goal.NOBODY, None)
        elif self.place in core.settings.piles:
            self.goal = Goal.PILE_LINE
            if warm:
                self.goal = Goal.CORE if configured.role is Role.CORE else Goal.PILE
                self.danger = core.danger(self.place)
                self.hot_milli = core.settings.piles[self.place].thresholds.lost_above_milli_c
        else:
            self.goal = Goal.NOBODY
        self.fit = 0
        outing = core.state.outings.get(probe)
        if outing is not None and (self.goal is not Goal.CORE or core.run_at(self.place) is None):
            # No walk follows it (`outside`): what it says outside is of no place, and what it says right after counts not yet.
            self.fit = outing.accepted_from or 0
            if outing.out is not None:
                self.goal, self.bed, self.danger = Goal.NOBODY, None, None
                self.hot_milli = _NEVER_HOT


def route(core: Core, probe: str) -> Route:
    """Return a configured probe's route."""
    found: Route | None = core.routes.get(probe)
    if found is None:
        found = core.routes[probe] = Route(core, probe)
    return found
