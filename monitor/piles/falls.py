"""Detects a turning in one probe's readings, if nobody takes the probes out and nobody logs it.

No published source; our choice, and meant to err on the side of silence:

1. *Fell*: a reading at least 10 °C below another of the hour before it, which was at 40 °C or more, both in the same time
   in service. Neither weather nor watering does this to the core of a heap at all its probes.
2. *Rose again*: within 24 h of the fall a reading at least 2 °C above the lowest since. A probe that was pulled out
   and left out, or that broke, does not do this; a turned heap that is alive does.
3. A turning is suggested when the last probe in service has risen again, all of them having fallen within one hour,
   and no turning is logged within 6 h of it (`walk`).
"""

from bisect import bisect_left
from collections.abc import Iterable
from typing import TYPE_CHECKING, Any, cast, overload

from monitor.model.times import DAY_MS, HOUR_MS
from monitor.model.turnings import FELT_WITHIN_MS, fall_begins
from monitor.piles.state import ProbeLine, Stir

if TYPE_CHECKING:
    from monitor.model.number_or_column import Bools, Ints

FALL_MILLI_K = 10_000
FALL_SPAN_MS = HOUR_MS
READINGS_KEPT_MS = max(FALL_SPAN_MS, FELT_WITHIN_MS)
"""Time before its newest reading for which a probe's readings are kept, so that falls can be found here and before turnings."""
FALL_FROM_MILLI_C = 40_000
RISE_MILLI_K = 2_000
RISE_SPAN_MS = DAY_MS
TOGETHER_MS = HOUR_MS
LOGGED_NEAR_MS = 6 * HOUR_MS


@overload
def fell(highest: int, milli: int) -> bool: ...
@overload
def fell(highest: "Ints", milli: "Ints") -> "Bools": ...
def fell(highest: Any, milli: Any) -> Any:
    """Return whether a reading (or which of a column) shows a fall, beside the highest of the hour before it (rule 1)."""
    return (highest >= FALL_FROM_MILLI_C) & (highest - milli >= FALL_MILLI_K)


def watch_fall(line: ProbeLine, time: int, milli: int) -> tuple[int, tuple[Stir, int] | None]:
    """Examine a probe's newest reading, already among its readings; updates `fallen` and `lowest` of the line.

    Args:
        line: The probe's line; changed in place.
        time: The reading's own time, UTC ms.
        milli: Its value, thousandths of a degree Celsius.

    Returns:
        The highest reading of the hour up to now, and (FELL or ROSE, instant of the fall) if this reading shows it.
    """
    first = bisect_left(line.times, time - FALL_SPAN_MS)
    highest = max([milli, *_unbroken(line.values[first:])])
    if line.fallen is not None:
        line.lowest = min(line.lowest, milli)
        if time > line.fallen + RISE_SPAN_MS:
            line.fallen = None
        elif milli >= line.lowest + RISE_MILLI_K:
            fallen, line.fallen = line.fallen, None
            return highest, (Stir.ROSE, fallen)
    elif fell(highest, milli):
        line.fallen, line.lowest = time, milli
        return highest, (Stir.FELL, time)
    return highest, None


def _unbroken(values: list[int | None]) -> list[int]:
    """Return the values behind the last None: the readings since the probe last came into service."""
    behind = len(values) - values[::-1].index(None) if None in values else 0
    return cast("list[int]", values[behind:])


def felt_before(lines: Iterable[ProbeLine], logged: int) -> int | None:
    """Return the beginning of the fall that belongs to a turning (`model.turnings`), UTC ms, or None.

    Args:
        lines: The batch's core probes, fed up to the turning.
        logged: When the turning was logged, UTC ms.
    """
    found = []
    for line in lines:
        first = bisect_left(line.times, logged - FELT_WITHIN_MS)
        times: list[int] = []
        values: list[int] = []
        # A None ends a time in service, and the air outside must not look like a fall.
        for time, milli in [*zip(line.times[first:], line.values[first:], strict=True), (logged, None)]:
            if milli is not None:
                times.append(time)
                values.append(milli)
                continue
            begun = fall_begins(times, values, logged)
            found += [] if begun is None else [begun]
            times, values = [], []
    return min(found, default=None)
