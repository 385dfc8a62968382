"""The things that fall due at places soon, as the yard's sheet shows them at each look.

The engine's own are worked out anew each time. Those that come out of the log are kept for ten minutes, or until somebody
enters something: nothing else moves them. The seasons, which read the air of years, have no place in it.
"""

import threading

from monitor.app.diary import OF_PLACES, OF_PLACES_LOG, Asked, of_places
from monitor.diary import Due, in_order
from monitor.model.events import EventKind
from monitor.model.times import MINUTE_MS

_KEPT_MS = 10 * MINUTE_MS
_CHANGING = (EventKind.WORK, EventKind.CORRECTION, EventKind.IMPORTED, EventKind.SETTINGS, EventKind.SEALED)


class KeptComing:
    """The things of the log as they were last worked out; one for all looks, and any thread may use it."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._kept: tuple[tuple[object, ...], list[Due]] | None = None

    def of_places(self, asked: Asked) -> list[Due]:
        """Return the things that fall due at places before `asked.until`, in order."""
        marks = tuple(asked.store.last_of(kind) for kind in _CHANGING)
        key = (*marks, asked.now // _KEPT_MS, asked.until, id(asked.configuration))
        with self._lock:
            if self._kept is None or self._kept[0] != key:
                self._kept = key, of_places(asked, OF_PLACES_LOG)
            of_log = self._kept[1]
        return in_order([*of_places(asked, OF_PLACES), *of_log], asked.until)
