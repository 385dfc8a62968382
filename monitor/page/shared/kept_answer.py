"""Keeps the last answer to a costly question for a minute, so that many who ask at once cost one look."""

import threading
from collections.abc import Callable

KEPT_S = 60.0
"""How long an answer serves, seconds."""


class KeptAnswer:
    """The last answer; any thread may call it.

    Args:
        clock: A clock in seconds that never goes back.
    """

    def __init__(self, clock: Callable[[], float]) -> None:
        self._clock = clock
        self._lock = threading.Lock()
        self._kept: tuple[float, bytes] | None = None

    def get(self, make: Callable[[], bytes]) -> bytes:
        """Return the answer, made anew if a minute has passed; one at a time makes it."""
        with self._lock:
            if self._kept is None or self._clock() - self._kept[0] >= KEPT_S:
                self._kept = (self._clock(), make())
            return self._kept[1]
