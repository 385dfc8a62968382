"""Finds places that the record once had although the configuration no longer names them, and the probes there."""

from bisect import bisect_right
from collections.abc import Callable

from monitor.app.entries.work_log import work_log
from monitor.journal import Store
from monitor.model.events import EventKind
from monitor.model.work import WorkKind

_ALWAYS = -(1 << 62)


def places_ever(store: Store) -> set[str]:
    """Return the ids of all piles and bins in any settings of the record."""
    found: set[str] = set()
    for event in store.events_of(EventKind.SETTINGS):
        settings = event.payload.get("settings", {})
        found |= {*settings.get("piles", {}), *settings.get("bins", {})}
    return found


def first_places(store: Store) -> dict[str, tuple[int, str]]:
    """Return when (UTC ms) the record's settings first named each probe, and the place they gave it."""
    found: dict[str, tuple[int, str]] = {}
    for event in store.events_of(EventKind.SETTINGS):
        for name, probe in event.payload.get("settings", {}).get("probes", {}).items():
            found.setdefault(name, (event.at, str(probe.get("place", ""))))
    return found


def probes_at(store: Store, place: str) -> tuple[set[str], Callable[[str, int], bool]]:
    """Return the probes that ever were at a place, and a function that tells whether one was there at an instant (UTC ms).

    Settings and carrying of probes decide. The settings that first name a probe also hold for all earlier time, because its
    earlier readings were imported later.
    """
    moves: dict[str, dict[int, str]] = {}
    before: dict[str, str] | None = None
    for event in store.events_of(EventKind.SETTINGS):
        probes = event.payload.get("settings", {}).get("probes", {})
        now = {name: str(probe.get("place", "")) for name, probe in probes.items()}
        for name in {*now, *(before or {})}:
            if name not in moves:
                moves[name] = {_ALWAYS: now.get(name, "")}
            elif before is None or now.get(name, "") != before.get(name, ""):
                moves[name][event.at] = now.get(name, "")
        before = now
    for entry in work_log(store):
        work = entry.work
        if work is not None and work.kind in (WorkKind.PROBE_IN, WorkKind.PROBE_OUT):
            where = work.place if work.kind is WorkKind.PROBE_IN else ""
            moves.setdefault(work.probe, {})[work.time] = where
    ordered = {name: sorted(mine.items()) for name, mine in moves.items()}

    def there(probe: str, time: int) -> bool:
        mine = ordered.get(probe, [])
        index = bisect_right(mine, time, key=lambda move: move[0])
        return index > 0 and mine[index - 1][1] == place

    return {name for name, mine in ordered.items() if any(where == place for _, where in mine)}, there
