"""Reads the blocks of closed hours: single rows by key, or whole ranges as columns.

Blocks of one series never overlap in time, so the block that can hold an instant is the last one that begins at or
before it. A small cache keeps decoded blocks, since callers ask for neighbours in turn; a changed block gets a new
number, so that a stale one is never served.
"""

import sqlite3
from bisect import bisect_left
from collections import OrderedDict
from collections.abc import Iterator
from pathlib import Path

from monitor.journal.blocks import Columns, unpack
from monitor.journal.storage_faults import damaged

_CACHED_ROWS = 500_000
"""About 12 MB: enough for the newest block of each of a hundred probes."""

_NEVER = -(1 << 62)


class BlockShelf:
    """The `block` table of one connection."""

    def __init__(self, connection: sqlite3.Connection, path: Path) -> None:
        self._connection = connection
        self._path = path
        self._cache: OrderedDict[int, Columns] = OrderedDict()
        self._cached_rows = 0

    def forget(self) -> None:
        """Drop the cache, after a rollback (which may give a number out again)."""
        self._cache.clear()
        self._cached_rows = 0

    def last_time(self, series: int) -> int:
        """Return the time of the newest packed row of a series, far in the past if none is packed."""
        found = self._connection.execute(
            "SELECT last FROM block WHERE series = ? ORDER BY first DESC LIMIT 1", (series,)
        ).fetchone()
        return int(found[0]) if found else _NEVER

    def find(self, series: int, time: int) -> tuple[int, int] | None:
        """Return (micro, at) of the packed row with this key, or None."""
        found = self._connection.execute(
            "SELECT id, last FROM block WHERE series = ? AND first <= ? ORDER BY first DESC LIMIT 1", (series, time)
        ).fetchone()
        if found is None or found[1] < time:
            return None
        columns = self.columns(found[0])
        place = bisect_left(columns.time, time)
        if place == len(columns.time) or columns.time[place] != time:
            return None
        return int(columns.micro[place]), time + int(columns.lag[place])

    def columns(self, block: int) -> Columns:
        """Return a block's columns.

        Raises:
            UnavailableError: The block is damaged.
        """
        cached = self._cache.get(block)
        if cached is not None:
            self._cache.move_to_end(block)
            return cached
        data = self._connection.execute("SELECT data FROM block WHERE id = ?", (block,)).fetchone()[0]
        try:
            columns = unpack(data)
        except ValueError as fault:
            raise damaged(self._path, str(fault)) from fault
        self._cache[block] = columns
        self._cached_rows += len(columns.time)
        while self._cached_rows > _CACHED_ROWS and len(self._cache) > 1:
            self._cached_rows -= len(self._cache.popitem(last=False)[1].time)
        return columns

    def touching(self, series: int, start: int, end: int) -> list[tuple[int, int, int, int, int]]:
        """Find the blocks of a series that overlap a range of own times.

        Args:
            series: Number of the series.
            start: Earliest time, UTC ms, inclusive.
            end: Latest time, UTC ms, inclusive.

        Returns:
            (id, first, last, at_min, at_max) of each block, instants in UTC ms, ordered by `first`.
        """
        return self._connection.execute(
            "SELECT id, first, last, at_min, at_max FROM block WHERE series = :series AND last >= :start AND first "
            "BETWEEN coalesce((SELECT max(first) FROM block WHERE series = :series AND first <= :start), :start) "
            "AND :end ORDER BY first",
            {"series": series, "start": start, "end": end},
        ).fetchall()

    def slices(self, series: int, start: int, end: int) -> Iterator[Columns]:
        """Read the packed rows of a range of own times.

        Args:
            series: Number of the series.
            start: Earliest time, UTC ms, inclusive.
            end: Latest time, UTC ms, inclusive.

        Yields:
            The rows of one block after another, in order of time; never an empty slice.

        Raises:
            UnavailableError: A block is damaged.
        """
        for block, first, last, _, _ in self.touching(series, start, end):
            columns = self.columns(block)
            if first >= start and last <= end:
                yield columns
                continue
            low, high = columns.time.searchsorted([start, end + 1])
            if low < high:
                yield Columns(*(column[low:high] for column in columns))

    def arrived(self, series: int, span: tuple[int, int], ats: tuple[int, int]) -> Iterator[Columns]:
        """Read the packed rows of some events.

        Args:
            series: Number of the series.
            span: Earliest and latest own time of rows, UTC ms, inclusive.
            ats: Earliest and latest `at` of events, UTC ms, inclusive.

        Yields:
            The rows of one block after another, in order of own time; never an empty slice.

        Raises:
            UnavailableError: A block is damaged.
        """
        for block, _, _, at_min, at_max in self.touching(series, *span):
            if at_max < ats[0] or at_min > ats[1]:
                continue
            columns = self.columns(block)
            at = columns.time + columns.lag
            chosen = (at >= ats[0]) & (at <= ats[1]) & (columns.time >= span[0]) & (columns.time <= span[1])
            if chosen.any():
                yield Columns(*(column[chosen] for column in columns))
