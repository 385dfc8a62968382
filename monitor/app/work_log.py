"""The work log as it stands: every entry of the record, with later corrections applied.

Rules: a correction names its entry by the event's instant; once an entry is taken back, nothing corrects it any more (so the
engine does it). Where an import put several entries in at one instant, a correction is of the first.
"""

from dataclasses import dataclass

from monitor.engine.logged import work_from
from monitor.journal import Store
from monitor.model.events import EventKind
from monitor.model.work import Work

_KINDS = (EventKind.WORK, EventKind.IMPORTED, EventKind.CORRECTION)


@dataclass(slots=True)
class Entered:
    """One entry: the event that brought it (`at`, UTC ms), as it was logged, and as it stands (None: taken back).

    `corrected` is when it was last corrected, UTC ms, or None.
    """

    at: int
    imported: bool
    logged: Work
    work: Work | None
    corrected: int | None = None


def work_log(store: Store) -> list[Entered]:
    """Return all entries in the order in which they were entered."""
    found: list[Entered] = []
    by_instant: dict[int, list[Entered]] = {}
    for event in store.events_of(*_KINDS):
        if event.kind is EventKind.CORRECTION:
            standing = (one for one in by_instant.get(event.payload["of"], ()) if one.work is not None)
            entry = next(standing, None)
            if entry is not None and entry.work is not None:
                right = event.payload.get("work")
                entry.corrected = event.at
                entry.work = None if right is None else work_from(right, entry.work.time)
            continue
        imported = event.kind is EventKind.IMPORTED
        for payload in event.payload.get("work", ()) if imported else (event.payload,):
            work = work_from(payload, event.at)
            entry = Entered(event.at, imported, work, work)
            found.append(entry)
            by_instant.setdefault(event.at, []).append(entry)
    return found
