"""Drops whole days that nobody needs any more; by default nothing is dropped.

Rules:
1. A day (UTC day of `at`) goes with everything that arrived on it, or stays whole. The open day never goes.
2. A day stays if it overlaps a protected span (an open batch, or a batch closed within five years: the caller knows), or
   if an entry that arrived on it names a time within such a span.
3. The number of people's entries (work, readings taken by hand) dropped with a day is kept, so that later entries keep
   their numbers.
4. The day's link in the hash chain stays, marked as pruned. The snapshot with which the next kept day opens stays too.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from monitor.journal.blocks import Columns
from monitor.journal.event_bytes import day_of
from monitor.journal.further_values import drop_further, further_times
from monitor.journal.ledger import Ledger, flag_weight
from monitor.journal.packing import replace_block
from monitor.model.readings import is_hand
from monitor.model.times import DAY_MS

if TYPE_CHECKING:
    from monitor.journal.store import Store

_INBOX_KEPT = 1_000
_ENTRIES = "dropped entries"
"""Prefix of the cursor that counts the people's entries of a dropped day; days without entries have none."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """The days and spans that must stay.

    Attributes:
        now: The writer's clock, UTC ms.
        days: Days before today that are kept in any case.
        protected: Spans (start, end) in UTC ms, ends included, of which everything is kept.
    """

    now: int
    days: int
    protected: Sequence[tuple[int, int]] = ()

    def protects(self, start: int, end: int) -> bool:
        """Return whether a span overlaps a protected one."""
        return any(start <= last and end >= first for first, last in self.protected)


@dataclass(slots=True)
class Pruned:
    """Dropped UTC days (since 1970-01-01), old days that stayed because they are protected, and how many readings went."""

    days: list[int] = field(default_factory=list)
    protected: list[int] = field(default_factory=list)
    rows: int = 0


def prune(store: Store, kept: Kept) -> Pruned:
    """Drop the days that may go, in one transaction, on the writer's connection outside a turn."""
    connection, pruned = store.connection, Pruned()
    connection.execute("BEGIN IMMEDIATE")
    ledger = Ledger(connection)
    old = connection.execute(
        "SELECT day FROM chain WHERE pruned = 0 AND day < ? ORDER BY day", (day_of(kept.now) - kept.days,)
    ).fetchall()
    for (day,) in old:
        (pruned.protected if _is_protected(connection, day, kept) else pruned.days).append(day)
    for day in pruned.days:
        _note_entries(store, day)
    pruned.rows, lighter = _drop_rows(store, pruned.days)
    if lighter:
        ledger.flagged(-lighter)
        ledger.save()
    _drop_effects(connection, pruned.days)
    for day in pruned.days:
        _drop_day(connection, day)
    drop_further(connection, pruned.days)
    connection.execute("DELETE FROM quarantine WHERE received < ?", (kept.now - kept.days * DAY_MS,))
    connection.execute(
        "DELETE FROM inbox WHERE state != 'waiting' AND id <= (SELECT max(id) FROM inbox) - ?", (_INBOX_KEPT,)
    )
    connection.execute("COMMIT")
    connection.execute("PRAGMA incremental_vacuum").fetchall()
    return pruned


def _is_protected(connection: sqlite3.Connection, day: int, kept: Kept) -> bool:
    ends = (day * DAY_MS, (day + 1) * DAY_MS - 1)
    if kept.protects(*ends):
        return True
    spans = connection.execute("SELECT time_min, time_max FROM span WHERE first_at BETWEEN ? AND ?", ends)
    if any(kept.protects(*span) for span in spans):
        return True
    if any(kept.protects(time, time) for time in further_times(connection, *ends)):
        return True
    told = connection.execute(
        "SELECT payload FROM event WHERE at BETWEEN ? AND ? AND kind IN ('work', 'correction', 'imported')", ends
    )
    return any(kept.protects(time, time) for (text,) in told for time in _times_in(json.loads(text)))


def _times_in(payload: Any) -> Iterable[int]:
    """Yield every `time` that a payload of work names, however deep."""
    if isinstance(payload, dict):
        if isinstance(payload.get("time"), int):
            yield payload["time"]
        for value in payload.values():
            yield from _times_in(value)
    elif isinstance(payload, list):
        for value in payload:
            yield from _times_in(value)


