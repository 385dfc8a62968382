"""Quality flags of a reading and their reasons.

Source: U.S. IOOS QARTOD, flag scheme of the real-time quality control manuals (1, 2, 3, 4, 9).
"""

from enum import IntEnum, StrEnum
from typing import NamedTuple


class Flag(IntEnum):
    """QARTOD quality flag; 1 and 2 are accepted."""

    PASS = 1
    NOT_EVALUATED = 2
    SUSPECT = 3
    FAIL = 4
    MISSING = 9


class FlagReason(StrEnum):
    """Why a reading has a flag other than pass; stored, so never renamed."""

    NONE = "none"
    HAND = "read by hand"
    ERROR_CODE = "error code"
    POWER_UP = "power-up value"
    GROSS_RANGE = "outside the measurable range"
    SPIKE = "spike"
    FLAT_LINE = "flat line"
    FOLLOWS_AMBIENT = "follows ambient"
    OUT_OF_ORDER = "out of order"
    WITHDRAWN = "withdrawn"


ACCEPTED = frozenset({Flag.PASS, Flag.NOT_EVALUATED})


class Verdict(NamedTuple):
    """Conditioning's verdict on one reading; final when it is given.

    Attributes:
        time: The reading's own time, UTC ms.
        probe: The series' id.
        milli: The calibrated value, thousandths of the canonical unit of its quantity.
        flag: Quality flag.
        reason: Reason of a flag other than pass.
    """

    time: int
    probe: str
    milli: int
    flag: Flag
    reason: FlagReason
