"""All waiting of the engine: named deadlines, served in the order (due, place, key)."""

import heapq

_SEPARATOR = "|"


class Agenda:
    """Deadlines by (place, key); setting one again moves it. The dict handed in is the whole state."""

    def __init__(self, dues: dict[str, int]) -> None:
        self._dues = dues
        self._heap: list[tuple[int, str, str]] = []
        self._rebuild()

    def set(self, place: str, key: str, due: int | None) -> None:
        """Set, move or (with None) drop a deadline."""
        name = place + _SEPARATOR + key
        if due is None:
            self._dues.pop(name, None)
        elif self._dues.get(name) != due:
            self._dues[name] = due
            heapq.heappush(self._heap, (due, place, key))
            if len(self._heap) > 64 + 4 * len(self._dues):
                # Moved deadlines leave stale entries behind; without this a long run would grow for ever.
                self._rebuild()

    def due(self, place: str, key: str) -> int | None:
        """Return when a deadline falls due, or None where it is not set."""
        return self._dues.get(place + _SEPARATOR + key)

    def soonest(self) -> int | None:
        """Return the earliest deadline, or None."""
        while self._heap:
            due, place, key = self._heap[0]
            if self._dues.get(place + _SEPARATOR + key) == due:
                return due
            heapq.heappop(self._heap)
        return None

    def pop(self) -> tuple[int, str, str]:
        """Take the earliest deadline off and return (due, place, key); one must exist."""
        while True:
            due, place, key = heapq.heappop(self._heap)
            if self._dues.get(place + _SEPARATOR + key) == due:
                del self._dues[place + _SEPARATOR + key]
                return due, place, key

    def take(self, until: int) -> list[tuple[int, str, str]]:
        """Take off all deadlines due at or before `until`, in order."""
        found = []
        while (due := self.soonest()) is not None and due <= until:
            found.append(self.pop())
        return found

    def _rebuild(self) -> None:
        self._heap = []
        for name, due in self._dues.items():
            place, _, key = name.partition(_SEPARATOR)
            self._heap.append((due, place, key))
        heapq.heapify(self._heap)