def _drop_rows(store: Store, days: list[int]) -> tuple[int, int]:
    """Drop the readings; return their number, and the contribution of their flags to the flags' sum."""
    if not days:
        return 0, 0
    connection, dropped, lighter = store.connection, 0, 0
    marks = ",".join("?" * len(days))
    low, high = connection.execute(
        f"SELECT min(time_min), max(time_max) FROM span WHERE first_at / {DAY_MS} IN ({marks})",  # noqa: S608 - a figure and question marks
        days,
    ).fetchone()
    if low is None:
        return 0, 0
    for series in store.book.meaning:
        times = _drop_packed(store, series, (low, high), days)
        times += [
            time
            for (time,) in connection.execute(
                f"DELETE FROM reading WHERE series = ? AND time BETWEEN ? AND ? AND (time + lag) / {DAY_MS} "  # noqa: S608 - a figure and question marks
                f"IN ({marks}) RETURNING time",
                (series, low, high, *days),
            ).fetchall()
        ]
        dropped += len(times)
        lighter += _drop_flags(store, series, set(times))
    return dropped, lighter


def _drop_packed(store: Store, series: int, span: tuple[int, int], days: list[int]) -> list[int]:
    import numpy as np  # noqa: PLC0415 -- a daemon that never packed starts without it

    times: list[int] = []
    for block, _, _, at_min, at_max in store.blocks.touching(series, *span):
        if day_of(at_max) < days[0] or day_of(at_min) > days[-1]:
            continue
        columns = store.blocks.columns(block)
        going = np.isin((columns.time + columns.lag) // DAY_MS, days)
        if going.any():
            times += columns.time[going].tolist()
            replace_block(store.connection, series, block, Columns(*(column[~going] for column in columns)))
    return times


def _drop_flags(store: Store, series: int, times: set[int]) -> int:
    probe, _ = store.book.meaning[series]
    lead = store.book.lead(probe)
    if not times or lead is None:
        return 0
    flagged = store.connection.execute(
        "SELECT time, flag, reason, at FROM flag WHERE series = ? AND time BETWEEN ? AND ?",
        (lead, min(times), max(times)),
    ).fetchall()
    going = [row for row in flagged if row[0] in times]
    store.connection.executemany("DELETE FROM flag WHERE series = ? AND time = ?", [(lead, row[0]) for row in going])
    return sum(flag_weight(lead, *row) for row in going)


def dropped_entries(store: Store) -> dict[int, int]:
    """Return the number of people's entries dropped with each day, by the instant at which the day began (UTC ms)."""
    with store.view():
        rows = store.connection.execute("SELECT name, at FROM cursor WHERE name GLOB ?", (f"{_ENTRIES} *",)).fetchall()
    return {int(name.removeprefix(f"{_ENTRIES} ")) * DAY_MS: count for name, count in rows}


def _note_entries(store: Store, day: int) -> None:
    ends = (day * DAY_MS, (day + 1) * DAY_MS - 1)
    told = store.connection.execute(
        "SELECT kind, payload FROM event WHERE at BETWEEN ? AND ? AND kind IN ('work', 'imported')", ends
    )
    count = sum(1 if kind == "work" else len(json.loads(text).get("work", ())) for kind, text in told)
    for series in (name for name in store.book.of_probe if is_hand(name)):
        count += sum(int(((one.at >= ends[0]) & (one.at <= ends[1])).sum()) for one in store.columns(series))
    if count:
        store.connection.execute("INSERT OR REPLACE INTO cursor VALUES (?, ?)", (f"{_ENTRIES} {day}", count))


def _drop_effects(connection: sqlite3.Connection, days: list[int]) -> None:
    """Drop the effects from the opening of each day to the opening of the next.

    A day opens where its snapshot stands, not at midnight: the first event of the morning often serves a deadline due late in
    the evening, and an engine that goes on from that snapshot decides it again.
    """
    for day in days:
        start = connection.execute("SELECT min(at) FROM snapshot WHERE opens_day = ?", (day,)).fetchone()[0]
        end = connection.execute(
            "SELECT min(at) FROM snapshot WHERE opens_day = (SELECT min(opens_day) FROM snapshot WHERE opens_day > ?)",
            (day,),
        ).fetchone()[0]
        ends = (day * DAY_MS - 1 if start is None else start, (day + 1) * DAY_MS - 1 if end is None else end)
        connection.execute("DELETE FROM effect WHERE at > ? AND at <= ?", ends)
        connection.execute("DELETE FROM outbox WHERE at > ? AND at <= ? AND state IN ('delivered', 'failed')", ends)


def _drop_day(connection: sqlite3.Connection, day: int) -> None:
    ends = (day * DAY_MS, (day + 1) * DAY_MS - 1)
    connection.execute("DELETE FROM event WHERE at BETWEEN ? AND ?", ends)
    connection.execute("DELETE FROM span WHERE first_at BETWEEN ? AND ?", ends)
    connection.execute(
        "DELETE FROM snapshot WHERE opens_day = ? AND at < (SELECT min(at) FROM (SELECT at FROM snapshot ORDER BY at "
        "DESC LIMIT 3))",
        (day,),
    )
    connection.execute("UPDATE chain SET pruned = 1 WHERE day = ?", (day,))
