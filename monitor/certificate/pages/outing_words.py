"""Lines of the pages about several probes at once: those that went out together, and were put in together."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from itertools import groupby

from monitor.certificate.judged import CaseProbe, CaseWork, ServiceEntry
from monitor.model.work_kinds import PROBE_WORK


@dataclass(slots=True)
class Outing:
    """Probes that went out by one entry, or came in without having been out.

    Attributes:
        out: The entry, or None where they came in for the first time.
        probes: What people call them, in the order of the case.
        backs: By the entry that says when they were in again: which of them.
    """

    out: ServiceEntry | None
    probes: list[str] = field(default_factory=list)
    backs: dict[ServiceEntry, list[str]] = field(default_factory=dict)


def outings_together(probes: Sequence[CaseProbe]) -> list[Outing]:
    """Return when each probe was out and in, those together that one entry took out or brought in, in order of time."""
    found: dict[tuple[ServiceEntry | None, ServiceEntry | None], Outing] = {}
    for own in probes:
        name = own.name or own.probe
        for out, back in _pairs(own.entries):
            one = found.setdefault((out, None if out is not None else back), Outing(out))
            one.probes.append(name)
            if back is not None:
                one.backs.setdefault(back, []).append(name)
    return sorted(found.values(), key=_begins)


def _begins(one: Outing) -> int:
    return one.out.time if one.out is not None else min(entry.time for entry in one.backs)


def _pairs(entries: Sequence[ServiceEntry]) -> Iterator[tuple[ServiceEntry | None, ServiceEntry | None]]:
    """Yield each going out of a probe with the coming in that ended it; either may be missing."""
    out: ServiceEntry | None = None
    for entry in entries:
        if entry.into:
            yield out, entry
            out = None
        else:
            if out is not None:
                yield out, None
            out = entry
    if out is not None:
        yield out, None


def probes_together(work: Sequence[CaseWork]) -> list[CaseWork]:
    """Return a work log in which probes that were put in, or taken out, by one person at one time stand in one entry."""
    found = []
    for _, some in groupby(work, key=lambda one: replace(one, work=replace(one.work, probe=""))):
        alike = list(some)
        if alike[0].work.kind in PROBE_WORK:
            names = ", ".join(one.work.probe for one in alike)
            found.append(replace(alike[0], work=replace(alike[0].work, probe=names)))
        else:
            found += alike
    return found
