"""The memory of readings taken by hand: the newest of each spot, which counts for as long as it is held.

`spots_at` gives what was read where, when and by whom.
"""

from dataclasses import dataclass
from typing import NamedTuple
from zoneinfo import ZoneInfo

from monitor.model.settings import Settings
from monitor.notices import local
from monitor.piles import BatchState, rounds


@dataclass(slots=True)
class HandSpot:
    """The newest reading of one spot.

    Attributes:
        place, spot: Where ("" where the place has one spot only).
        time: When it was read, UTC ms.
        milli: Thousandths of a degree Celsius.
        at: When it was entered, UTC ms.
        by: Who read it, "" if nobody said.
        on_time: Whether it was entered soon enough to ring (`hand_late`).
        held_until: Until when it counts, UTC ms.
        held: Whether it counts still.
    """

    place: str
    spot: str
    time: int
    milli: int
    at: int
    by: str = ""
    on_time: bool = True
    held_until: int = 0
    held: bool = True


@dataclass(slots=True)
class Apart:
    """A reading by hand and a probe that differ.

    Attributes:
        series, time, hand_milli: What was read by hand, and when (UTC ms, thousandths of °C).
        probe, milli: The probe of the place that came nearest, and what it showed then.
    """

    series: str
    time: int
    hand_milli: int
    probe: str
    milli: int


class LastRead(NamedTuple):
    """The last round of readings by hand at a place.

    Attributes:
        time: When its last reading was taken, UTC ms.
        low, high: Its coldest and its hottest, thousandths of a degree Celsius.
        spots: How many spots were read.
        by: Who read it, "" if nobody said.
        held: Whether it counts still.
    """

    time: int
    low: int
    high: int
    spots: int
    by: str
    held: bool


def why_not_held(hands: dict[str, HandSpot], place: str, now: int, *, empty: bool) -> str:
    """Return why the last reading by hand at a place no longer counts.

    Args:
        hands: The newest reading of each spot.
        place: Pile or bin.
        now: Engine time, UTC ms.
        empty: Whether the place is a pile on which no heap lies.
    """
    gone = empty and any(one.held_until > now for one in spots_at(hands, place).values() if not one.held)
    return "of the heap that is gone from here" if gone else "too long ago to count"


def is_of_another_heap(last: LastRead, batches: BatchState, place: str) -> bool:
    """Return whether the last reading by hand counts no longer and was of a heap that lay there before the present one.

    Args:
        last: The reading.
        batches: The yard's heaps.
        place: Pile or bin.
    """
    batch = batches.batches.get(batches.lying.get(place, ""))
    return batch is not None and not last.held and last.time < batch.spans[-1].start


def spots_at(hands: dict[str, HandSpot], place: str, *, held: bool = False) -> dict[str, HandSpot]:
    """Return the newest readings of a place by series, the newest last.

    Args:
        hands: The newest reading of each spot.
        place: Pile or bin.
        held: Whether only those that still count are wanted.
    """
    found = [(name, one) for name, one in hands.items() if one.place == place and (one.held or not held)]
    return dict(sorted(found, key=lambda item: (item[1].time, item[0])))


def hand_gap_ms(settings: Settings, place: str, time: int) -> int:
    """Return how long a reading by hand counts at a place, ms; in a bin less in summer.

    Args:
        settings: Limits, summer months and time zone.
        place: Pile or bin.
        time: When it was read, UTC ms.
    """
    pile = settings.piles.get(place)
    if pile is not None:
        return pile.thresholds.hand_gap_ms
    limits, site = settings.bins[place].thresholds, settings.site
    month = local(time, ZoneInfo(site.time_zone)).month
    return limits.hand_gap_summer_ms if month in site.summer else limits.hand_gap_ms


def last_read(hands: dict[str, HandSpot], place: str) -> LastRead | None:
    """Return the newest round of a place, made from the newest readings of its spots; None if it was never read by hand."""
    known = spots_at(hands, place)
    found = rounds((one.time, name, one.milli) for name, one in known.items())
    if not found:
        return None
    newest = [*known.values()][-1]
    point = found[-1]
    return LastRead(point.time, point.low, point.high, point.spots, newest.by, newest.held)
