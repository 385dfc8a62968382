"""From rows of readings and work to the events that a replay feeds: which commits there were, and when.

Rules:

1. Rows with equal `received` are one commit at that instant; a row without it is received at its own time, so that
   each instant is one commit. Work is committed when it was `entered`, else at its time.
2. Work goes before readings of the same instant. `at` rises strictly: what falls on one instant gets +1 ms each.
3. What the daemon sets aside is set aside here: a key (probe, time) that was there already (a repetition, or a
   conflict if the value differs), times before 2000, and times ahead of their commit, which the event names.
"""

from array import array
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, fields, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from monitor.engine.stretch import Commits, Piece
from monitor.model.events import Event, EventKind
from monitor.model.quarantine import SetAside
from monitor.model.thresholds import ProbeThresholds
from monitor.model.times import YEAR_2000_MS
from monitor.model.work import Work
from monitor.recordings.events import payload_of
from monitor.recordings.readings import ReadingRow

_CHUNK = 65_536

Indices = NDArray[np.int64]


@dataclass(slots=True)
class SetAsides:
    """What was set aside while planning: counts by reason, `repeated` for equal rows, and the first conflicts."""

    counts: dict[SetAside, int] = field(default_factory=dict)
    repeated: int = 0
    conflicts: list[tuple[str, int]] = field(default_factory=list)

    def count(self, reason: SetAside, number: int) -> None:
        """Count readings that were set aside for a reason."""
        if number:
            self.counts[reason] = self.counts.get(reason, 0) + number


class _Columns:
    """Rows as arrays, 28 bytes a row."""

    def __init__(self, rows: Iterable[ReadingRow]) -> None:
        time, micro, received, probe, unit = array("q"), array("q"), array("q"), array("i"), array("i")
        probes: dict[str, int] = {}
        units: dict[str, int] = {}
        for row in rows:
            time.append(row.time)
            micro.append(row.micro)
            received.append(row.time if row.received is None else row.received)
            probe.append(probes.setdefault(row.probe, len(probes)))
            unit.append(units.setdefault(row.unit, len(units)))
        self.time = np.frombuffer(time, dtype=np.int64) if time else np.zeros(0, np.int64)
        self.micro = np.frombuffer(micro, dtype=np.int64) if micro else np.zeros(0, np.int64)
        self.received = np.frombuffer(received, dtype=np.int64) if received else np.zeros(0, np.int64)
        self.names = sorted(probes)
        rank = np.argsort(np.argsort(np.array(list(probes), dtype=np.str_))) if probes else np.zeros(0, np.int64)
        self.probe = rank[np.array(probe, dtype=np.int64)] if probe else np.zeros(0, np.int64)
        self.units = list(units)
        self.unit = np.array(unit, dtype=np.int64)


def plan_commits(
    readings: Iterable[ReadingRow],
    work: Iterable[Work],
    set_aside: SetAsides | None = None,
    ahead_ms: int = ProbeThresholds().ahead_ms,
) -> Iterator[Event]:
    """Yield the events of a recording with strictly rising `at`.

    Args:
        readings: Rows of any files, in any order.
        work: Entries of any files, in any order.
        set_aside: Filled with what was left out; complete when the first event is yielded.
        ahead_ms: How far a reading's time may lie after its commit.
    """
    columns = _Columns(readings)
    order = _kept(columns, set_aside if set_aside is not None else SetAsides())
    commits = _commits(columns, order, ahead_ms, set_aside if set_aside is not None else SetAsides())
    entries = sorted(work, key=_entered)
    last: int | None = None
    i = 0
    for instant, payload in commits:
        while i < len(entries) and _entered(entries[i]) <= instant:
            last = _next(last, _entered(entries[i]))
            yield Event(last, EventKind.WORK, work_payload(entries[i]))
            i += 1
        last = _next(last, instant)
        yield Event(last, EventKind.READINGS, payload)
    for entry in entries[i:]:
        last = _next(last, _entered(entry))
        yield Event(last, EventKind.WORK, work_payload(entry))


def plan_pieces(
    readings: Iterable[ReadingRow],
    work: Iterable[Work],
    set_aside: SetAsides | None = None,
    ahead_ms: int = ProbeThresholds().ahead_ms,
) -> list[Piece]:
    """Return what `plan_commits` yields, readings as columns between the pieces of work.

    Args:
        readings: Rows of any files, in any order.
        work: Entries of any files, in any order.
        set_aside: Filled with what was left out.
        ahead_ms: How far a reading's time may lie after its commit.
    """
    aside = set_aside if set_aside is not None else SetAsides()
    columns = _Columns(readings)
    whole = _columns_of(columns, _kept(columns, aside), ahead_ms, aside)
    pieces: list[Piece] = []
    last: int | None = None
    done = 0
    for entry in sorted(work, key=_entered):
        # Work goes before readings of the same instant.
        count = int(np.searchsorted(whole.at, _entered(entry)))
        if count > done:
            part = _stamped(whole.part(done, count), last)
            pieces.append(part)
            last, done = int(part.at[-1]), count
        last = _next(last, _entered(entry))
        pieces.append(Event(last, EventKind.WORK, work_payload(entry)))
    if done < len(whole):
        pieces.append(_stamped(whole.part(done, len(whole)), last))
    return pieces


