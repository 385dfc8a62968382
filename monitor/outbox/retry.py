"""Decides when a refused letter is tried again, and when it is given up; common practice, no published source."""

from monitor.model.times import DAY_MS, HOUR_MS, MINUTE_MS

FIRST_MS = MINUTE_MS
LONGEST_MS = HOUR_MS
GIVE_UP_MS = 3 * DAY_MS
TRIES_MIN = 24
"""Least tries before a letter is given up, 18 h of them: it may be old because the daemon was away or the clock leapt,
and not because of its channel."""


def retry_at(now: int, decided: int, tries: int) -> int | None:
    """Decide when to try again; the pauses are 1 min, doubling to 1 h, and 3 days after the decision a letter is given up.

    Args:
        now: When the last try failed, UTC ms.
        decided: When the notice was decided, UTC ms.
        tries: Number of failures so far, from 1.

    Returns:
        The instant of the next try, UTC ms; None: give up.
    """
    again = now + min(FIRST_MS << min(tries - 1, 16), LONGEST_MS)
    if tries >= TRIES_MIN and again - decided > GIVE_UP_MS:
        return None
    return again
