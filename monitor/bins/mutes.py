"""Bounds the mutes of a bin's moisture alarms by work: at most 12 h in any 24, however often people work.

Without that bound feeding twice a day would silence *too wet* for good. Muted alarms are still measured meanwhile.

Source: yard-work contract, section 8 (our choice).
"""

from monitor.model.times import DAY_MS, HOUR_MS

MOST_MS = 12 * HOUR_MS
WITHIN_MS = DAY_MS


def mute_until(mutes: list[tuple[int, int]], now: int, wanted: int) -> int:
    """Note a mute that begins (or goes on) now.

    Args:
        mutes: The last muted stretches, (from, to) in UTC ms, oldest first; changed in place.
        now: Now, UTC ms.
        wanted: The wanted end of the mute, UTC ms.

    Returns:
        The end of the mute, UTC ms; `now` if it may not begin.
    """
    mutes[:] = [(start, end) for start, end in mutes if end > now - WITHIN_MS]
    # While the mute goes on, the muted time in the last 24 h never falls as the instant moves on; so bisection finds the end.
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
