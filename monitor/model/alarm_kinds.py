"""The one declaration of each alarm: its subject, its urgency, its thresholds, and what people may do about it.

Code that needs *all alarms of a bin's moisture* or *all that call for a turning* asks these facts, never a second list. The
condition itself stands where it is measured (`piles/`, `bins/`, `engine/`), and names its alarm by the constant here; the
sentences stand in `notices/`. A test refuses an alarm's id spelled out anywhere else.

Source: the priorities are our own choice (common practice, no published source).
"""

from dataclasses import dataclass
from enum import Enum, StrEnum, auto
from typing import Self

from monitor.model.times import HOUR_MS
from monitor.model.units import Quantity
from monitor.model.words import Priority

BRIEF_MS = 2 * HOUR_MS
"""Longest time for which a danger can be put off."""


class About(Enum):
    """The subject of an alarm."""

    HEAP = auto()
    BED = auto()
    PLACE = auto()
    """A place: a heap or a bed."""
    PROBE = auto()
    """A single probe, node or link: a place may have several, so the alarm's key ends in its id."""
    WATCH = auto()
    """The watch itself: a `link` event whose `what` is the alarm's id reports such a fault."""


class WrongSide(Enum):
    """The wrong side of the limit in an alarm's message."""

    NONE = auto()
    ABOVE = auto()
    BELOW = auto()
    SHORT = auto()
    """Below the limit too; but here the limit is a goal, not a bound."""


class Concern(StrEnum):
    """A person's word for the trouble, in labels of the past."""

    HEAT = "heat"
    COLD = "cold"
    WET = "wet"
    DRY = "dry"
    PROBE = "probe"


@dataclass(frozen=True, slots=True)
class ReadLimit:
    """A limit that a single temperature can be beyond.

    Attributes:
        field: The threshold's field.
        dwell: The field with the time for which it must stay beyond; "": one reading is enough.
        at: Whether a value exactly at the limit is beyond it.
    """

    field: str
    dwell: str = ""
    at: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class AlarmKind:
    """The fixed properties of an alarm.

    Attributes:
        name: People's name for it, in the middle of a sentence.
        about: Its subject.
        priority: How soon somebody must act.
        at_first: The same at its first limit, if it has two (stage 0 of `AlarmRecord`).
        evening: Whether, at its worse limit, its notices go through quiet hours until midnight.
        wakes: Whether its notices go through quiet hours.
        at_once: Whether it goes alone and at once, as the highest does, however lately the reader got another message.
        muted_by_turning: Whether a turning that is under way or suspected at the place mutes it.
        covers: Ids of alarms of the same place that have nothing to add while this one is on; they are muted for as long.
        always_told: Whether an excursion that is already over makes a notice however old it is.
        shuts: Whether nobody should open a heap while it is on.
        asks_turning: Whether it asks for a turning.
        quantity: Quantity of its number, if that is not its probe's own.
        side: The wrong side of its limit.
        unheard: Whether it is on because nothing is measured any more: then its number is an old one.
        concern: A person's word for the trouble in labels, or None.
        limits: Limits that a temperature read by hand can be beyond, the worse first.
        goes_by: Keys of the thresholds that decide it; empty: any of its place's.
        repeats: The most repeats to one person; None: as many as the yard's settings have. From then on it stands in the
            digest, and is passed on only where nobody who was told gets that.
    """

    name: str
    about: About
    priority: Priority
    at_first: Priority | None = None
    evening: bool = False
    wakes: bool = False
    at_once: bool = False
    muted_by_turning: bool = True
    covers: tuple[str, ...] = ()
    always_told: bool = False
    shuts: bool = False
    asks_turning: bool = False
    quantity: Quantity = Quantity.TEMPERATURE
    side: WrongSide = WrongSide.NONE
    unheard: bool = False
    concern: Concern | None = None
    limits: tuple[ReadLimit, ...] = ()
    goes_by: tuple[str, ...] = ()
    repeats: int | None = None

    @property
    def of_probe(self) -> bool:
        """Whether its key ends in the id of its subject."""
        return self.about is About.PROBE

    @property
    def brief(self) -> bool:
        """Whether it may be put off for 2 h at most: a person who puts off a danger must look again soon."""
        return self.priority is Priority.HIGHEST or self.shuts

    @property
    def urgency(self) -> tuple[int, bool, bool]:
        """Sort key of the worst alarm, the greatest: how soon somebody must act, and whom it may wake."""
        return self.priority, self.wakes, self.evening


