"""Whether what an export writes out is what was written in: the days behind it are held against their hashes."""

from monitor.app.console.progress_bar import Shown
from monitor.journal import Store, audit_days, days_of
from monitor.model.events import EventKind
from monitor.model.times import DAY_MS

_ENTRIES = (EventKind.WORK, EventKind.CORRECTION, EventKind.IMPORTED)


def damage_behind(store: Store, kind: str, first: int, last: int, told: Shown) -> list[str]:
    """Return what is wrong with the days behind an export, one sentence each without a full stop.

    Args:
        store: The record.
        kind: What is exported.
        first: From when on, UTC ms; of readings and work by their own time, else by when it was recorded.
        last: Up to when.
        told: Told how many days have been looked at, of how many.
    """
    if kind == "readings":
        days = store.days_with(first, last)
    elif kind == "work":
        days = {event.at // DAY_MS for event in store.events_of(*_ENTRIES)}
    else:
        days = {day for day in days_of(store) if first // DAY_MS <= day <= last // DAY_MS}
        # What was decided late in the evening may stand with the morning after.
        days |= {day + 1 for day in days}
    return [one.sentence.removesuffix(".") for one in audit_days(store, days, told) if one.is_fault()]
