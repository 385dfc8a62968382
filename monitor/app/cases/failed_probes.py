"""Finds the times in which a batch's probes were silent while people read on by hand; there rounds prove (`Heap.fail`).

Rules, the same as in the engine:
1. A round that comes more than the lag after the newest reading of every probe that is in shows that the probes have failed.
   One that a turning took out, and that nobody put back, counts as one that is in and silent.
2. From that newest reading to the next one (or to the next probe that comes in) they are out, and rounds prove. A probe that
   was silent is not back because it is said, or presumed, to have been put in again after a turning: it is when it speaks.
3. One that never spoke since it came in has failed from then on.
"""

from bisect import bisect_left
from collections.abc import Mapping, Sequence
from dataclasses import replace
from math import inf

from monitor.engine import BACK_BY_ITSELF, TURNING, BatchRecord, ServiceChange, ServiceRecord
from monitor.model.work import WorkKind
from monitor.piles import GONE_MS

FELL_SILENT = "fell silent"
NEVER_SPOKE = "never spoke"
SPOKE_AGAIN = "spoke again"
FAILINGS = (FELL_SILENT, NEVER_SPOKE, SPOKE_AGAIN)
"""How a probe goes out and comes back without anybody's saying so."""


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
) -> tuple[int, int | None, dict[str, str], int] | None:
    """Return (since, until or None, how each probe failed, round) if all that are in at a round were silent for the lag."""
    newest: dict[str, int] = {}
    how: dict[str, str] = {}
    for probe, service in record.service.items():
        times = accepted.get(probe, ())
        awaited = _awaited(service, at)
        if awaited is not None:
            start, end = awaited
            first, last = bisect_left(times, start), bisect_left(times, end)
            newest[probe] = times[last - 1] if first < last else start
            # A turning takes it out, so a silence that goes on is one since then.
            newest[probe] = max([newest[probe], *(one for one in record.turnings if start <= one <= at)])
            how[probe] = FELL_SILENT if last else NEVER_SPOKE
    if not newest or max(newest.values()) >= at - lag_ms:
        return None
    returns = [_returns(record, probe, accepted.get(probe, ()), at, silent=probe in newest) for probe in record.service]
    return max(newest.values()) + GONE_MS, min((one for one in returns if one is not None), default=None), how, at


def _awaited(service: ServiceRecord, at: int) -> tuple[int, int] | None:
    """Return since when a probe is in at an instant, or since and until when it was if a turning took it out; else None."""
    before = [one for one in service.changes if one.time <= at]
    if not before or not (before[-1].into or before[-1].how == TURNING):
        return None
    start = next((one.time for one in reversed(before) if one.into), None)
    return None if start is None else (start, at if before[-1].into else before[-1].time)


def _returns(record: BatchRecord, probe: str, times: Sequence[int], at: int, *, silent: bool) -> int | None:
    """Return when a probe next speaks after an instant or, unless it is silent in the heap then, comes in; or None."""
    found: list[int] = []
    left = _left(record, probe, at) if silent else at
    came = {(one.time, one.into, one.how) for one in record.service[probe].changes}
    for start, end in record.service[probe].spans():
        if start > at and (start >= left or (start, True, BACK_BY_ITSELF) in came):
            found.append(start)
        elif end is None or end > at:
            # It may be in again after a turning, but has not spoken since.
            after = bisect_left(times, max(start, at))
            found += [one for one in times[after : after + 1] if end is None or one < end]
    return min(found, default=None)


def _left(record: BatchRecord, probe: str, at: int) -> float:
    """Return when a probe that is in at an instant next went out for anything but a turning; infinity if it did not."""
    own = [one.work for one, own in record.works if own and one.work.probe == probe]
    out = [work.time for work in own if work.kind is WorkKind.PROBE_OUT]
    out += [
        one.time
        for one in record.service[probe].changes
        if not one.into and one.how != TURNING and (one.logged is None or one.logged.work.kind is not WorkKind.PROBE_IN)
    ]
    return min((one for one in out if one > at), default=inf)


def _out(record: BatchRecord, since: int, until: int | None, probes: Mapping[str, str], at: int) -> BatchRecord:
    service = dict(record.service)
    for probe, how in sorted(probes.items()):
        meanwhile = [one for one in service[probe].changes if since <= one.time and (until is None or one.time < until)]
        kept = [one for one in service[probe].changes if one not in meanwhile]
        before = [one for one in kept if one.time < since]
        was_in = bool(before) and before[-1].into
        changes = [ServiceChange(since, False, how, None)] if was_in else []
        # A probe taken out for a turning, and not put back, is back when an entry says so, not before.
        away = not meanwhile[-1].into if meanwhile else not was_in
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
