"""The record as columns, for replay and tuning: the events of `Timeline.events`, without an object for each reading.

Rules:
1. Consecutive `readings` events are one `Commits`. Every other event stands alone, with its rows if it brought any, and so
   does an event with a reading taken by hand.
2. Rows are sorted by (`at`, time, probe), some hundred thousand at a time: blocks are read in order of their first
   `at`, and rows beyond the first `at` of the next block wait for it. So each block is unpacked once, and few unsorted rows
   are held.
"""

from __future__ import annotations

import json
from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from monitor.engine.stretch import BARE, Commits, Piece
from monitor.journal.blocks import Columns
from monitor.journal.store import Store
from monitor.journal.timeline import FOREVER
from monitor.model.events import FURTHER, Event, EventKind
from monitor.model.readings import Reading

if TYPE_CHECKING:
    from numpy.typing import NDArray

WINDOW_ROWS = 300_000
"""Rows sorted at once, roughly (our choice): few enough for a processor's cache."""


class _Rows(NamedTuple):
    """Rows in any order: `at` of the event that brought each, its own time, its value, and the position of its series."""

    at: NDArray[np.int64]
    time: NDArray[np.int64]
    micro: NDArray[np.int64]
    series: NDArray[np.int32]

    def chosen(self, rows: NDArray[Any]) -> _Rows:
        return _Rows(*(column[rows] for column in self))


class _Series(NamedTuple):
    """The series that are read: their numbers, and for each the index of its probe in `names` and of its unit in `units`."""

    numbers: list[int]
    names: tuple[str, ...]
    units: tuple[str, ...]
    probe: NDArray[np.int32]
    unit: NDArray[np.int32]


def read_pieces(
    store: Store, after: int = -FOREVER, until: int = FOREVER, probes: Collection[str] | None = None
) -> list[Piece]:
    """Return the events with after < at <= until as a replay takes them: readings as columns, the rest as events.

    Args:
        store: The journal.
        after: Exclusive lower bound of `at`, UTC ms.
        until: Inclusive upper bound of `at`, UTC ms.
        probes: Probes to keep; events left empty are dropped. None: all.

    Returns:
        Commits and events in order of `at`.

    Raises:
        UnavailableError: A block is damaged, or the journal cannot be read.
    """
    with store.view():
        return _read_pieces(store, after, until, probes)


def _read_pieces(store: Store, after: int, until: int, probes: Collection[str] | None) -> list[Piece]:
    series = _series(store, probes)
    whole = _commits(series, list(_windows(store, series, after, until)))
    told: list[tuple[int, str, Any]] = []
    claims: dict[int, tuple[tuple[str, int], ...]] = {}
    alone: list[int] = []
    for at, kind, text in store.timeline.explicit(after, until):
        payload = json.loads(text)
        if probes is not None:
            payload = _of_probes(payload, probes)
        if kind != EventKind.READINGS or not payload.keys() <= BARE:
            told.append((at, kind, payload))
            continue
        ahead = tuple((probe, time) for probe, time in payload.get("ahead", ()))
        if ahead:
            claims[at] = ahead
        if ahead or probes is None:
            alone.append(at)
    return _pieces(_with_claims(whole, alone, claims), told)


def _of_probes(payload: dict[str, Any], probes: Collection[str]) -> dict[str, Any]:
    """Return a payload with only those claims and further values that are of some probes."""
    kept = dict(payload)
    if "ahead" in kept:
        kept["ahead"] = [claim for claim in kept["ahead"] if claim[0] in probes]
    if FURTHER in kept:
        further = [row for row in kept.pop(FURTHER) if row[1] in probes]
        kept |= {FURTHER: further} if further else {}
    return kept


def _series(store: Store, probes: Collection[str] | None) -> _Series:
    known = {
        number: meaning
        for number, meaning in store.book.meaning.items()
        if probes is None or meaning[0] in probes
    }  # fmt: skip
    names = tuple(sorted({probe for probe, _ in known.values()}))
    units = tuple(dict.fromkeys(unit for _, unit in known.values()))
    return _Series(
        list(known),
        names,
        units,
        np.array([names.index(probe) for probe, _ in known.values()], dtype=np.int32),
        np.array([units.index(unit) for _, unit in known.values()], dtype=np.int32),
    )


