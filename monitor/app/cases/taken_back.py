"""Names entries about a heap that were taken back or put right: a certificate says so, since its verdict leaves them out.

Rules:
1. An entry is named if it would change what the heat has done: material that came in, went or was built where the heap lay
   then; and readings by hand, if rounds prove.
2. Entries taken back count for nothing. The certificate's reader may ask why they were taken back.
"""

from collections.abc import Iterable, Iterator

import numpy as np

from monitor.app.cases.lineage import Telling
from monitor.app.entries.work_log import Entered
from monitor.certificate import CaseProbe, accepted
from monitor.engine import BatchRecord
from monitor.model.flags import Flag
from monitor.model.units import show_temperature
from monitor.model.work import Work
from monitor.model.work_kinds import Material, declared

_NAMED = 6


def entries_taken_back(
    log: Iterable[Entered], record: BatchRecord, telling: Telling, until: int | None = None
) -> Iterator[str]:
    """Yield a sentence for each entry about the heap's material that no longer stands as it was logged.

    Args:
        log: Every entry of the yard.
        record: The batch's record.
        telling: Names places and times in words.
        until: Work done later is left out, UTC ms.
    """
    for one in log:
        work = one.logged
        if one.work == work or one.corrected is None or (until is not None and work.time > until):
            continue
        if declared(work.kind).material is Material.NOTHING or not _there(work, record):
            continue
        if one.work is not None and (one.work.kind, one.work.time, one.work.place, one.work.to, one.work.what) == (
            work.kind, work.time, work.place, work.to, work.what,
        ):  # fmt: skip
            continue  # only amount or note changed
        who = f" by {one.corrected_by}" if one.corrected_by else ""
        done = "Taken back" if one.work is None else "Put right"
        into = "" if one.work is None else f", to {_said(one.work, telling)}"
        by = f", as logged by {work.by}" if work.by else ""
        yield f"{done} on {telling.when(one.corrected)}{who}: {_said(work, telling)}{by}{into}; the verdict goes without it."


def _there(work: Work, record: BatchRecord) -> bool:
    """Return whether the heap lay at the place of an entry, at that time."""
    return any(
        pile in (work.place, work.to) and start <= work.time and (end is None or work.time <= end)
        for pile, start, end in record.spans
    )


def _said(work: Work, telling: Telling) -> str:
    what = f" ({work.what or work.note})" if work.what or work.note else ""
    to = f" to {telling.place(work.to)}" if work.to else ""
    return f"{declared(work.kind).past} at {telling.place(work.place)}{to}{what} on {telling.when(work.time)}"


def readings_taken_back(probes: Iterable[tuple[CaseProbe, Iterable[int]]], telling: Telling) -> Iterator[str]:
    """Yield a sentence about readings by hand that were taken back; nothing if there are none.

    Args:
        probes: Each hand series, with the times of its readings that were taken back, UTC ms.
        telling: Names places and times in words.
    """
    found = []
    for probe, gone in probes:
        every = CaseProbe(
            probe=probe.probe, times=probe.times, micro=probe.micro, units=probe.units, unit_names=probe.unit_names,
            quality=np.full(probe.times.shape, int(Flag.NOT_EVALUATED), dtype=np.int8), service=probe.service,
        )  # fmt: skip
        milli = dict(zip(every.times.tolist(), accepted(every).milli_c.tolist(), strict=True))
        found += [(at, milli[at], probe.name) for at in gone if at in milli]
    if not found:
        return
    unit = telling.settings.site.temperature_unit
    shown = "; ".join(
        f"{show_temperature(value, unit)} {name} on {telling.when(at)}" for at, value, name in sorted(found)[:_NAMED]
    )
    more = f"; and {len(found) - _NAMED} more" if len(found) > _NAMED else ""
    many = "1 reading by hand was" if len(found) == 1 else f"{len(found)} readings by hand were"
    yield f"{many} taken back, and the verdict goes without: {shown}{more}."
