"""Recognises a sitting: somebody who catches up on work of long ago, and was asked about the day once already.

A month of old entries would bring as many questions, and people who answer each the same way read none. So an entry of long
ago is taken without that question if the same person made another within the hour, of at most a fortnight before or after
it: that one was asked about and confirmed, or follows such a one. A mistyped month or year lies further off, and is asked
about (our choice).
"""

from collections.abc import Callable, Iterable, Sequence

from monitor.app.entries.entry_log import Numbered, author_of
from monitor.engine import FAR_BACK_MS
from monitor.journal import Store
from monitor.model.times import DAY_MS, HOUR_MS

SITTING_MS = HOUR_MS
STRETCH_MS = FAR_BACK_MS
"""How far the work of one sitting may lie from other work of it that was asked about."""


def sitting_with(
    entries: Iterable[Numbered], author: Callable[[Numbered], str], time: int, by: str, now: int
) -> Numbered | None:
    """Return the newest entry with which an entry of long ago makes one sitting; None if it is asked about.

    Args:
        entries: The log.
        author: Returns the author of an entry.
        time: When the work was done, UTC ms.
        by: Who writes it down, "" if nobody said.
        now: Now, UTC ms.
    """
    found = [
        one
        for one in entries
        if one.at >= now - SITTING_MS
        and not (one.undone or one.imported)
        and is_far_back(one.time, one.at)
        and abs(one.time - time) <= STRETCH_MS
        and author(one).casefold() == by.casefold()
    ]
    return found[-1] if found else None


def sitting_words(store: Store, entries: Sequence[Numbered], at: int) -> str:
    """Return a remark on an entry of long ago that was taken without a question; "" for any other.

    Args:
        store: The record.
        entries: The log.
        at: The entry's event, UTC ms.
    """
    new = next((one for one in entries if one.at == at), None)
    if new is None or not is_far_back(new.time, at):
        return ""
    before = [one for one in entries if one.at < at]
    found = sitting_with(before, lambda one: author_of(store, one), new.time, author_of(store, new), at)
    days = (at - new.time) // DAY_MS
    return "" if found is None else f"That is {days} days back, as with {found.number}, so the day was not asked about."


def is_far_back(time: int, now: int) -> bool:
    """Return whether work at an instant is so long ago that the day is asked about; both UTC ms."""
    return time < now - FAR_BACK_MS
