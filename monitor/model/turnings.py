"""Turnings as people log them, and as they count; used wherever turnings are counted or spaced.

Two people who log one turning, or one who logs it five times, have turned the heap once. So entries less than 6 h after
the first of their group are one turning, at the time of that first; exactly 6 h later a new one begins (ours). This
concerns counting alone: every entry takes the probes out, and recovery follows each.
"""

from collections.abc import Iterable

from monitor.model.times import HOUR_MS

TOGETHER_MS = 6 * HOUR_MS
"""Entries less than so long after the first of their group are one turning with it, ms."""


def begins_group(first: int | None, at: int, together_ms: int = TOGETHER_MS) -> bool:
    """Tell whether an entry begins a turning of its own.

    Args:
        first: The first entry of the group before it, UTC ms, or None.
        at: The entry, UTC ms, not earlier.
        together_ms: How long a group lasts.
    """
    return first is None or at - first >= together_ms


def counted_firsts(entries: Iterable[int], together_ms: int = TOGETHER_MS) -> tuple[int, ...]:
    """Return when the turnings were that count: of entries in any order (UTC ms), the first of each group."""
    found: list[int] = []
    for at in sorted(entries):
        if begins_group(found[-1] if found else None, at, together_ms):
            found.append(at)
    return tuple(found)
