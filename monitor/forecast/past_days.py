"""The days behind us, as the rule of the evening before compares them: how far the air went, and how far the place.

Heat and frost are one thing with the sign turned: inside, *more* is always *worse* (`Trouble.sign`).
"""

from bisect import bisect_left
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum

MOST_DAYS = 400
"""How many days back the record is looked at: the last season of the year counts, not the one before (ours)."""


class Trouble(StrEnum):
    """Trouble that a day's air can bring to a place."""

    HEAT = "heat"
    FROST = "frost"

    @property
    def sign(self) -> int:
        """1 where a higher temperature is worse, -1 where a lower one is."""
        return 1 if self is Trouble.HEAT else -1


@dataclass(frozen=True, slots=True)
class Reach:
    """The coldest and the hottest reading of one local day, thousandths of °C.

    Attributes:
        low: The coldest.
        high: The hottest.
        whole: Whether it was measured for most of the day, so that nothing worse can have gone unseen.
    """

    low: int
    high: int
    whole: bool = True

    def worst(self, trouble: Trouble) -> int:
        """Return its worse end, with the sign of the trouble."""
        return trouble.sign * (self.high if trouble is Trouble.HEAT else self.low)

    def joined(self, other: "Reach") -> "Reach":
        """Return the reach of two probes at one place: as far as either went."""
        return Reach(min(self.low, other.low), max(self.high, other.high), self.whole or other.whole)


@dataclass(frozen=True, slots=True)
class PastDay:
    """One day behind us; temperatures with the sign of the trouble, so that more is worse.

    Attributes:
        day: The local date.
        air: How far the air went.
        before: How far the place itself had gone the day before.
        passed: Whether the place passed its limit.
        tells_calm: Whether it tells something that the place did not pass: it was measured, and nobody had acted.
    """

    day: date
    air: int
    before: int
    passed: bool
    tells_calm: bool


@dataclass(frozen=True, slots=True)
class Past:
    """The record of one place and one trouble.

    Attributes:
        trouble: Heat or frost.
        limit: The place's limit, with the sign of the trouble.
        days: Days whose air and whose day before are known, in order.
        place: How far the place went on each day on which it was measured, with the sign of the trouble.
        air: How far the air went on each day on which it was measured, likewise.
    """

    trouble: Trouble
    limit: int
    days: tuple[PastDay, ...]
    place: Mapping[date, int]
    air: Mapping[date, int]

    def asked(self, today: date) -> Sequence[PastDay]:
        """Return the days that are asked on the evening of a day: `MOST_DAYS` before it at most; it itself is not over yet."""
        first, end = (bisect_left(self.days, day, key=_day) for day in (today - timedelta(days=MOST_DAYS), today))
        return self.days[first:end]


def _day(one: PastDay) -> date:
    return one.day


def past_of(
    trouble: Trouble,
    limit_milli_c: int,
    place: Mapping[date, Reach],
    air: Mapping[date, Reach],
    acted: Collection[date] = (),
) -> Past:
    """Return the record of one place and one trouble.

    Args:
        trouble: Heat or frost.
        limit_milli_c: The place's limit, thousandths of °C.
        place: How far the place went, by local day.
        air: How far the air went, by local day; a day that was not measured for the most part is left out.
        acted: The days on which somebody had shaded, wetted or wrapped it: if it stayed within its limit then, that tells
            nothing of the air.
    """
    limit, found = trouble.sign * limit_milli_c, list[PastDay]()
    for day, reach in sorted(place.items()):
        outside, before = air.get(day), place.get(day - timedelta(days=1))
        if outside is None or not outside.whole or before is None:
            continue
        passed = reach.worst(trouble) >= limit
        found.append(
            PastDay(
                day=day,
                air=outside.worst(trouble),
                before=before.worst(trouble),
                passed=passed,
                tells_calm=not passed and reach.whole and day not in acted,
            )
        )
    return Past(
        trouble,
        limit,
        tuple(found),
        {day: reach.worst(trouble) for day, reach in place.items()},
        {day: reach.worst(trouble) for day, reach in air.items() if reach.whole},
    )