class Alarm(StrEnum):
    """Every alarm, each with its `kind`. A member equals its id in records, so an id never changes."""

    kind: AlarmKind

    def __new__(cls, word: str, kind: AlarmKind) -> Self:
        """Make the member whose text is its id."""
        member = str.__new__(cls, word)
        member._value_ = word
        member.kind = kind
        return member

    # fmt: off
    STALLED = "stalled", AlarmKind(
        name="not heating up", about=About.HEAP, priority=Priority.LOW, side=WrongSide.SHORT, concern=Concern.COLD,
    )
    COLD_CORNER = "cold-corner", AlarmKind(
        name="cold corner", about=About.HEAP, priority=Priority.LOW, side=WrongSide.SHORT, asks_turning=True,
        concern=Concern.COLD,
    )
    TURNING_DUE = "turning-due", AlarmKind(
        name="due for turning", about=About.HEAP, priority=Priority.MEDIUM, side=WrongSide.SHORT, asks_turning=True,
    )
    ROUND_DUE = "round-due", AlarmKind(
        name="a missed round", about=About.HEAP, priority=Priority.MEDIUM, muted_by_turning=False,
    )
    COOLED_UNMET = "cooled-unmet", AlarmKind(
        name="cooled too early", about=About.HEAP, priority=Priority.MEDIUM, side=WrongSide.SHORT, concern=Concern.COLD,
    )
    HOT = "hot", AlarmKind(
        name="hot", about=About.HEAP, priority=Priority.MEDIUM, side=WrongSide.ABOVE, asks_turning=True,
        covers=("turning-due",), concern=Concern.HEAT, limits=(ReadLimit("hot_milli_c", "hot_dwell_ms"),),
        goes_by=("hot", "hot_dwell", "deadband"),
    )
    TOO_HOT = "too-hot", AlarmKind(
        name="too hot", about=About.HEAP, priority=Priority.HIGH, wakes=True, shuts=True, side=WrongSide.ABOVE,
        asks_turning=True, covers=("hot", "turning-due"), concern=Concern.HEAT, limits=(ReadLimit("too_hot_milli_c"),),
        goes_by=("too_hot", "deadband"),
    )
    FIRE = "fire", AlarmKind(
        name="fire danger", about=About.HEAP, priority=Priority.HIGHEST, wakes=True, muted_by_turning=False, shuts=True,
        side=WrongSide.ABOVE, covers=("too-hot", "hot", "turning-due", "cold-corner", "round-due"), concern=Concern.HEAT,
        limits=(ReadLimit("fire_milli_c"),), goes_by=("fire", "fire_confirm", "deadband"),
    )
    HOT_AND_LOST = "hot-and-lost", AlarmKind(
        name="a hot probe that stopped", about=About.PROBE, priority=Priority.HIGH, wakes=True, muted_by_turning=False,
        shuts=True, unheard=True, concern=Concern.PROBE, goes_by=("lost_above", "lost_within", "lost_silence"),
    )
    LOOK_AT_PROBE = "look-at-probe", AlarmKind(
        name="a probe to look at", about=About.PROBE, priority=Priority.HIGH, wakes=True, shuts=True,
        concern=Concern.PROBE,
    )
    # Stage 0 of these two: nothing lies at the place, so only the probe itself is at stake.
    SILENT = "silent", AlarmKind(
        name="a silent probe", about=About.PROBE, priority=Priority.MEDIUM, at_first=Priority.LOW, unheard=True,
        concern=Concern.PROBE, goes_by=("silent_spacings", "silent_min", "silent_min_calm"), repeats=1,
    )
    BROKEN = "broken", AlarmKind(
        name="a broken probe", about=About.PROBE, priority=Priority.MEDIUM, at_first=Priority.LOW, unheard=True,
        concern=Concern.PROBE, repeats=1,
    )
    CLOCK = "clock", AlarmKind(
        name="a wrong clock", about=About.PROBE, priority=Priority.MEDIUM, muted_by_turning=False, concern=Concern.PROBE,
    )
    LINK = "link", AlarmKind(
        name="a broken link", about=About.PROBE, priority=Priority.MEDIUM, muted_by_turning=False, concern=Concern.PROBE,
    )
    UNWATCHED = "unwatched", AlarmKind(
        name="nothing watches it", about=About.PLACE, priority=Priority.MEDIUM, muted_by_turning=False, unheard=True,
    )
    DISK = "disk", AlarmKind(
        name="nothing can be stored", about=About.WATCH, priority=Priority.HIGH, wakes=True, at_once=True,
        muted_by_turning=False,
    )
    RECORD = "record", AlarmKind(
        name="a damaged record", about=About.WATCH, priority=Priority.HIGH, muted_by_turning=False,
    )
    BACKUP = "backup", AlarmKind(
        name="a failed backup", about=About.WATCH, priority=Priority.MEDIUM, muted_by_turning=False,
    )
    FILLING = "filling", AlarmKind(
        name="a disk that fills up", about=About.WATCH, priority=Priority.LOW, muted_by_turning=False,
    )
    PAGE = "page", AlarmKind(
        name="the page is away", about=About.WATCH, priority=Priority.MEDIUM, muted_by_turning=False,
    )
    FLOOD = "flood", AlarmKind(
        name="a flood of messages", about=About.WATCH, priority=Priority.MEDIUM, muted_by_turning=False,
    )
    OVERHEATING = "overheating", AlarmKind(
        name="overheating", about=About.BED, priority=Priority.HIGH, side=WrongSide.ABOVE, concern=Concern.HEAT,
        limits=(ReadLimit("overheating_milli_c", "overheating_dwell_ms"),),
        goes_by=("overheating", "overheating_dwell", "deadband"),
    )
    WORMS_IN_DANGER = "worms-in-danger", AlarmKind(
        name="worms in danger", about=About.BED, priority=Priority.HIGHEST, wakes=True, always_told=True,
        side=WrongSide.ABOVE, covers=("overheating",), concern=Concern.HEAT,
        limits=(
            ReadLimit("danger_any_milli_c", at=False), ReadLimit("danger_all_milli_c", "danger_all_dwell_ms", at=False),
        ),
        goes_by=("danger_all", "danger_all_dwell", "danger_any", "deadband"),
    )
    FREEZING = "freezing", AlarmKind(
        name="close to freezing", about=About.BED, priority=Priority.HIGH, at_first=Priority.MEDIUM, evening=True,
        side=WrongSide.BELOW, concern=Concern.COLD, limits=(ReadLimit("freezing_milli_c"), ReadLimit("near_freezing_milli_c")),
        goes_by=("near_freezing", "freezing", "deadband"),
    )
    # Stage 0: on the lid, and all alive.
    WORMS_UNWELL = "worms-unwell", AlarmKind(
        name="worms unwell", about=About.BED, priority=Priority.HIGH, at_first=Priority.MEDIUM, muted_by_turning=False,
    )
    TOO_WET = "too-wet", AlarmKind(
        name="too wet", about=About.BED, priority=Priority.LOW, quantity=Quantity.MOISTURE, side=WrongSide.ABOVE,
        concern=Concern.WET, goes_by=("too_wet", "moisture_deadband", "too_wet_dwell", "moisture_mute"),
    )
    TOO_DRY = "too-dry", AlarmKind(
        name="too dry", about=About.BED, priority=Priority.LOW, quantity=Quantity.MOISTURE, side=WrongSide.BELOW,
        concern=Concern.DRY, goes_by=("too_dry", "moisture_deadband", "too_dry_dwell", "moisture_mute"),
    )
    # fmt: on


