"""Reasons why an arrival was set aside; nothing set aside ever stops the rest."""

from enum import StrEnum


class SetAside(StrEnum):
    """Reason on a quarantined message or reading; stored and shown, so never renamed."""

    OVERSIZED = "oversized"
    DEEPLY_NESTED = "deeply nested"
    NOT_UTF8 = "not UTF-8"
    MALFORMED = "malformed"
    CHECKSUM = "wrong checksum"
    NOT_A_NUMBER = "not a number"
    UNKNOWN_PROBE = "unknown probe"
    WRONG_QUANTITY = "wrong quantity"
    WRONG_UNIT = "wrong unit"
    ABSURD_TIME = "absurd time"
    AHEAD = "ahead"
    CONFLICT = "conflict"
    NO_TIME = "no time of its own"
    NO_ROOM = "no room"
    """It came faster than anything could be stored, and will not come again: it is lost, and only counted."""
