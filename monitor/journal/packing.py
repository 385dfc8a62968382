"""Moves the fresh rows of closed hours into blocks; readers see no difference.

Rules:
1. Blocks of one series never overlap. A row goes into the block whose stretch of time it falls into (the last block that
   begins at or before it, else the first), which is then written anew; a full last block is left alone and the next
   begun.
2. A block that grew beyond half as much again as is full is cut into even parts, so that one late row does not leave a
   block of one.
3. One series is one transaction: the writer may be interrupted between two, and no row is ever in both places.
"""

from __future__ import annotations

import sqlite3
from bisect import bisect_right
from collections.abc import Iterator
from itertools import pairwise
from typing import TYPE_CHECKING, Any

from monitor.journal.blocks import BLOCK_ROWS, Columns, pack

if TYPE_CHECKING:
    from monitor.journal.store import Store

_MOST_ROWS = BLOCK_ROWS * 3 // 2
_CHUNK_ROWS = 200_000
_SPARE_PAGES = 4_096


def pack_before(store: Store, hour: int, limit_rows: int | None = None) -> int:
    """Move rows with time < `hour` into blocks, one transaction a series.

    Args:
        store: On the writer's connection, outside a turn.
        hour: The first instant that stays fresh, UTC ms.
        limit_rows: Stop after the series with which this many were moved; None: all.

    Returns:
        Number of rows moved.
    """
    moved = 0
    for series in list(store.book.meaning):
        while limit_rows is None or moved < limit_rows:
            store.connection.execute("BEGIN IMMEDIATE")
            count = _pack_series(store, series, hour)
            store.connection.execute("COMMIT")
            moved += count
            if count < _CHUNK_ROWS:
                break
    _give_back(store.connection)
    return moved


def _give_back(connection: sqlite3.Connection) -> None:
    """Give pages back to the disk beyond what the next fresh hours will take up again."""
    spare = connection.execute("PRAGMA freelist_count").fetchone()[0] - _SPARE_PAGES
    if spare > 0:
        connection.execute(f"PRAGMA incremental_vacuum({spare})").fetchall()


def _pack_series(store: Store, series: int, hour: int) -> int:
    import numpy as np  # noqa: PLC0415 -- a daemon that never packed starts without it

    connection = store.connection
    fresh = np.fromiter(
        connection.execute(
            "SELECT time, micro, lag FROM reading WHERE series = ? AND time < ? ORDER BY time LIMIT ?",
            (series, hour, _CHUNK_ROWS),
        ),
        dtype=[("time", np.int64), ("micro", np.int64), ("lag", np.int64)],
    )
    if not len(fresh):
        return 0
    rows = Columns(*(np.ascontiguousarray(fresh[name]) for name in Columns._fields))
    for block, part in _by_block(connection, series, rows):
        _put(store, series, block, part)
    connection.execute(
        "DELETE FROM reading WHERE series = ? AND time BETWEEN ? AND ?",
        (series, int(rows.time[0]), int(rows.time[-1])),
    )
    return len(fresh)


def _by_block(connection: sqlite3.Connection, series: int, rows: Columns) -> Iterator[tuple[int | None, Columns]]:
    """Yield (block, or None for a new one; its rows). Blocks that end before the first row's own block are not read."""
    known = connection.execute(
        "SELECT id, first, last, rows FROM block WHERE series = :series AND first >= coalesce("
        "(SELECT max(first) FROM block WHERE series = :series AND first <= :time), :time) ORDER BY first",
        {"series": series, "time": int(rows.time[0])},
    ).fetchall()
    if not known:
        yield None, rows
        return
    firsts = [block[1] for block in known]
    times = rows.time.tolist()
    place = 0
    while place < len(times):
        index = max(bisect_right(firsts, times[place]) - 1, 0)
        end = bisect_right(times, firsts[index + 1] - 1) if index + 1 < len(firsts) else len(times)
        block, _, last, count = known[index]
        if index == len(known) - 1 and count >= BLOCK_ROWS:
            beyond = max(bisect_right(times, last), place)
            if place < beyond:
                yield block, Columns(*(column[place:beyond] for column in rows))
            if beyond < end:
                yield None, Columns(*(column[beyond:end] for column in rows))
        else:
            yield block, Columns(*(column[place:end] for column in rows))
        place = end


def _put(store: Store, series: int, block: int | None, part: Columns) -> None:
    import numpy as np  # noqa: PLC0415

    if block is not None:
        kept = store.blocks.columns(block)
        part = Columns(*(np.concatenate(pair) for pair in zip(kept, part, strict=True)))
        order = np.argsort(part.time, kind="stable")
        part = Columns(*(column[order] for column in part))
    replace_block(store.connection, series, block, part)


def replace_block(connection: sqlite3.Connection, series: int, block: int | None, rows: Columns) -> None:
    """Write rows in place of a block, cut into several blocks if there are too many.

    Args:
        connection: The writer's, inside a transaction.
        series: Number of the series.
        block: Id of the block to replace; None: the rows have no block yet.
        rows: The rows, ordered by time; none: the block is only deleted.
    """
    if block is not None:
        connection.execute("DELETE FROM block WHERE id = ?", (block,))
    total = len(rows.time)
    parts = 1 if total <= _MOST_ROWS else -(-total // BLOCK_ROWS)
    edges = [*range(0, total, BLOCK_ROWS), total] if block is None else [total * i // parts for i in range(parts + 1)]
    for low, high in pairwise(edges):
        if low < high:
            _insert(connection, series, Columns(*(column[low:high] for column in rows)))


def _insert(connection: sqlite3.Connection, series: int, rows: Columns) -> None:
    at: Any = rows.time + rows.lag
    connection.execute(
        "INSERT INTO block (series, first, last, rows, at_min, at_max, data) VALUES (?, ?, ?, ?, ?, ?, ?)",
        (series, int(rows.time[0]), int(rows.time[-1]), len(rows.time), int(at.min()), int(at.max()), pack(rows)),
    )
