"""When a letter that was not accepted is tried again, and when it is given up; common practice, no published source."""

from monitor.model.times import DAY_MS, HOUR_MS, MINUTE_MS

FIRST_MS = MINUTE_MS
LONGEST_MS = HOUR_MS
GIVE_UP_MS = 3 * DAY_MS
TRIES_MIN = 8
"""Never given up before so many tries: a letter may be old because the daemon was away, not the channel."""


def retry_at(now: int, decided: int, tries: int) -> int | None:
    """Return when to try again after the `tries`th failure (from 1), UTC ms; None: give up.

    The pauses are 1 min, doubling to 1 h; a letter is given up 3 days after it was decided.
    """
    again = now + min(FIRST_MS << min(tries - 1, 16), LONGEST_MS)
    if tries >= TRIES_MIN and again - decided > GIVE_UP_MS:
        return None
    return again