def _windows(store: Store, series: _Series, after: int, until: int) -> Iterator[_Rows]:
    """Yield the rows of successive ranges of `at`, each sorted by (at, time, probe)."""
    place = {number: index for index, number in enumerate(series.numbers)}
    blocks = [
        (block, place[number], rows, at_min)
        for block, number, rows, at_min in store.connection.execute(
            "SELECT id, series, rows, at_min FROM block WHERE at_max > ? AND at_min <= ? ORDER BY at_min, id",
            (after, until),
        ).fetchall()
        if number in place
    ]
    waiting = [_within(_fresh(store, number), index, after, until) for number, index in place.items()]
    held = 0
    for block, index, rows, at_min in blocks:
        if held >= WINDOW_ROWS:
            ready, rest = _cut(waiting, at_min)
            yield _ordered(ready, series)
            waiting, held = [rest], 0
        waiting.append(_within(store.blocks.columns(block), index, after, until))
        held += rows
    yield _ordered(_together(waiting), series)


def _fresh(store: Store, number: int) -> Columns:
    """Return the rows of a series that no block holds yet: those of the last hours."""
    fresh = np.fromiter(
        store.connection.execute("SELECT time, micro, lag FROM reading WHERE series = ?", (number,)),
        dtype=[("time", np.int64), ("micro", np.int64), ("lag", np.int64)],
    )
    return Columns(*(np.ascontiguousarray(fresh[name]) for name in Columns._fields))


def _within(columns: Columns, index: int, after: int, until: int) -> _Rows:
    at = columns.time + columns.lag
    rows = _Rows(at, columns.time, columns.micro, np.full(len(at), index, dtype=np.int32))
    chosen = (at > after) & (at <= until)
    return rows if chosen.all() else rows.chosen(chosen)


def _together(parts: Sequence[_Rows]) -> _Rows:
    if not parts:
        nothing = np.zeros(0, np.int64)
        return _Rows(nothing, nothing, nothing, np.zeros(0, np.int32))
    return _Rows(*(np.concatenate(columns) for columns in zip(*parts, strict=True)))


def _cut(parts: Sequence[_Rows], at: int) -> tuple[_Rows, _Rows]:
    """Split rows into those with `at` before an instant and the others."""
    rows = _together(parts)
    before = rows.at < at
    return rows.chosen(before), rows.chosen(~before)


def _ordered(rows: _Rows, series: _Series) -> _Rows:
    return rows.chosen(np.lexsort((series.probe[rows.series], rows.time, rows.at)))


def _commits(series: _Series, windows: list[_Rows]) -> Commits:
    """Return all rows as commits; empties `windows` on the way, so that memory is held once."""
    begins = [np.flatnonzero(np.diff(window.at, prepend=window.at[:1] - 1)) for window in windows]
    at = np.concatenate([window.at[begin] for window, begin in zip(windows, begins, strict=True)])
    counts = [np.diff(begin, append=len(window.at)) for window, begin in zip(windows, begins, strict=True)]
    first = np.concatenate((np.zeros(1, np.int64), np.cumsum(np.concatenate(counts))))
    time, micro, place = (np.concatenate([window[i] for window in windows]) for i in (1, 2, 3))
    windows.clear()
    return Commits(at, first, time, micro, series.probe[place], series.unit[place], series.names, series.units)


def _with_claims(commits: Commits, alone: Sequence[int], claims: dict[int, tuple[tuple[str, int], ...]]) -> Commits:
    """Return the commits together with those events that have a row of their own in the journal, maybe without readings."""
    if not alone:
        return commits
    at = np.union1d(commits.at, np.array(alone, dtype=np.int64))
    first = np.append(commits.first[commits.at.searchsorted(at)], commits.first[-1])
    return replace(
        commits, at=at, first=first, ahead={int(at.searchsorted(one)): ahead for one, ahead in claims.items()}
    )


def _pieces(commits: Commits, told: Iterable[tuple[int, str, Any]]) -> list[Piece]:
    """Return commits and the events between them; an event takes its rows out of the commits if they hold its instant."""
    pieces: list[Piece] = []
    done = 0
    for at, kind, payload in told:
        place = int(commits.at.searchsorted(at))
        if place > done:
            pieces.append(_named(commits.part(done, place)))
        done = place
        if place < len(commits) and commits.at[place] == at:
            rows = commits.event(place).payload["rows"]
            payload = {**payload, "rows": [Reading(*row) for row in rows]}  # noqa: PLW2901
            done = place + 1
        elif kind == EventKind.READINGS or FURTHER in payload:
            payload = {**payload, "rows": []}  # noqa: PLW2901 - of series that are not read
        pieces.append(Event(at, EventKind(kind), payload))
    if done < len(commits):
        pieces.append(_named(commits.part(done, len(commits))))
    return pieces


def _named(commits: Commits) -> Commits:
    """Return the commits with only those probes named that have a reading in them."""
    present = np.bincount(commits.probe, minlength=len(commits.names)) > 0
    if present.all():
        return commits
    place = (np.cumsum(present) - 1).astype(np.int32)
    names = tuple(name for name, here in zip(commits.names, present.tolist(), strict=True) if here)
    return replace(commits, probe=place[commits.probe], names=names)
