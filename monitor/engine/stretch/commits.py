"""Readings of many commits as columns, as the store's blocks and column readers of recordings give them.

Rules: commits are ordered by `at`, which rises strictly; the rows of a commit are ordered by (time, probe), each key
(probe, time) once in the whole record. Every other event (work, settings, answers, …) stays an `Event` between two
`Commits`.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from monitor.model.events import Event, EventKind

Ints = NDArray[np.int64]
Codes = NDArray[np.int32]


@dataclass(frozen=True, slots=True, eq=False)
class Commits:
    """Consecutive `readings` events as columns.

    Attributes:
        at: Instant of each commit, UTC ms, strictly rising.
        first: Index of each commit's first row, and behind the last the number of rows.
        time: Own time of each row, UTC ms.
        micro: Its value as sent, millionths of its unit.
        probe, unit: Its series and unit, as indices into `names` (sorted) and `units`.
        ahead: By commit, the (probe, time) claims that were set aside as from the future.
        between: By commit, the events that come between it and the commit before; behind the last, by their number.
    """

    at: Ints
    first: Ints
    time: Ints
    micro: Ints
    probe: Codes
    unit: Codes
    names: tuple[str, ...]
    units: tuple[str, ...]
    ahead: Mapping[int, tuple[tuple[str, int], ...]] = field(default_factory=dict)
    between: Mapping[int, tuple[Event, ...]] = field(default_factory=dict)

    def __len__(self) -> int:
        return len(self.at)

    def event(self, commit: int) -> Event:
        """Return one commit as the event that it is."""
        start, end = int(self.first[commit]), int(self.first[commit + 1])
        rows = [
            [time, self.names[probe], micro, self.units[unit]]
            for time, probe, micro, unit in zip(
                self.time[start:end].tolist(),
                self.probe[start:end].tolist(),
                self.micro[start:end].tolist(),
                self.unit[start:end].tolist(),
                strict=True,
            )
        ]
        claims = [list(claim) for claim in self.ahead.get(commit, ())]
        return Event(int(self.at[commit]), EventKind.READINGS, {"rows": rows, "ahead": claims})

    def part(self, start: int, end: int) -> "Commits":
        """Return the commits `start <= commit < end`, and the events before each."""
        first, last = int(self.first[start]), int(self.first[end])
        return Commits(
            self.at[start:end],
            self.first[start : end + 1] - first,
            self.time[first:last],
            self.micro[first:last],
            self.probe[first:last],
            self.unit[first:last],
            self.names,
            self.units,
            {commit - start: claims for commit, claims in self.ahead.items() if start <= commit < end},
            {commit - start: events for commit, events in self.between.items() if start <= commit < end},
        )

    def until(self, at: int) -> "Commits":
        """Return the commits, and the events between them, at or before an instant (UTC ms)."""
        count = int(self.at.searchsorted(at, side="right"))
        between = {
            commit: known
            for commit, events in self.between.items()
            if (known := tuple(one for one in events if one.at <= at))
        }
        return replace(self.part(0, count), between=between)

    def only(self, probes: Sequence[str]) -> "Commits":
        """Return the rows and claims of some probes, without the commits that then hold nothing."""
        wanted = np.array([name in set(probes) for name in self.names], dtype=np.bool_)
        rows = np.flatnonzero(wanted[self.probe]) if len(self.names) else np.zeros(0, np.int64)
        claims = {
            commit: kept
            for commit, all_of in self.ahead.items()
            if (kept := tuple(claim for claim in all_of if claim[0] in probes))
        }
        owner = np.repeat(np.arange(len(self.at)), np.diff(self.first))[rows]
        commits = np.unique(np.concatenate((owner, np.array(sorted(claims), dtype=np.int64))))
        first = np.concatenate((owner.searchsorted(commits), [len(rows)])).astype(np.int64)
        index_of = {int(commit): int(commits.searchsorted(commit)) for commit in claims}
        return Commits(
            self.at[commits],
            first,
            self.time[rows],
            self.micro[rows],
            self.probe[rows],
            self.unit[rows],
            self.names,
            self.units,
            {index_of[commit]: kept for commit, kept in claims.items()},
        )


BARE = frozenset({"rows", "ahead"})
"""The keys of a `readings` event that columns can hold; an event of readings by hand has more, such as who read them."""

Piece = Event | Commits
"""A recording is a list of these, in order of `at`."""


def joined(pieces: Sequence[Piece], small: Callable[[Event], bool]) -> list[Piece]:
    """Join commits with nothing but small events between them.

    Args:
        pieces: In order of `at`.
        small: Tells which events leave the preparation of a run as it is.
    """
    found: list[Piece] = []
    waiting: list[Piece] = []
    for piece in pieces:
        # Asked of every event, waited for or not: the answer may rest on what came before.
        if isinstance(piece, Commits) or (small(piece) and waiting):
            waiting.append(piece)
            continue
        found += _one(waiting)
        waiting = []
        found.append(piece)
    return found + _one(waiting)


def _one(pieces: Sequence[Piece]) -> list[Piece]:
    """Return commits and the events between them as one piece."""
    parts = [piece for piece in pieces if isinstance(piece, Commits)]
    if len(pieces) < 2 or not parts:
        return list(pieces)
    names = tuple(sorted({name for one in parts for name in one.names}))
    units = tuple(dict.fromkeys(unit for one in parts for unit in one.units))
    ahead: dict[int, tuple[tuple[str, int], ...]] = {}
    between: dict[int, tuple[Event, ...]] = {}
    commits, rows, first = 0, 0, [np.zeros(1, np.int64)]
    for piece in pieces:
        if isinstance(piece, Event):
            between[commits] = (*between.get(commits, ()), piece)
            continue
        ahead |= {commits + commit: claims for commit, claims in piece.ahead.items()}
        for commit, events in piece.between.items():
            between[commits + commit] = (*between.get(commits + commit, ()), *events)
        first.append(piece.first[1:] + rows)
        commits, rows = commits + len(piece), rows + int(piece.first[-1])
    return [
        Commits(
            np.concatenate([one.at for one in parts]),
            np.concatenate(first),
            np.concatenate([one.time for one in parts]),
            np.concatenate([one.micro for one in parts]),
            np.concatenate([_recoded(one.names, one.probe, names) for one in parts]),
            np.concatenate([_recoded(one.units, one.unit, units) for one in parts]),
            names,
            units,
            ahead,
            between,
        )
    ]


def _recoded(mine: tuple[str, ...], codes: Codes, all_of: tuple[str, ...]) -> Codes:
    if mine == all_of:
        return codes
    table: Codes = np.array([all_of.index(name) for name in mine], dtype=np.int32)
    return table[codes] if len(mine) else codes


def commits_from_events(events: Iterable[Event]) -> list[Piece]:
    """Gather consecutive `readings` events into columns; other events, and readings by hand, stay as they are."""
    pieces: list[Piece] = []
    waiting: list[Event] = []
    for event in events:
        if event.kind is EventKind.READINGS and event.payload.keys() <= BARE:
            waiting.append(event)
            continue
        if waiting:
            pieces.append(_gathered(waiting))
            waiting = []
        pieces.append(event)
    if waiting:
        pieces.append(_gathered(waiting))
    return pieces


def _gathered(events: list[Event]) -> Commits:
    rows = [row for event in events for row in event.payload.get("rows", ())]
    counts = [len(event.payload.get("rows", ())) for event in events]
    names = tuple(sorted({row[1] for row in rows}))
    units = tuple(dict.fromkeys(row[3] for row in rows))
    codes = {name: index for index, name in enumerate(names)}
    unit_codes = {unit: index for index, unit in enumerate(units)}
    ahead = {
        index: tuple((probe, time) for probe, time in claims)
        for index, event in enumerate(events)
        if (claims := event.payload.get("ahead", ()))
    }
    at = np.array([event.at for event in events], dtype=np.int64)
    if any(a >= b for a, b in pairwise(at.tolist())):
        raise ValueError("commits must be in order, each later than the one before")
    return Commits(
        at,
        np.concatenate(([0], np.cumsum(np.array(counts, dtype=np.int64)))).astype(np.int64),
        np.array([row[0] for row in rows], dtype=np.int64),
        np.array([row[2] for row in rows], dtype=np.int64),
        np.array([codes[row[1]] for row in rows], dtype=np.int32),
        np.array([unit_codes[row[3]] for row in rows], dtype=np.int32),
        names,
        units,
        ahead,
    )
