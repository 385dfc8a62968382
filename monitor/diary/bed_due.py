"""The next lift of bedding and the next harvest of a worm bed, as its record has them.

Either can wait for a fortnight: a bed that is high or deep for longer only works worse. Ours.
"""

from monitor.diary.due import Due, What
from monitor.model.times import DAY_MS

WAITS_MS = 14 * DAY_MS


def lift_due(place: str, due: int, of: int, why: str) -> Due:
    """Return the next lift of bedding.

    Args:
        place: The bin.
        due: From when on it is due, UTC ms.
        of: The measuring or harvest that it goes by, UTC ms.
        why: Why, for people.
    """
    return Due(due_ms=due, place=place, what=What.LIFT, why=why, of=str(of), latest_ms=due + WAITS_MS)


def harvest_due(place: str, due: int, of: int, why: str) -> Due:
    """Return the next harvest.

    Args:
        place: The bin.
        due: From when on it can be done, UTC ms.
        of: The measuring or harvest that it goes by, UTC ms.
        why: Why, for people.
    """
    return Due(due_ms=due, place=place, what=What.HARVEST, why=why, of=str(of), latest_ms=due + WAITS_MS)