def _stamped(commits: Commits, last: int | None) -> Commits:
    """Return commits whose `at` rise from after `last`: each at its instant, or 1 ms after the one before."""
    index = np.arange(len(commits))
    steps = commits.at - index
    if last is not None:
        steps[0] = max(int(steps[0]), last + 1)
    return replace(commits, at=np.maximum.accumulate(steps) + index)


def _columns_of(columns: _Columns, order: Indices, ahead_ms: int, set_aside: SetAsides) -> Commits:
    """Return all commits, each at its own instant."""
    time, received = columns.time[order], columns.received[order]
    ahead = time > received + ahead_ms
    set_aside.count(SetAside.AHEAD, int(ahead.sum()))
    starts = np.flatnonzero(np.concatenate((np.ones(min(1, len(order)), np.bool_), received[1:] != received[:-1])))
    kept = order[~ahead]
    first = np.concatenate((np.zeros(1, np.int64), np.cumsum(~ahead)))[np.concatenate((starts, [len(order)]))]
    claims: dict[int, tuple[tuple[str, int], ...]] = {}
    for row in np.flatnonzero(ahead).tolist():
        commit = int(np.searchsorted(starts, row, side="right")) - 1
        claims[commit] = (*claims.get(commit, ()), (columns.names[columns.probe[order[row]]], int(time[row])))
    return Commits(
        at=received[starts].copy(),
        first=first.astype(np.int64),
        time=columns.time[kept],
        micro=columns.micro[kept],
        probe=columns.probe[kept].astype(np.int32),
        unit=columns.unit[kept].astype(np.int32),
        names=tuple(columns.names),
        units=tuple(columns.units),
        ahead=claims,
    )


def work_payload(work: Work) -> dict[str, Any]:
    """Return the payload of a work event: the fields that are not empty, times in UTC ms."""
    found = payload_of({entry.name: getattr(work, entry.name) for entry in fields(work)})
    return {**found, "kind": work.kind.value}


def _entered(work: Work) -> int:
    return work.time if work.entered is None else work.entered


def _next(last: int | None, instant: int) -> int:
    return instant if last is None or instant > last else last + 1


def _kept(columns: _Columns, set_aside: SetAsides) -> Indices:
    """Return the rows to feed, ordered by (received, time, probe), without repeated keys and absurd times."""
    usable = np.flatnonzero(columns.time >= YEAR_2000_MS)
    set_aside.count(SetAside.ABSURD_TIME, len(columns.time) - len(usable))
    order = usable[np.lexsort((columns.probe[usable], columns.time[usable], columns.received[usable]))]
    time, probe = columns.time[order], columns.probe[order]
    by_key = np.lexsort((time, probe))  # stable: of one key, the first received comes first
    same = (np.diff(time[by_key]) == 0) & (np.diff(probe[by_key]) == 0)
    if not same.any():
        return order
    first = np.maximum.accumulate(np.where(np.concatenate(([True], ~same)), np.arange(len(by_key)), 0))
    again = np.flatnonzero(same) + 1
    first_row, second_row = order[by_key[first[again]]], order[by_key[again]]
    differs = columns.micro[first_row] != columns.micro[second_row]
    differs |= columns.unit[first_row] != columns.unit[second_row]
    set_aside.repeated += int((~differs).sum())
    set_aside.count(SetAside.CONFLICT, int(differs.sum()))
    for row in second_row[differs][:1000].tolist():
        set_aside.conflicts.append((columns.names[columns.probe[row]], int(columns.time[row])))
    keep = np.ones(len(order), dtype=np.bool_)
    keep[by_key[again]] = False
    return order[keep]


def _commits(
    columns: _Columns, order: Indices, ahead_ms: int, set_aside: SetAsides
) -> Iterator[tuple[int, dict[str, Any]]]:
    """Yield (instant, payload) of each commit, in order."""
    ahead = columns.time[order] > columns.received[order] + ahead_ms
    set_aside.count(SetAside.AHEAD, int(ahead.sum()))
    instant: int | None = None
    rows: list[list[Any]] = []
    claims: list[list[Any]] = []
    names, units = columns.names, columns.units
    for begin in range(0, len(order), _CHUNK):
        part = order[begin : begin + _CHUNK]
        lists: Sequence[list[Any]] = [
            column[part].tolist()
            for column in (columns.received, columns.time, columns.probe, columns.micro, columns.unit)
        ]
        for at, time, probe, micro, unit, is_ahead in zip(*lists, ahead[begin : begin + _CHUNK].tolist(), strict=True):
            if at != instant:
                if instant is not None:
                    yield instant, {"rows": rows, "ahead": claims}
                instant, rows, claims = at, [], []
            if is_ahead:
                claims.append([names[probe], time])
            else:
                rows.append([time, names[probe], micro, units[unit]])
    if instant is not None:
        yield instant, {"rows": rows, "ahead": claims}
