"""When the temperature of a batch was proven, and when it was within a rule's limits, exactly.

Rules this module keeps (design, the rule evaluation):

1. Between two consecutive accepted readings of one probe at most `max_gap` apart, temperature is the straight line
   between them; a longer gap is unproven. Nothing is assumed before the first reading or after the last.
2. No line is drawn across a time in which the probe was out: a probe pulled out and put back says nothing of between.
3. A probe is in service from its `probe in` to its `probe out`; one that is out has no say, and while none is in
   service the time is unproven.
4. Basis coldest: the coldest at or above the lower limit and the hottest at or below the upper one, which is: every
   probe in service within both. Mean: the mean of the probes in service. Each: every probe by itself.
5. The ends of a hold are the exact crossings, rounded inward to the millisecond. All arithmetic is on integers.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import reduce
from typing import Any

import numpy as np
from numpy.typing import NDArray

from monitor.model.crossings import first_above, first_at_or_above, last_above, last_at_or_above
from monitor.proof.intervals import (
    EMPTY,
    FAR_AHEAD_MS,
    LONG_AGO_MS,
    Intervals,
    complement,
    contains,
    intersection,
    normal,
    union,
)
from monitor.proof.means import mean_holds
from monitor.proof.proven import HoldBasis, HoldSet, ProbeSets
from monitor.proof.rules import Limits

ALWAYS: Intervals = ((LONG_AGO_MS, FAR_AHEAD_MS),)
"""In service all the time."""

_SAFE = 2**62
"""Products below this cannot overflow 64 bits when a time is added."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Series:
    """The accepted readings of one core probe.

    Attributes:
        probe: The probe's id.
        times: UTC ms, strictly rising, 64-bit integers.
        milli_c: Thousandths of a degree Celsius, one for each time, 64-bit integers.
        service: When the probe was in; readings outside it are left out.
    """

    probe: str
    times: NDArray[np.int64]
    milli_c: NDArray[np.int64]
    service: Intervals = ALWAYS


def hold_set(
    series: Sequence[Series], limits: Limits, *, max_gap_ms: int, basis: HoldBasis = HoldBasis.COLDEST
) -> HoldSet:
    """Return when the batch is proven and when it is within the limits.

    Args:
        series: Accepted readings of each core probe; a probe without readings is unproven while in service.
        limits: Lower and upper limit.
        max_gap_ms: Longest distance between two readings across which a line is drawn, ms.
        basis: How the probes are judged together.

    Raises:
        ValueError: Readings are out of order, or there are not as many times as values.
    """
    probes = tuple(_probe_sets(one, limits, max_gap_ms) for one in series)
    if basis is HoldBasis.EACH:
        return HoldSet(
            basis=basis,
            proven=_by_all([one.proven for one in probes]),
            hold=_by_all([one.hold for one in probes]),
            probes=probes,
        )
    proven = _together(series, [one.proven for one in probes])
    if basis is HoldBasis.MEAN:
        lines = [(one.times, one.milli_c, normal(one.service)) for one in series]
        hold = mean_holds(lines, proven, limits)
    else:
        hold = intersection(proven, _together(series, [one.hold for one in probes]))
    return HoldSet(basis=basis, proven=proven, hold=hold, probes=probes)


def _by_all(sets: Sequence[Intervals]) -> Intervals:
    return reduce(intersection, sets) if sets else EMPTY


def _together(series: Sequence[Series], sets: Sequence[Intervals]) -> Intervals:
    """Return the instants at which every probe that is in service has its own set, and at least one is.

    The time in which a probe is out is closed at both ends. Where that alone would make a single instant of a
    `probe in` or `probe out` a member, without that probe's own set, the instant is taken away again.
    """
    common = union(*(one.service for one in series))
    unclaimed: set[int] = set()
    for one, own in zip(series, sets, strict=True):
        service = normal(one.service)
        unclaimed.update(at for pair in service for at in pair if not contains(own, at))
        common = intersection(common, union(own, complement(service, LONG_AGO_MS, FAR_AHEAD_MS)))
    return tuple(pair for pair in common if pair[0] < pair[1] or pair[0] not in unclaimed)


