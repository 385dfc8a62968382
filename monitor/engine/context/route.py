"""The route of one probe's readings to the place that takes them."""

from dataclasses import dataclass
from enum import Enum

from monitor.bins import Bed
from monitor.engine.context.dangerous_heat import Danger
from monitor.engine.context.probe_watch import ProbeWatch
from monitor.model.units import Quantity


class Goal(Enum):
    """The kinds of takers of a probe's accepted readings."""

    AMBIENT = "ambient"
    BED = "bed"
    CORE = "core"
    PILE = "pile"
    PILE_LINE = "line of a pile"
    NOBODY = "nobody"


NEVER_HOT = 1 << 40
"""Higher than any reading, so that no probe with this limit is *hot and lost*."""


@dataclass(slots=True, kw_only=True)
class Route:
    """Everything needed to take one probe's readings.

    Attributes:
        place: Where the probe is, "" if nowhere.
        quantity: What it measures.
        since: When it was carried here, UTC ms; earlier readings do not concern this place.
        fit: Readings from before this instant (UTC ms) go nowhere: the probe lay outside.
        comparable_from: From when on its readings can be compared with limits, UTC ms; None: never.
        watch: The watch of the probe itself.
        goal: The taker of the readings.
        bed: The bin's bed, where that takes them.
        danger: The pile's watch for dangerous heat, where that takes them.
        hot_milli: From this value on a silence of the probe is *hot and lost*, thousandths of °C.
    """

    place: str
    quantity: Quantity
    since: int
    fit: int
    comparable_from: int | None
    watch: ProbeWatch
    goal: Goal = Goal.NOBODY
    bed: Bed | None = None
    danger: Danger | None = None
    hot_milli: int = NEVER_HOT