CATALOG: dict[str, AlarmKind] = {alarm.value: alarm.kind for alarm in Alarm}
"""The facts of each alarm by its id, for code that has only the text of a record."""

FAULTS: tuple[Alarm, ...] = tuple(alarm for alarm in Alarm if alarm.kind.about is About.WATCH)
"""Alarms of the watch itself, such as that nothing can be stored or that the backup failed."""
HEAP_HEAT: tuple[Alarm, ...] = tuple(
    alarm for alarm in Alarm if alarm.kind.about is About.HEAP and alarm.kind.side is WrongSide.ABOVE
)
"""Alarms of a heap that is hotter than it should be."""
BED_MOISTURE: tuple[Alarm, ...] = tuple(
    alarm for alarm in Alarm if alarm.kind.about is About.BED and alarm.kind.quantity is Quantity.MOISTURE
)
"""Alarms that water and food mute in a bin for a while."""
SHUT: frozenset[str] = frozenset(alarm.value for alarm in Alarm if alarm.kind.shuts)
"""Alarms during which nobody should open a heap."""


def alarm_key(place: str, alarm: str, probe: str = "") -> str:
    """Make the key of an alarm.

    Args:
        place: Id of the place.
        alarm: Id of the alarm.
        probe: Id of the probe, node or link; used only for an alarm of one.

    Returns:
        `PLACE/ALARM` or `PLACE/ALARM/PROBE`.
    """
    return f"{place}/{alarm}/{probe}" if CATALOG[alarm].of_probe else f"{place}/{alarm}"


def alarm_name(alarm: str) -> str:
    """Return people's name for an alarm; the id itself if unknown, as in the record of a later version."""
    return CATALOG[alarm].name if alarm in CATALOG else alarm


def read_alarms(about: About) -> list[Alarm]:
    """Return the alarms that a temperature read by hand can mean at a heap or a bed, the worst first."""
    mine = [alarm for alarm in Alarm if alarm.kind.about is about and alarm.kind.limits]
    return sorted(mine, key=lambda alarm: alarm.kind.urgency, reverse=True)