def _probe_sets(one: Series, limits: Limits, max_gap_ms: int) -> ProbeSets:
    if one.times.shape != one.milli_c.shape:
        raise ValueError(f"probe {one.probe}: {one.times.size} times but {one.milli_c.size} values")
    if one.times.size > 1 and not bool(np.all(one.times[1:] > one.times[:-1])):
        raise ValueError(f"probe {one.probe}: its readings are not in strictly rising order of time")
    proven: list[tuple[int, int]] = []
    hold: list[tuple[int, int]] = []
    for start, end in normal(one.service):
        first = int(np.searchsorted(one.times, start, "left"))
        last = int(np.searchsorted(one.times, end, "right"))
        if first < last:
            known, within = _stretch(one.times[first:last], one.milli_c[first:last], limits, max_gap_ms)
            proven.extend(known)
            hold.extend(within)
    return ProbeSets(probe=one.probe, proven=normal(proven), hold=normal(hold))


def _pairs(starts: NDArray[Any], ends: NDArray[Any]) -> list[tuple[int, int]]:
    return list(zip(starts.tolist(), ends.tolist(), strict=True))


def _stretch(
    times: NDArray[np.int64], milli_c: NDArray[np.int64], limits: Limits, max_gap_ms: int
) -> tuple[list[tuple[int, int]], list[tuple[int, int]]]:
    """Return what one stretch of service proves, and what of it is within the limits."""
    lined = np.diff(times) <= max_gap_ms
    alone = np.array([False])
    before, after = np.concatenate((alone, lined)), np.concatenate((lined, alone))
    proven = _pairs(times[~before], times[~after])
    if limits.hopeless:
        return proven, []
    below = milli_c <= limits.low_milli_c if limits.strict else milli_c < limits.low_milli_c
    zone = np.zeros(times.shape, dtype=np.int8)
    zone[below] = -1
    if limits.high_milli_c is not None:
        zone[milli_c > limits.high_milli_c] = 1
    inside = zone == 0
    crossing = np.flatnonzero(lined & (zone[1:] != zone[:-1]))
    starts = [times[inside & ~before]]
    ends = [times[inside & ~after]]
    if crossing.size:
        entered, left, thrown = _crossed(times, milli_c, zone, crossing, limits)
        starts.append(entered)
        ends.append(left)
        # A line from beyond one limit to beyond the other passes through, maybe between two whole milliseconds.
        kept = thrown[:, 0] <= thrown[:, 1]
        starts.append(thrown[kept, 0])
        ends.append(thrown[kept, 1])
    # Intervals neither overlap nor nest, so the n-th start in order belongs to the n-th end.
    return proven, _pairs(np.sort(np.concatenate(starts)), np.sort(np.concatenate(ends)))


def _crossed(
    times: NDArray[np.int64],
    milli_c: NDArray[np.int64],
    zone: NDArray[np.int8],
    crossing: NDArray[np.intp],
    limits: Limits,
) -> tuple[NDArray[Any], NDArray[Any], NDArray[Any]]:
    """Return, of the lines that change zone, when each enters from outside, leaves, or both (two columns)."""
    line = (times[crossing], milli_c[crossing], times[crossing + 1], milli_c[crossing + 1])
    was, now = zone[crossing], zone[crossing + 1]
    enter_low = _at(first_above if limits.strict else first_at_or_above, line, was == -1, limits.low_milli_c, 1)
    leave_low = _at(last_above if limits.strict else last_at_or_above, line, now == -1, limits.low_milli_c, 1)
    if limits.high_milli_c is None:
        return enter_low[was == -1], leave_low[now == -1], np.empty((0, 2), dtype=np.int64)
    # "At or below the upper limit" is "at or above" with every sign turned round.
    enter_high = _at(first_at_or_above, line, was == 1, limits.high_milli_c, -1)
    leave_high = _at(last_at_or_above, line, now == 1, limits.high_milli_c, -1)
    entered = np.where(was == 1, enter_high, enter_low)
    left = np.where(now == 1, leave_high, leave_low)
    through = (was != 0) & (now != 0)
    return (
        entered[(was != 0) & ~through],
        left[(now != 0) & ~through],
        np.stack((entered[through], left[through]), axis=1),
    )


def _at(
    crossing: Callable[..., Any],
    line: tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.int64], NDArray[np.int64]],
    wanted: NDArray[np.bool_],
    limit: int,
    sign: int,
) -> NDArray[Any]:
    """Return when the wanted lines cross a limit (0 for the others)."""
    start, value, end, value_then = (column[wanted] for column in line)
    found: NDArray[Any] = np.zeros(wanted.shape, dtype=np.int64)
    if start.size:
        longest = int(np.max(end - start))
        widest = int(np.max(np.abs(value))) + int(np.max(np.abs(value_then))) + abs(limit)
        if longest * widest >= _SAFE:
            # Python's own integers: slower, never too small.
            start, value, end, value_then = (column.astype(object) for column in (start, value, end, value_then))
        found[wanted] = crossing(start, sign * value, end, sign * value_then, sign * limit)
    return found
