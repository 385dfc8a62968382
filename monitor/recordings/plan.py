"""Turns rows of readings and work into the events that a replay feeds: the commits and their instants.

Rules:
1. Rows with equal `received` are one commit at that instant; a row without it counts as received at its own time, so that
   each instant is one commit. Work is committed when it was `entered`, else at its time.
2. Work goes before readings of the same instant. `at` rises strictly: events of one instant get +1 ms each.
3. This module sets aside the same readings as the daemon: repetitions of a key (probe, time), times before 2000, and times
   ahead of their commit, which the event names. Another value of a key stands beside the first, in the commit that brings it.
"""

from bisect import bisect_left
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, fields, replace
from operator import itemgetter
from typing import Any

import numpy as np
from numpy.typing import NDArray

from monitor.engine.stretch import Commits, Piece
from monitor.model.events import FURTHER, Event, EventKind
from monitor.model.quarantine import SetAside
from monitor.model.readings import Reading
from monitor.model.thresholds import ProbeThresholds
from monitor.model.times import YEAR_2000_MS
from monitor.model.work import Work
from monitor.recordings.event_lines import payload_of
from monitor.recordings.reading_columns import NOT_SAID, ReadingColumns

Ints = NDArray[np.int64]


@dataclass(slots=True)
class SetAsides:
    """Readings set aside while planning: counts by reason, `repeated` for equal rows, and the first conflicts."""

    counts: dict[SetAside, int] = field(default_factory=dict)
    repeated: int = 0
    conflicts: list[tuple[str, int]] = field(default_factory=list)

    def count(self, reason: SetAside, number: int) -> None:
        """Add readings that were set aside for a reason."""
        if number:
            self.counts[reason] = self.counts.get(reason, 0) + number


class _Rows:
    """Rows in the order in which they are fed: by (received, time, probe), names sorted."""

    def __init__(self, columns: ReadingColumns) -> None:
        self.names = tuple(sorted(columns.names))
        place = np.array([bisect_left(self.names, name) for name in columns.names], dtype=np.int32)
        self.units = columns.units
        self.time, self.micro, self.unit = columns.time, columns.micro, columns.unit
        self.probe: NDArray[np.int32] = place[columns.probe]
        unsaid = columns.received == NOT_SAID
        self.received = columns.received if not unsaid.any() else np.where(unsaid, columns.time, columns.received)
        if not _rises(self.received, self.time, self.probe):
            self.keep(np.lexsort((self.probe, self.time, self.received)))

    def keep(self, rows: Ints | NDArray[np.bool_]) -> None:
        """Drop all rows but these."""
        for name in ("received", "time", "probe", "micro", "unit"):
            setattr(self, name, getattr(self, name)[rows])


def _rises(*keys: NDArray[Any]) -> bool:
    """Return whether rows are in order of some columns, the first of which weighs most; equal rows are in order."""
    tied: NDArray[np.bool_] | None = None
    for key in keys:
        back = key[1:] < key[:-1]
        if bool((back if tied is None else back & tied).any()):
            return False
        same = key[1:] == key[:-1]
        tied = same if tied is None else tied & same
        if not tied.any():
            return True
    return True


def plan_commits(
    readings: ReadingColumns,
    work: Iterable[Work],
    set_aside: SetAsides | None = None,
    ahead_ms: int = ProbeThresholds().ahead_ms,
) -> Iterator[Event]:
    """Plan the events of a recording, one object each; see `plan_pieces`.

    Args:
        readings: Rows of any files, in any order.
        work: Entries of any files, in any order.
        set_aside: Filled with the readings left out.
        ahead_ms: Most that a reading's time may lie after its commit.

    Yields:
        The events, `at` rising strictly.
    """
    for piece in plan_pieces(readings, work, set_aside, ahead_ms):
        if isinstance(piece, Event):
            yield piece
        else:
            yield from map(piece.event, range(len(piece)))


def plan_pieces(
    readings: ReadingColumns,
    work: Iterable[Work],
    set_aside: SetAsides | None = None,
    ahead_ms: int = ProbeThresholds().ahead_ms,
) -> list[Piece]:
    """Plan the events of a recording: readings as columns, between them the pieces of work.

    Args:
        readings: Rows of any files, in any order.
        work: Entries of any files, in any order.
        set_aside: Filled with the readings left out.
        ahead_ms: Most that a reading's time may lie after its commit.

    Returns:
        Commits and events, `at` rising strictly.
    """
    aside = set_aside if set_aside is not None else SetAsides()
    rows, further = _kept(readings, aside, ahead_ms)
    whole = _commits(rows, ahead_ms, aside)
    # Rule 2: work goes before readings of the same instant.
    alone: list[tuple[int, int, Work | list[Reading]]] = [(_entered(entry), 0, entry) for entry in work]
    alone += [(received, 1, values) for received, values in further.items()]
    pieces: list[Piece] = []
    last: int | None = None
    done = 0
    for instant, _, what in sorted(alone, key=itemgetter(0, 1)):
        count = int(np.searchsorted(whole.at, instant))
        if count > done:
            part = _stamped(whole.part(done, count), last)
            pieces.append(part)
            last, done = int(part.at[-1]), count
        last = _next(last, instant)
        if isinstance(what, Work):
            pieces.append(Event(last, EventKind.WORK, work_payload(what)))
            continue
        brought: dict[str, Any] = {"rows": [], "ahead": []}
        if done < len(whole) and whole.at[done] == instant:
            brought, done = dict(whole.event(done).payload), done + 1
        pieces.append(Event(last, EventKind.READINGS, {**brought, FURTHER: [list(row) for row in what]}))
    if done < len(whole):
        pieces.append(_stamped(whole.part(done, len(whole)), last))
    return pieces


