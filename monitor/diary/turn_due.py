"""The next turning of a heap whose rule wants turnings, by the very formula at whose instant `turning-due` rings.

The last of the turnings should come a day before the days are over, and each at least the rule's own spacing (or a day) after
the one before. So the next can wait until the others would no longer fit in; from then on the batch takes longer.

Source: yard-work contract, section 11 (our choice).
"""

from dataclasses import dataclass

from monitor.diary.due import Due, What
from monitor.model.times import DAY_MS
from monitor.piles import next_turning


@dataclass(frozen=True, slots=True, kw_only=True)
class WantedTurnings:
    """The turnings that a batch's rule still wants.

    Attributes:
        place, batch: Where it lies, and its id.
        last: The last turning or, if that is later, the first hold instant, UTC ms.
        turnings: Number left, 1 or more.
        days: Days left, None if the rule counts none.
        apart_ms: The rule's own spacing, 0 if it states none.
        every_ms: The longest wait after a turning.
        planned_ms: The instant at which the engine means to ring for it, None if it has no plan.
    """

    place: str
    batch: str
    last: int
    turnings: int
    days: int | None
    apart_ms: int
    every_ms: int
    planned_ms: int | None = None


def turn_due(wanted: WantedTurnings, now: int) -> Due:
    """Return when the next turning is due.

    Args:
        wanted: The turnings that the rule still wants.
        now: The instant of the look, UTC ms.
    """
    due = next_turning(wanted.last, wanted.turnings, wanted.days, wanted.apart_ms, now, wanted.every_ms)
    if wanted.planned_ms is not None:
        # Days that pass only bring it forward, as in the engine; else it would recede before everybody who waits.
        due = min(due, wanted.planned_ms)
    apart, latest = wanted.apart_ms or DAY_MS, None
    if wanted.days is not None:
        latest = max(due, now + (wanted.days - 1) * DAY_MS - (wanted.turnings - 1) * apart)
    left = "1 turning is" if wanted.turnings == 1 else f"{wanted.turnings} turnings are"
    over = ""
    if wanted.days is not None:
        over = ", and its days are over" if wanted.days == 0 else f", and {_days(wanted.days)}"
    return Due(
        due_ms=due,
        place=wanted.place,
        what=What.TURN,
        why=f"its rule wants more: {left} left{over}",
        of=f"{wanted.batch}/{wanted.last}",
        latest_ms=latest,
        then_ms=_further(wanted, max(due, now), now),
    )


def _further(wanted: WantedTurnings, turned: int, now: int) -> tuple[int, ...]:
    """Return when the turnings after the next would be due (UTC ms), if each is done in time and every day counts."""
    found = []
    for left in range(wanted.turnings - 1, 0, -1):
        days = None if wanted.days is None else max(0, wanted.days - (turned - now) // DAY_MS)
        turned = next_turning(turned, left, days, wanted.apart_ms, turned, wanted.every_ms)
        found.append(turned)
    return tuple(found)


def _days(days: int) -> str:
    return "1 day" if days == 1 else f"{days} days"
