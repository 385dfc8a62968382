"""How long work may mute a bin's moisture alarms: at most 12 h in any 24, however often it is done.

Without that bound feeding twice a day would silence *too wet* for good. What is muted goes on to be measured meanwhile.
Source: yard-work contract, section 8 (ours).
"""

from monitor.model.times import DAY_MS, HOUR_MS

MOST_MS = 12 * HOUR_MS
WITHIN_MS = DAY_MS


def mute_until(mutes: list[tuple[int, int]], now: int, wanted: int) -> int:
    """Return until when a mute that begins (or goes on) now may last, and note it; `now` where it may not begin.

    Args:
        mutes: The last stretches that were muted, (from, to) in UTC ms, oldest first; changed in place.
        now: Now, UTC ms.
        wanted: Until when it is wanted, UTC ms.
    """
    mutes[:] = [(start, end) for start, end in mutes if end > now - WITHIN_MS]
    # What is muted in the 24 h that end at an instant never falls as the instant moves on and the mute goes on with it.
    low, high = now, max(now, wanted)
    while low < high:
        middle = (low + high + 1) // 2
        if _muted(mutes, now, middle) <= MOST_MS:
            low = middle
        else:
            high = middle - 1
    if low > now:
        running = mutes.pop() if mutes and mutes[-1][1] >= now else (now, now)
        mutes.append((running[0], max(low, running[1])))
    return low


def _muted(mutes: list[tuple[int, int]], now: int, end: int) -> int:
    start = end - WITHIN_MS
    before = sum(max(0, min(to, now) - max(since, start)) for since, to in mutes)
    return before + end - max(now, start)
