"""The next feeding of a worm bed, by its plan for a week and by what it was fed.

1. A week's food comes in parts, some whole days apart, so that people feed at their hour. The next is due that long after the
   last, and not before it comes to no more than a week's food together with the food of the seven days before it.
2. A feeding of unknown weight counts as one part.
3. Worms that were fed lately do not starve in a week, so the next feeding can wait that long. Common practice, no published
   source.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from monitor.diary.due import Due, What
from monitor.model.times import DAY_MS

WEEK_MS = 7 * DAY_MS


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedFood:
    """A bed's plan, and what it was fed.

    Attributes:
        place: The bin.
        week_g: The food of a week, grams, above 0.
        feeds: In how many parts, 1 to 7.
        fed: (when in UTC ms, grams or None if unknown) of each feeding.
        begun: Since when a bed lies there, UTC ms, or None.
    """

    place: str
    week_g: int
    feeds: int
    fed: Sequence[tuple[int, float | None]]
    begun: int | None = None


def feed_due(plan: PlannedFood, now: int, mass: Callable[[float], str]) -> Due:
    """Return the next feeding of a bed.

    Args:
        plan: The plan, and what was fed.
        now: The instant of the look, UTC ms: a bed of which nobody knows when it was begun or fed is fed now.
        mass: Puts a mass in grams into words.
    """
    part = plan.week_g / plan.feeds
    fed = sorted((when, part if grams is None else grams) for when, grams in plan.fed)
    if fed:
        soonest = fed[-1][0] + 7 // plan.feeds * DAY_MS
        ends = [soonest, *(when + WEEK_MS for when, _ in fed if when + WEEK_MS > soonest)]
        due = next((at for at in ends if _week_before(fed, at) + part <= plan.week_g * 1.001), ends[-1])
    else:
        due = now if plan.begun is None else plan.begun
    parts = "" if plan.feeds == 1 else f", one of {plan.feeds} parts of a week's food"
    return Due(
        due_ms=due,
        place=plan.place,
        what=What.FEED,
        why=f"{mass(part)}{parts}; feed only if the last is nearly gone",
        of=str(fed[-1][0] if fed else "first"),
        latest_ms=due + WEEK_MS,
        again_ms=7 // plan.feeds * DAY_MS,
    )


def _week_before(fed: Sequence[tuple[int, float]], at: int) -> float:
    return sum(grams for when, grams in fed if at - WEEK_MS < when <= at)
