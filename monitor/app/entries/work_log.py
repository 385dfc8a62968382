"""Reads the work log: every entry of the record, with later corrections applied.

Rules: a correction names its entry by the event's instant and, if an import brought several at one instant, by its row there.
Once an entry is taken back, no correction changes it any more; the engine follows the same rule.
"""

from collections.abc import Iterable
from dataclasses import dataclass

from monitor.journal import Store
from monitor.model.event_shapes import wrong_shape
from monitor.model.events import Event, EventKind
from monitor.model.work import Work, work_from

_KINDS = (EventKind.WORK, EventKind.IMPORTED, EventKind.CORRECTION)


@dataclass(slots=True)
class Entered:
    """A piece of work in the log.

    Attributes:
        at: The event that brought it, UTC ms.
        imported: Whether it came out of a file.
        logged: The work as it was entered.
        work: The work with corrections applied; None: taken back.
        corrected: When it was last corrected, UTC ms, or None.
        row: Its row among those of an import, from 0.
        corrected_by: Who corrected it last, or "".
    """

    at: int
    imported: bool
    logged: Work
    work: Work | None
    corrected: int | None = None
    row: int = 0
    corrected_by: str = ""

    @property
    def entered(self) -> int:
        """The instant of its entry, UTC ms: the one in the file, or else when it came into the record."""
        return self.at if self.logged.entered is None else self.logged.entered


def work_log(store: Store) -> list[Entered]:
    """Return all entries in the order in which they were entered."""
    return entered_by(store.events_of(*_KINDS))


def lately(store: Store, after: int) -> list[Entered] | None:
    """Return the entries entered after an instant (UTC ms); None if a correction since then is of an older one."""
    events = list(store.events_of(*_KINDS, after=after))
    if any(event.kind is EventKind.CORRECTION and event.payload.get("of", 0) <= after for event in events):
        return None
    return entered_by(events)


def entered_by(events: Iterable[Event]) -> list[Entered]:
    """Return the entries of events, corrected by those of them that do, in the order in which they were entered."""
    found: list[Entered] = []
    by_name: dict[tuple[int, int], Entered] = {}
    for event in events:
        if wrong_shape(event.kind, event.payload):
            continue  # the engine ignores such events too
        if event.kind is EventKind.CORRECTION:
            entry = by_name.get((event.payload.get("of", 0), event.payload.get("row", 0)))
            if entry is not None and entry.work is not None:
                right = event.payload.get("work")
                entry.corrected, entry.corrected_by = event.at, str(event.payload.get("by") or "")
                entry.work = None if right is None else work_from(right, entry.work.time)
            continue
        imported = event.kind is EventKind.IMPORTED
        for row, payload in enumerate(event.payload.get("work", ()) if imported else (event.payload,)):
            work = work_from(payload, event.at)
            entry = Entered(event.at, imported, work, work, row=row)
            found.append(entry)
            by_name[event.at, row] = entry
    return found
