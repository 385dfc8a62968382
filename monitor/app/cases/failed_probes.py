"""Finds the times in which a batch's probes were silent while people read on by hand; there rounds prove (`Heap.fail`).

Rules, the same as in the engine:
1. A round that comes more than the lag after the newest reading of every probe that is in shows that the probes have failed.
2. From that newest reading to the next one (or to the next probe that comes in) they are out, and rounds prove.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Mapping, Sequence
from dataclasses import replace

from monitor.engine import BatchRecord, ServiceChange, ServiceRecord
from monitor.piles import GONE_MS

FELL_SILENT = "fell silent"
SPOKE_AGAIN = "spoke again"


def with_failed(
    record: BatchRecord, accepted: Mapping[str, Sequence[int]], rounds: Sequence[int], lag_ms: int
) -> BatchRecord:
    """Return a record in which failed probes are out, and rounds prove in their place.

    Args:
        record: The record by its entries.
        accepted: Times of each core probe's counting readings, UTC ms, in order.
        rounds: Times of the rounds, UTC ms, in order.
        lag_ms: How long probes must have been silent.
    """
    for at in rounds:
        if any(start <= at and (end is None or at < end) for start, end in record.rounds):
            continue
        found = _silent(record, accepted, at, lag_ms)
        if found is not None:
            record = _out(record, *found)
    return record


def _silent(
    record: BatchRecord, accepted: Mapping[str, Sequence[int]], at: int, lag_ms: int
) -> tuple[int, int | None, list[str], int] | None:
    """Return (since, until or None, probes, round) if at a round all probes that are in were silent for longer than the lag."""
    newest: dict[str, int] = {}
    upcoming: list[int] = []
    for probe, service in record.service.items():
        times = accepted.get(probe, ())
        for start, end in service.spans():
            if start > at:
                upcoming.append(start)
            if not start <= at or (end is not None and at >= end):
                continue
            first, last = bisect_left(times, start), bisect_left(times, at)
            newest[probe] = times[last - 1] if first < last else start
            after = bisect_right(times, at - 1)
            if after < len(times) and (end is None or times[after] < end):
                upcoming.append(times[after])
    if not newest or max(newest.values()) >= at - lag_ms:
        return None
    return max(newest.values()) + GONE_MS, min(upcoming, default=None), sorted(newest), at


def _out(record: BatchRecord, since: int, until: int | None, probes: list[str], at: int) -> BatchRecord:
    service = dict(record.service)
    for probe in probes:
        changes = [ServiceChange(since, False, FELL_SILENT, None)]
        kept = [
            one for one in service[probe].changes if not (since <= one.time and (until is None or one.time < until))
        ]
        # A probe taken out for a turning meanwhile is back when that entry says so, not before.
        away = any(
            not one.into and since <= one.time for one in service[probe].changes if until is None or one.time < until
        )
        if until is not None and not away:
            changes.append(ServiceChange(until, True, SPOKE_AGAIN, None))
        service[probe] = ServiceRecord(
            sorted([*kept, *changes], key=lambda one: (one.time, one.into)), service[probe].settling
        )
    # A round at the very instant of the next reading still counts.
    last = until if until is None or until > at else at + 1
    return replace(
        record, service=service, rounds=tuple(sorted([*record.rounds, (since, last)], key=lambda one: one[0]))
    )
