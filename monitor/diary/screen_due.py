"""Fines of a worm bed that have rested with bait, and may be screened again.

Source: four to six weeks of rest are common practice, no published source. That nobody is asked a month later is ours:
by then they went out as they were.
"""

from monitor.diary.due import Due, What
from monitor.model.times import DAY_MS

FORGET_MS = 28 * DAY_MS


def screen_due(place: str, harvest: str, rested: tuple[int, int], now: int) -> Due | None:
    """Return when the fines of a harvest are screened again; None once nobody will.

    Args:
        place: The bin.
        harvest: The name of the harvest, such as `h31`.
        rested: When they have rested, soonest and usually, UTC ms.
        now: The instant of the look, UTC ms.
    """
    soonest, usually = rested
    if now > usually + FORGET_MS:
        return None
    why = f"fines {harvest}/fines have rested; only then, and screened again, may they be called free of cocoons"
    return Due(due_ms=soonest, place=place, what=What.SCREEN, why=why, of=harvest, latest_ms=usually + FORGET_MS)
