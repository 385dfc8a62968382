"""Every alarm: how soon somebody must act, whether it wakes people, whether it belongs to one probe.

`monitor.notices` holds the words of each alarm.

Source: the priorities are our own choice (common practice, no published source).
"""

from dataclasses import dataclass

from monitor.model.times import HOUR_MS
from monitor.model.words import AlarmState, Priority


@dataclass(frozen=True, slots=True, kw_only=True)
class AlarmKind:
    """The fixed properties of an alarm.

    Attributes:
        priority: How soon somebody must act.
        at_first: The same at its first limit, if it has two (stage 0 of `AlarmRecord`).
        evening: Whether, at its worse limit, its notices go through quiet hours until midnight.
        wakes: Whether its notices go through quiet hours.
        at_once: Whether it goes alone and at once, as the highest does, however lately the reader got another message.
        of_probe: Whether it belongs to one probe (its key then ends in the probe's id).
        at_place: Whether a turning that is under way or suspected at the place mutes it.
        covers: Alarms of the same place that have nothing to add while this one is on; they are muted for as long.
        always_told: Whether an excursion that is already over makes a notice however old it is.
    """

    priority: Priority
    at_first: Priority | None = None
    evening: bool = False
    wakes: bool = False
    at_once: bool = False
    of_probe: bool = False
    at_place: bool = True
    always_told: bool = False
    covers: tuple[str, ...] = ()


CATALOG: dict[str, AlarmKind] = {
    "stalled": AlarmKind(priority=Priority.LOW),
    "cold-corner": AlarmKind(priority=Priority.LOW),
    "turning-due": AlarmKind(priority=Priority.MEDIUM),
    "round-due": AlarmKind(priority=Priority.MEDIUM, at_place=False),
    "cooled-unmet": AlarmKind(priority=Priority.MEDIUM),
    "hot": AlarmKind(priority=Priority.MEDIUM, covers=("turning-due",)),
    "too-hot": AlarmKind(priority=Priority.HIGH, wakes=True, covers=("hot", "turning-due")),
    "fire": AlarmKind(
        priority=Priority.HIGHEST,
        wakes=True,
        at_place=False,
        covers=("too-hot", "hot", "turning-due", "cold-corner", "round-due"),
    ),
    "hot-and-lost": AlarmKind(priority=Priority.HIGH, wakes=True, of_probe=True, at_place=False),
    "look-at-probe": AlarmKind(priority=Priority.HIGH, wakes=True, of_probe=True),
    # Stage 0 of these two: nothing lies at the place, so only the probe itself is at stake.
    "silent": AlarmKind(priority=Priority.MEDIUM, at_first=Priority.LOW, of_probe=True),
    "broken": AlarmKind(priority=Priority.MEDIUM, at_first=Priority.LOW, of_probe=True),
    "clock": AlarmKind(priority=Priority.MEDIUM, of_probe=True, at_place=False),
    "link": AlarmKind(priority=Priority.MEDIUM, of_probe=True, at_place=False),
    "unwatched": AlarmKind(priority=Priority.MEDIUM, at_place=False),
    "disk": AlarmKind(priority=Priority.HIGH, wakes=True, at_once=True, at_place=False),
    "record": AlarmKind(priority=Priority.HIGH, at_place=False),
    "backup": AlarmKind(priority=Priority.MEDIUM, at_place=False),
    "page": AlarmKind(priority=Priority.MEDIUM, at_place=False),
    "overheating": AlarmKind(priority=Priority.HIGH),
    "worms-in-danger": AlarmKind(priority=Priority.HIGHEST, wakes=True, always_told=True, covers=("overheating",)),
    "freezing": AlarmKind(priority=Priority.HIGH, at_first=Priority.MEDIUM, evening=True),
    "too-wet": AlarmKind(priority=Priority.LOW),
    "too-dry": AlarmKind(priority=Priority.LOW),
}


FAULTS = ("disk", "record", "backup", "page")
"""Alarms of the watch itself, not of a heap or a bin: nothing can be stored, the record is damaged, the backup failed, the
page cannot listen. A `link` event whose `what` is the alarm's id reports each."""


def alarm_key(place: str, alarm: str, probe: str = "") -> str:
    """Make the key of an alarm.

    Args:
        place: Id of the place.
        alarm: Id of the alarm.
        probe: The probe; used only for an alarm of one probe.

    Returns:
        `PLACE/ALARM` or `PLACE/ALARM/PROBE`.
    """
    return f"{place}/{alarm}/{probe}" if CATALOG[alarm].of_probe else f"{place}/{alarm}"


SHUT = frozenset({"fire", "too-hot", "hot-and-lost", "look-at-probe"})
"""Alarms during which nobody should open a heap."""
GOING_ON = (AlarmState.UNACKNOWLEDGED, AlarmState.ACKNOWLEDGED, AlarmState.SHELVED)
"""States of an alarm whose condition may well go on."""
BRIEF_MS = 2 * HOUR_MS
"""Longest time for which a danger can be put off."""


def is_brief(alarm: str) -> bool:
    """Tell whether an alarm may be put off for 2 h at most: a person who puts off a danger must look again soon."""
    return CATALOG[alarm].priority is Priority.HIGHEST or alarm in SHUT
