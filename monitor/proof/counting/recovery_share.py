"""The choice of the days that count for a rule if much of them was recovery after turnings.

Rules:
1. In all of the days that count together, recovery may stand for at most a quarter of the days that the rule asks for (ours):
   90 h of 15 days, which is 12 h, the most that one day may have, for each of seven turnings. Many turn every other day,
   more often than their rule asks, and are not to lose their days by it. A heap that is turned every evening and hot for
   half of each day was hot for half of the time, and no rule's text calls that so many days.
2. Of the days that could count, those with the least recovery do: of days in a row the longest row that keeps to it, the
   earliest of equals. So a day more, or less recovery, never takes a day away, and leaving out readings never gives one.
"""

from collections.abc import Sequence

from monitor.proof.rules import Days


def days_chosen(part: Days, recovery_ms: Sequence[int]) -> list[int]:
    """Return the places of the days that count.

    Args:
        part: What is asked for.
        recovery_ms: Of each day that could count, in order, how much of it was recovery and not in the hold.
    """
    most = part.recovery_in_all_ms
    if sum(recovery_ms) <= most:
        return list(range(len(recovery_ms)))
    return _longest_row(recovery_ms, most) if part.consecutive else _least(recovery_ms, most)


def _longest_row(recovery_ms: Sequence[int], most: int) -> list[int]:
    best, start, spent = range(0), 0, 0
    for end, own in enumerate(recovery_ms, start=1):
        spent += own
        while spent > most:
            spent -= recovery_ms[start]
            start += 1
        if end - start > len(best):
            best = range(start, end)
    return list(best)


def _least(recovery_ms: Sequence[int], most: int) -> list[int]:
    chosen, spent = [], 0
    for place in sorted(range(len(recovery_ms)), key=lambda place: (recovery_ms[place], place)):
        spent += recovery_ms[place]
        if spent > most:
            break
        chosen.append(place)
    return sorted(chosen)
