"""Foresees that the disk will be full, from the room that was left on each of the last days.

Rules (our choice, all of them):
1. One note a day, kept beside the record; the newest of a day counts.
2. The pace is the slower of two: the median of the slopes between all pairs of days (Theil and Sen), which a log that is
   thrown away each week does not mislead, and that between neighbouring days, which a large file that came once does not. It
   takes a week of notes before anything is said.
3. Told if at this pace the room is gone within a month; over once it would last for a month and a half.
"""

import json
import shutil
import statistics
from collections.abc import Iterable, Mapping
from contextlib import suppress
from itertools import combinations, pairwise
from pathlib import Path

from monitor.app.console.whole_files import replace_text
from monitor.model.times import DAY_MS

FILE = "disk-room.json"
KEPT_DAYS = 30
LEAST_DAYS = 7
TOLD_BELOW_DAYS, OVER_ABOVE_DAYS = 30.0, 45.0


class DiskRoom:
    """The room left on the disk of a data folder, day by day."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def note(self, now: int) -> dict[int, int]:
        """Note the room of today, and return the room of each noted day (days since 1970-01-01 UTC), bytes.

        Raises:
            UnavailableError: The note cannot be written.
        """
        today = now // DAY_MS
        noted = {day: free for day, free in self._noted().items() if today - KEPT_DAYS < day < today}
        noted[today] = shutil.disk_usage(self._folder).free
        replace_text(self._folder / FILE, json.dumps({str(day): free for day, free in sorted(noted.items())}) + "\n")
        return noted

    def _noted(self) -> dict[int, int]:
        with suppress(OSError, ValueError, AttributeError, TypeError):
            raw = json.loads((self._folder / FILE).read_text("utf-8"))
            return {int(day): int(free) for day, free in raw.items()}
        return {}


def days_left(noted: Mapping[int, int]) -> float | None:
    """Return in how many days the room is gone at the pace of the noted days; None if it shrinks too little to say.

    Args:
        noted: The room of each day, bytes by day since 1970-01-01.
    """
    if len(noted) < 2 or max(noted) - min(noted) < LEAST_DAYS:
        return None
    days = sorted(noted.items())
    pace = max(_middle(combinations(days, 2)), _middle(pairwise(days)))
    return noted[max(noted)] / -pace if pace < 0 else None


def _middle(pairs: Iterable[tuple[tuple[int, int], tuple[int, int]]]) -> float:
    """Return the median change of room between the days of each pair, bytes a day."""
    return statistics.median((later - earlier) / (second - first) for (first, earlier), (second, later) in pairs)


def fills_up(noted: Mapping[int, int], *, told: bool) -> str:
    """Return why people should make room, without a full stop; "" if there is enough for now.

    Args:
        noted: The room of each day, as `days_left` takes it.
        told: Whether they were told already; then it is over later than it began.
    """
    left = days_left(noted)
    if left is None or left > (OVER_ABOVE_DAYS if told else TOLD_BELOW_DAYS):
        return ""
    free = noted[max(noted)]
    size = f"{free / 1e9:.1f} GB" if free >= 1e9 else f"{free / 1e6:.0f} MB"
    days = "less than a day" if left < 1 else "about 1 day" if left < 1.5 else f"about {left:.0f} days"
    return f"{size} are left, full in {days} at the pace of the last {max(noted) - min(noted)} days"
