"""Cuts a batch's record at an instant, and says in sentences what came after it.

Rules:
1. The time of work counts, not the time of its entry: the record as of an instant uses everything known about it today.
2. Later events are named if they concern the material: additions, where it went, how far the record goes on, and the verdict
   on the whole of it.
"""

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from monitor.app.cases.lineage import Telling
from monitor.certificate import Case, CaseProbe, judge_case
from monitor.engine import BatchRecord, ServiceRecord
from monitor.model.work import Work, WorkKind
from monitor.model.work_kinds import declared


def record_as_of(record: BatchRecord, at: int) -> BatchRecord:
    """Return a batch's record up to an instant (UTC ms), inclusive."""
    batch = record.batch
    if batch.ended is not None and batch.ended > at:
        batch = replace(batch, ended=None, merged_into="")
    return replace(
        record,
        batch=batch,
        spans=tuple(
            (pile, start, None if end is None or end > at else end) for pile, start, end in record.spans if start <= at
        )
        or record.spans[:1],
        service={probe: _service(own, at) for probe, own in record.service.items()},
        turnings=tuple(one for one in record.turnings if one <= at),
        restarts=tuple(one for one in record.restarts if one <= at),
        rounds=tuple((start, end) for start, end in record.rounds if start <= at),
        joins=tuple(one for one in record.joins if one <= at),
        came_in=tuple(one for one in record.came_in if one[0].work.time <= at),
        works=tuple((logged, own) for logged, own in record.works if logged.work.time <= at),
    )


def _service(own: ServiceRecord, at: int) -> ServiceRecord:
    return ServiceRecord(
        changes=[one for one in own.changes if one.time <= at],
        settling=[(start, end) for start, end in own.settling if start <= at],
    )


def probe_as_of(probe: CaseProbe, at: int) -> CaseProbe:
    """Return a probe with its readings up to an instant (UTC ms), inclusive."""
    count = int(np.searchsorted(probe.times, at, "right"))
    probe = replace(probe, unread=tuple(one for one in probe.unread if one <= at))
    if count == probe.times.size:
        return probe
    return replace(
        probe,
        times=probe.times[:count],
        micro=probe.micro[:count],
        units=probe.units[:count],
        quality=probe.quality[:count],
    )


def came_after(record: BatchRecord, at: int, telling: Telling) -> Iterator[str]:
    """Yield the changes of the material after an instant, a sentence for each.

    Args:
        record: The whole record of the batch.
        at: The instant, UTC ms.
        telling: Names places and times in words.
    """
    for logged, own in record.works:
        if logged.work.time > at and (said := _said(logged.work, own, telling)):
            yield f"{said} on {telling.when(logged.work.time)}."


def _said(work: Work, own: bool, telling: Telling) -> str:
    if not own:
        part = "Part of the heap" if work.kind is WorkKind.SPLIT else "The heap"
        return f"{part} of {telling.place(work.place)} was put onto it"
    if declared(work.kind).brings:
        return f"Material ({work.what or work.note or 'not named'}) was added"
    to = telling.place(work.to) if work.to else ""
    return {
        WorkKind.TURNED: "It was turned",
        WorkKind.MOVED: f"It was moved to {to}",
        WorkKind.MERGED: f"It was merged into the heap on {to}",
        WorkKind.SPLIT: f"A part of it went to {to}",
    }.get(work.kind, "")


def verdict_since(whole: Case, at: int) -> Iterator[str]:
    """Yield the verdict on the whole record, beside that as of `at` (UTC ms); nothing if the record goes no further."""
    last = max((int(one.times[-1]) for one in whole.probes if one.times.size), default=at)
    if last <= at and not whole.came_after:
        return
    judgement = judge_case(whole)
    yield (
        f"By the whole record, as far as it goes, the verdict is: {judgement.finding.outcome.value} (the material is "
        f"{judgement.heat_status.value})."
    )
