"""The memory of a bin, and the changes that a bed can report."""

from dataclasses import dataclass, field

from monitor.model.alarm_signals import AlarmSignal
from monitor.model.excursions import Excursion
from monitor.model.words import Dampness, Thermal


@dataclass(slots=True)
class Newest:
    """The newest accepted reading of one probe."""

    time: int
    milli: int
    silent: bool = False


@dataclass(slots=True)
class Emptied:
    """The state of a bed when its bin was emptied (at `at`, UTC ms), in case the emptying is withdrawn."""

    at: int
    temperatures: dict[str, Newest]
    moistures: dict[str, Newest]
    excursions: list[Excursion]


@dataclass(slots=True)
class BinState:
    """The whole memory of a bin.

    Attributes:
        fed_at: When it was last fed, UTC ms.
        mutes: (from, to) of the last stretches in which work muted its moisture alarms.
        emptied_at: When it was emptied, or None while a bed lies in it.
        before: Its state when it was emptied the last time, or None.
    """

    thermal: Thermal | None = None
    moisture: Dampness | None = None
    temperatures: dict[str, Newest] = field(default_factory=dict)
    moistures: dict[str, Newest] = field(default_factory=dict)
    overheating: Excursion = field(default_factory=Excursion)
    danger_all: Excursion = field(default_factory=Excursion)
    danger_any: Excursion = field(default_factory=Excursion)
    freezing: Excursion = field(default_factory=Excursion)
    near_freezing: Excursion = field(default_factory=Excursion)
    too_wet: Excursion = field(default_factory=Excursion)
    too_dry: Excursion = field(default_factory=Excursion)
    fed_at: int | None = None
    mutes: list[tuple[int, int]] = field(default_factory=list)
    emptied_at: int | None = None
    before: Emptied | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ConditionChange:
    """A change of condition: `since` is the time of the reading that brought it, `milli` its value, thousandths."""

    axis: str
    before: Thermal | Dampness | None
    after: Thermal | Dampness
    since: int
    probe: str
    milli: int | None


BinChange = ConditionChange | AlarmSignal
