"""Forms that were kept in a browser while the yard was lost: what was sent twice is taken in once, at its own time.

A browser that got no answer cannot know whether its form arrived, so it sends the same once more, under the same id.
"""

import re
import threading
from datetime import UTC, datetime, timedelta

from cachetools import FIFOCache

MOST = 2_000
"""Ids that are remembered, the newest."""
LATEST_MS = 366 * 86_400_000
_ID = re.compile(r"[A-Za-z0-9_-]{16,64}")
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


class Once:
    """Remembers where each form led that carried an id; any thread."""

    def __init__(self) -> None:
        self._led: FIFOCache[str, str] = FIFOCache(MOST)
        self._lock = threading.Lock()

    def led(self, form: dict[str, str]) -> str:
        """Return where a form of the same id led, "" where none was taken in."""
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
    """Return a form that was kept for a while with the time at which it was pressed, where nobody typed one.

    The browser says how long ago that was, since its clock may be wrong; `now` is the yard's clock, UTC ms.
    """
    late = form.get("late_ms", "")
    if form.get("when") or not late.isdecimal() or len(late) > 12 or not 1000 <= int(late) <= LATEST_MS:
        return form
    return {**form, "when": (_EPOCH + timedelta(milliseconds=now - int(late))).isoformat()}
