"""Checks before an export that the record behind it is undamaged: its days are compared with their hashes."""

from monitor.app.console.progress_bar import Shown
from monitor.journal import Store, audit_days, days_of
from monitor.model.events import EventKind
from monitor.model.times import DAY_MS

_ENTRIES = (EventKind.WORK, EventKind.CORRECTION, EventKind.IMPORTED)


def damage_behind(store: Store, kind: str, first: int, last: int, told: Shown) -> list[str]:
    """Return the damage in the days behind an export, one sentence each without a full stop.

    Args:
        store: The record.
        kind: The kind of export: `readings`, `work` or other.
        first: First instant, UTC ms; readings and work are meant by their own time, all else by when it was recorded.
        last: Last instant, UTC ms.
        told: Called with how many days have been checked, and of how many.
    """
    if kind == "readings":
        days = store.days_with(first, last)
    elif kind == "work":
        days = {event.at // DAY_MS for event in store.events_of(*_ENTRIES)}
    else:
        days = {day for day in days_of(store) if first // DAY_MS <= day <= last // DAY_MS}
        # A decision late in the evening may be stored with the next morning.
        days |= {day + 1 for day in days}
    return [one.sentence.removesuffix(".") for one in audit_days(store, days, told) if one.is_fault()]
