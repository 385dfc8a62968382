"""A record by whole weeks: sets are chosen on one part and reported on another, and the spread over weeks shows the luck.

Rules:
1. A week begins on Monday at midnight, yard time. The first and the last may be short.
2. Weeks go together in blocks: weather and bedding have a memory, so neighbouring weeks are not two witnesses. A block has
   up to four weeks, and less if there would be fewer than four blocks. Rows of readings are never split at random.
3. Each block, in order, goes to the part with fewer troubles so far, then to the one with fewer weeks, then to the one to
   choose on.
4. Spread: whole weeks of the part are drawn with putting back, as many as there are, many times; the result is the figure's
   10th and 90th percentile over the draws. The draws depend on the seed alone.

Source: B. Efron 1979, Annals of Statistics 7, 1-26 (the bootstrap); drawing blocks where data depend on one another:
H. R. Kuensch 1989, same journal 17. From memory.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from random import Random
from zoneinfo import ZoneInfo

from monitor.proof.intervals import Intervals, contains, normal

BLOCK_WEEKS = 4
LEAST_BLOCKS = 4
DRAWS = 500

Week = tuple[int, int]
"""First and last instant of a week, UTC ms; the next begins a millisecond later."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Parts:
    """The weeks to choose on and the weeks to report on, each in order; together they are the whole record."""

    choosing: tuple[Week, ...]
    reporting: tuple[Week, ...]


def weeks_of(start: int, end: int, zone: ZoneInfo) -> tuple[Week, ...]:
    """Cut a record into weeks by the yard's calendar.

    Args:
        start: First instant, UTC ms.
        end: Last instant, UTC ms, inclusive.
        zone: The yard's time zone.

    Returns:
        The weeks in order; together they are the whole record.
    """
    day = datetime.fromtimestamp(start / 1000, zone).date()
    monday = day - timedelta(days=day.weekday())
    found: list[Week] = []
    first = start
    while first <= end:
        monday += timedelta(days=7)
        following = round(datetime(monday.year, monday.month, monday.day, tzinfo=zone).timestamp() * 1000)
        if following > first:
            found.append((first, min(end, following - 1)))
            first = following
    return tuple(found)


def parts_of(weeks: Sequence[Week], troubles: Sequence[int]) -> Parts:
    """Split the weeks into two parts.

    Args:
        weeks: In order.
        troubles: Start of each trouble, UTC ms.

    Returns:
        The parts (rule 3).
    """
    block = max(1, min(BLOCK_WEEKS, len(weeks) // LEAST_BLOCKS))
    taken: tuple[list[Week], list[Week]] = ([], [])
    counts = [0, 0]
    for first in range(0, len(weeks), block):
        some = weeks[first : first + block]
        inside = sum(some[0][0] <= at <= some[-1][1] for at in troubles)
        side = min((0, 1), key=lambda one: (counts[one], len(taken[one]), one))
        taken[side].extend(some)
        counts[side] += inside
    return Parts(choosing=tuple(taken[0]), reporting=tuple(taken[1]))


def joined(weeks: Sequence[Week]) -> Intervals:
    """Return the weeks as one set of instants; neighbouring weeks stay a millisecond apart."""
    return normal(weeks)


def by_week(weeks: Sequence[Week], instants: Sequence[int]) -> list[int]:
    """Return the number of instants that fall into each week."""
    return [sum(first <= at <= last for at in instants) for first, last in weeks]


def within(weeks: Sequence[Week], at: int) -> bool:
    """Return whether an instant is in any of the weeks."""
    return contains(normal(weeks), at)


def spread(
    weeks: int, figure: Callable[[Sequence[int]], float | None], seed: int, draws: int = DRAWS
) -> tuple[float, float] | None:
    """Return the spread of a figure over drawn weeks (rule 4).

    Args:
        weeks: Number of weeks.
        figure: Works out the figure for a draw: numbers of weeks (0 to `weeks` - 1), some of them several times.
        seed: Makes the draws.
        draws: Number of draws.

    Returns:
        10th and 90th percentile; None if the figure never has a value.
    """
    rng = Random(seed)
    values: list[float] = []
    for _ in range(draws):
        value = figure([rng.randrange(weeks) for _ in range(weeks)])
        if value is not None:
            values.append(value)
    if not values:
        return None
    values.sort()
    last = len(values) - 1
    return values[round(0.1 * last)], values[round(0.9 * last)]
