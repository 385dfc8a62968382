"""The line of the digest that says, once a month, how much of the record was looked at for damage."""

from datetime import date

from monitor.notices.instants import mark
from monitor.notices.localtime import MONTHS


def looked_words(days: int, seen: int, first: date, since: int) -> str:
    """Return the line; it is written only where no damage was found.

    Args:
        days: How many days the record holds.
        seen: How many of them were looked at.
        first: The first of them.
        since: Since when, UTC ms.
    """
    day = f"{first.day} {MONTHS[first.month - 1][:3]} {first.year}"
    if seen < days:
        return (
            f"The yard: {seen} of the {days} days of the record, from {day} on, were looked at since {mark(since)} and are as "
            "they were written; the daemon was not on long enough for all of them"
        )
    if days == 1:
        return f"The yard: the record was looked through; its one day, {day}, is as it was written"
    return f"The yard: the record was looked through; its {days} days, from {day} on, are as they were written"
