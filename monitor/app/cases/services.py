"""Shows a probe's service on a certificate: when it was in, each change in words, and whether it was taken out for good."""

from collections.abc import Iterable
from dataclasses import replace

from monitor.certificate import CaseProbe, ServiceEntry, accepted, member
from monitor.engine import CONFIGURATION, TAKEN_OUT, ServiceChange, ServiceRecord
from monitor.proof.intervals import FAR_AHEAD_MS, Intervals

_FOR_GOOD = (TAKEN_OUT, CONFIGURATION)


def closed(spans: Iterable[tuple[int, int | None]]) -> Intervals:
    """Return spans with an end each; an open span gets an end far ahead, an empty one is dropped."""
    ended = ((start, FAR_AHEAD_MS if end is None else end) for start, end in spans)
    return tuple((start, end) for start, end in ended if start < end)


def entry(change: ServiceChange) -> ServiceEntry:
    """Return a change of service with its author and its time of entry."""
    logged = change.logged
    if logged is None:
        return ServiceEntry(time=change.time, into=change.into, how=change.how)
    entered = logged.work.entered if logged.work.entered is not None else logged.at
    return ServiceEntry(time=change.time, into=change.into, how=change.how, by=logged.work.by, entered=entered)


def with_service(probe: CaseProbe, service: ServiceRecord | None) -> CaseProbe:
    """Return a probe with its service; None: it was never in."""
    if service is None:
        return replace(probe, service=(), entries=())
    return replace(probe, service=closed(service.spans()), entries=tuple(entry(change) for change in service.changes))


def counts(probe: CaseProbe) -> bool:
    """Return whether any reading of a probe was taken while it was in."""
    series = accepted(probe)
    return bool(member(series.times, series.service).any())


def with_retired(probes: tuple[CaseProbe, ...], service: dict[str, ServiceRecord]) -> tuple[CaseProbe, ...]:
    """Return the probes; each that left for good before the record ends names who took it out."""
    newest = max((_last_reading(one) for one in probes), default=0)
    return tuple(replace(one, retired_by=_retired_by(service.get(one.probe), newest)) for one in probes)


def _last_reading(probe: CaseProbe) -> int:
    series = accepted(probe)
    times = series.times[member(series.times, series.service)]
    return int(times[-1]) if times.size else 0


def _retired_by(service: ServiceRecord | None, newest: int) -> str:
    last = service.changes[-1] if service is not None and service.changes else None
    if last is None or last.into or last.how not in _FOR_GOOD or last.time >= newest:
        return ""
    by = last.logged.work.by if last.logged is not None else ""
    return by or "somebody who was not named"
