"""The falls that belong to turnings (`model.turnings`), found in the accepted readings of a batch's probes."""

from collections.abc import Sequence

import numpy as np

from monitor.model.turnings import FALL_SPAN_MS, FELT_WITHIN_MS, fall_begins
from monitor.proof.temperature.segments import Series


def falls_before(series: Sequence[Series], turnings: Sequence[int]) -> tuple[tuple[int, int], ...]:
    """Return (logged, begun) for each entry before which a probe had felt the air, in order.

    Args:
        series: Accepted readings of each core probe, not smoothed; a line of rounds by hand feels no turning.
        turnings: Every logged entry, UTC ms.
    """
    found = []
    for logged in sorted(set(turnings)):
        begun = [at for one in series if one.max_gap_ms is None for at in _begun(one, logged)]
        if begun:
            found.append((logged, min(begun)))
    return tuple(found)


def _begun(one: Series, logged: int) -> list[int]:
    """Return where falls of a probe began, at most one in each of its times in service."""
    found = []
    for start, end in one.service:
        first = int(np.searchsorted(one.times, max(start, logged - FELT_WITHIN_MS), "left"))
        last = int(np.searchsorted(one.times, min(end - 1, logged + FALL_SPAN_MS), "right"))
        if first < last:
            begun = fall_begins(one.times[first:last].tolist(), one.milli_c[first:last].tolist(), logged)
            found += [] if begun is None else [begun]
    return found
