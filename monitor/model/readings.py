"""A reading: one value of one probe at one time."""

from collections.abc import Collection
from typing import NamedTuple


class Reading(NamedTuple):
    """One value of one probe, before calibration; a named tuple because millions of them are made.

    Attributes:
        time: The reading's own time, UTC ms.
        probe: The probe's id (a hand reading's series is `hand:PLACE`, or `hand:PLACE:SPOT`).
        micro: The value as sent, integer millionths of `unit`.
        unit: Unit code as in `model.units`.
    """

    time: int
    probe: str
    micro: int
    unit: str


class Heard(NamedTuple):
    """A decoded value before it is admitted: an address as the node sends it, and maybe no time of its own.

    Attributes:
        address: SenML name, topic-derived name or line's first word; mapped to a probe by its `address`.
        quantity: Quantity word if the message names one, else None (the probe's own).
        micro: Value as sent, millionths of `unit`.
        unit: Unit code as in `model.units`, or None if the message names none.
        time: The reading's own time, UTC ms, or None if the node has no clock.
    """

    address: str
    quantity: str | None
    micro: int
    unit: str | None
    time: int | None


class HandRead(NamedTuple):
    """One temperature taken by hand, as it was written down.

    Attributes:
        at: The event that brought it, UTC ms.
        time: When it was read, UTC ms.
        micro: The value as written, millionths of its unit.
        unit: Unit code as in `model.units`.
        by: Name of the reader, "" if unknown.
        note: A remark.
        imported: Whether it came out of a file.
        spot: Spot in its place ("" if the place has a single one).
        thermometer: Name of the thermometer, "" if unknown.
        depth_mm: Depth below the surface, or None.
    """

    at: int
    time: int
    micro: int
    unit: str
    by: str = ""
    note: str = ""
    imported: bool = False
    spot: str = ""
    thermometer: str = ""
    depth_mm: int | None = None


HAND_PREFIX = "hand:"


def hand_series(place: str, spot: str = "") -> str:
    """Return the id of the series that holds the readings taken by hand at one spot of a place."""
    return f"{HAND_PREFIX}{place}:{spot}" if spot else HAND_PREFIX + place


def hand_spot(series: str, places: Collection[str]) -> tuple[str, str] | None:
    """Return (place, spot) of a hand series, or None if it belongs to none of the places; the longest id that fits wins."""
    if not is_hand(series):
        return None
    whole = series.removeprefix(HAND_PREFIX)
    place = whole
    while place:
        if place in places:
            return place, whole[len(place) + 1 :]
        place = place.rpartition(":")[0]
    return None


def names_spot(series: str) -> bool:
    """Return whether a series belongs to one named spot; in any other series each reading may be of another spot."""
    return is_hand(series) and ":" in series.removeprefix(HAND_PREFIX)


def is_hand(probe: str) -> bool:
    """Return whether a series id is that of readings taken by hand."""
    return probe.startswith(HAND_PREFIX)