def _stamped(commits: Commits, last: int | None) -> Commits:
    """Return commits whose `at` rise from after `last`: each at its instant, or 1 ms after the commit before."""
    index = np.arange(len(commits))
    steps = commits.at - index
    if last is not None:
        steps[0] = max(int(steps[0]), last + 1)
    return replace(commits, at=np.maximum.accumulate(steps) + index)


def _commits(rows: _Rows, ahead_ms: int, set_aside: SetAsides) -> Commits:
    """Return all commits, each at its own instant."""
    received = rows.received
    starts = np.flatnonzero(np.concatenate((np.ones(min(1, len(received)), np.bool_), received[1:] != received[:-1])))
    at, first = received[starts], np.append(starts, len(received))
    ahead = rows.time > received + ahead_ms
    claims: dict[int, list[tuple[str, int]]] = {}
    if ahead.any():
        early = np.flatnonzero(ahead)
        set_aside.count(SetAside.AHEAD, len(early))
        owners = np.searchsorted(starts, early, side="right") - 1
        found = zip(owners.tolist(), rows.probe[early].tolist(), rows.time[early].tolist(), strict=True)
        for commit, probe, time in found:
            claims.setdefault(commit, []).append((rows.names[probe], time))
        first = np.concatenate((np.zeros(1, np.int64), np.cumsum(~ahead)))[first]
        rows.keep(~ahead)
    return Commits(
        at=at,
        first=first,
        time=rows.time,
        micro=rows.micro,
        probe=rows.probe,
        unit=rows.unit.astype(np.int32),
        names=rows.names,
        units=rows.units,
        ahead={commit: tuple(all_of) for commit, all_of in claims.items()},
    )


def work_payload(work: Work) -> dict[str, Any]:
    """Return the payload of a work event: the fields that are not empty, times in UTC ms."""
    found = payload_of({entry.name: getattr(work, entry.name) for entry in fields(work)})
    return {**found, "kind": work.kind.value}


def _entered(work: Work) -> int:
    return work.time if work.entered is None else work.entered


def _next(last: int | None, instant: int) -> int:
    return instant if last is None or instant > last else last + 1


def _kept(columns: ReadingColumns, set_aside: SetAsides, ahead_ms: int) -> tuple[_Rows, dict[int, list[Reading]]]:
    """Return the rows to feed, and the further values of their keys by when they were received (UTC ms).

    Args:
        columns: All rows.
        set_aside: Counts those that are left out: absurd times and repetitions; of one key, the first received stays.
        ahead_ms: Most that a further value's time may lie after its commit.
    """
    rows = _Rows(columns)
    absurd = rows.time < YEAR_2000_MS
    if absurd.any():
        set_aside.count(SetAside.ABSURD_TIME, int(absurd.sum()))
        rows.keep(~absurd)
    time, probe = rows.time, rows.probe
    # A stable sort, which counts if there are few probes, leaves the rows of a recording nearly always in order of time.
    by_key = np.argsort(probe.astype(np.uint16) if len(rows.names) < 1 << 16 else probe, kind="stable")
    if not _rises(probe[by_key], time[by_key]):
        by_key = np.lexsort((time, probe))
    same = (np.diff(time[by_key]) == 0) & (np.diff(probe[by_key]) == 0)
    if not same.any():
        return rows, {}
    first = np.maximum.accumulate(np.where(np.concatenate(([True], ~same)), np.arange(len(by_key)), 0))
    again = np.flatnonzero(same) + 1
    kept, other = by_key[first[again]], by_key[again]
    differs = (rows.micro[kept] != rows.micro[other]) | (rows.unit[kept] != rows.unit[other])
    set_aside.repeated += int((~differs).sum())
    set_aside.count(SetAside.CONFLICT, int(differs.sum()))
    for row in other[differs][:1000].tolist():
        set_aside.conflicts.append((rows.names[probe[row]], int(time[row])))
    further = _further(rows, np.sort(other[differs]), ahead_ms)
    keep = np.ones(len(by_key), dtype=np.bool_)
    keep[other] = False
    rows.keep(keep)
    return rows, further


def _further(rows: _Rows, places: Ints, ahead_ms: int) -> dict[int, list[Reading]]:
    """Return the values at some places, each once, by when they were received (UTC ms); without what came ahead of its time."""
    found: dict[int, list[Reading]] = {}
    known: set[Reading] = set()
    for place in places.tolist():
        one = Reading(
            int(rows.time[place]),
            rows.names[rows.probe[place]],
            int(rows.micro[place]),
            rows.units[rows.unit[place]],
        )
        if one not in known and one.time <= int(rows.received[place]) + ahead_ms:
            known.add(one)
            found.setdefault(int(rows.received[place]), []).append(one)
    return found
