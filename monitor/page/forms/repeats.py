"""Handles forms that a browser kept while it could not reach the yard: a form sent twice is taken in once, at its own time.

A browser without an answer cannot know whether its form arrived, so it sends the same form again, under the same id.
"""

import re
import threading
from datetime import UTC, datetime, timedelta

from cachetools import FIFOCache

MOST = 2_000
"""The most ids that are remembered; the newest stay."""
LATEST_MS = 366 * 86_400_000
_ID = re.compile(r"[A-Za-z0-9_-]{16,64}")
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


class Once:
    """Remembers where each form with an id led; any thread may call it."""

    def __init__(self) -> None:
        self._led: FIFOCache[str, str] = FIFOCache(MOST)
        self._lock = threading.Lock()

    def led(self, form: dict[str, str]) -> str:
        """Return where a form of the same id led; "" if there was none."""
        with self._lock:
            return self._led.get(form.get("entry", ""), "")

    def keep(self, form: dict[str, str], location: str) -> None:
        """Remember where a form led."""
        entry = form.get("entry", "")
        if not _ID.fullmatch(entry):
            return
        with self._lock:
            self._led[entry] = location


def at_its_time(form: dict[str, str], now: int) -> dict[str, str]:
    """Return a delayed form with the time at which it was pressed, unless somebody typed a time.

    The browser says how long ago that was, since its clock may be wrong; `now` is the daemon's time, UTC ms.
    """
    late = form.get("late_ms", "")
    if form.get("when") or not late.isdecimal() or len(late) > 12 or not 1000 <= int(late) <= LATEST_MS:
        return form
    return {**form, "when": (_EPOCH + timedelta(milliseconds=now - int(late))).isoformat()}
