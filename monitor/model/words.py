"""The words of the trade and of the alarm standard, as enums; stored and shown, so never renamed.

Source: ISA-18.2 / IEC 62682 for the alarm states; design of this project for the rest.
"""

from enum import IntEnum, StrEnum


class Phase(StrEnum):
    """Phase of a batch, by temperature alone."""

    HEATING = "heating"
    HOLDING = "holding"
    COOLING = "cooling"
    READY = "ready for worms"


PHASE_SHOWN: dict[Phase, str] = {phase: phase.value for phase in Phase} | {Phase.READY: "cool enough for worms"}
"""Words for people: temperature alone shows only that a heap is cool enough; turning, wetting and a trial must follow."""


class RuleState(StrEnum):
    """A batch's progress with its rule."""

    NOT_BEGUN = "not begun"
    RUNNING = "running"
    MET = "met"


class Thermal(StrEnum):
    """A bin's condition by temperature."""

    UNKNOWN = "unknown"
    COLD = "cold"
    COOL = "cool"
    COMFORT = "comfort"
    WARM = "warm"
    OVERHEATING = "overheating"


class Dampness(StrEnum):
    """A bin's condition by moisture."""

    UNKNOWN = "unknown"
    TOO_DRY = "too dry"
    COMFORT = "comfort"
    TOO_WET = "too wet"


class AlarmState(StrEnum):
    """State of an alarm (ISA-18.2 / IEC 62682)."""

    NORMAL = "normal"
    UNACKNOWLEDGED = "unacknowledged"
    ACKNOWLEDGED = "acknowledged"
    RETURNED = "returned unacknowledged"
    SHELVED = "shelved"
    SUPPRESSED = "suppressed"
    OUT_OF_SERVICE = "out of service"


class Priority(IntEnum):
    """The urgency of an alarm; LINE appears only in the digest."""

    LINE = 0
    LOW = 1
    MEDIUM = 2
    HIGH = 3
    HIGHEST = 4


class Role(StrEnum):
    """The position of a probe in its place."""

    CORE = "core"
    SURFACE = "surface"
    BEDDING = "bedding"
    AMBIENT = "ambient"


class Method(StrEnum):
    """The way in which a pile is aerated."""

    PASSIVE = "passive"
    TURNED = "turned"
    STATIC = "aerated static"
    VESSEL = "in-vessel"


class Basis(StrEnum):
    """The whole of which a moisture probe shows a percentage."""

    WET_MASS = "wet-mass"
    VOLUME = "volume"
    RAW = "raw"


class BinKind(StrEnum):
    """The kinds of worm bins, by how a bed is built up in them and harvested."""

    FLOW = "flow"
    TRAYS = "trays"
    TUB = "tub"
    DRAWER = "drawer"
    HALF_DRUM = "half-drum"
    WINDROW = "windrow"
