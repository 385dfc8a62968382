"""Puts readings into the journal and reports which of them are new.

Rules:
1. The key is (probe, time), whatever the unit. The same value again is dropped and counted; another value is a conflict
   and the first stays.
2. The common case costs one `INSERT OR IGNORE` for many rows: rows are compared one by one only if fewer went in than were
   given.
3. A row that may already lie in a block, or whose probe has more than one unit, is looked up before it is put in.
"""

import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import chain
from operator import itemgetter
from typing import NamedTuple

from monitor.journal.packed import BlockShelf
from monitor.journal.series_book import SeriesBook
from monitor.model.errors import InvariantError
from monitor.model.readings import Reading

BY_TIME_AND_PROBE = itemgetter(0, 1)
"""Sort key of readings: the order in which a batch is fed."""

_ALWAYS_LOOK = 1 << 62

_INSERT = "INSERT OR IGNORE INTO reading VALUES "
_ROW = "(?, ?, ?, ?)"
_AT_ONCE = 64
"""Rows in one statement (our choice): at each statement the thread lets others run and waits for its turn again."""


class Conflict(NamedTuple):
    """A reading whose key already holds another value."""

    reading: Reading
    kept_micro: int
    kept_unit: str


@dataclass(slots=True)
class Shelved:
    """Result of `Shelf.put`; `new` is ordered by (time, probe)."""

    new: list[Reading]
    duplicates: int = 0
    conflicts: list[Conflict] = field(default_factory=list)


class Shelf:
    """The writer's way into the readings table; one per writer."""

    def __init__(self, connection: sqlite3.Connection, book: SeriesBook, blocks: BlockShelf) -> None:
        self._connection = connection
        self._book = book
        self._blocks = blocks
        self._look_until: dict[int, int] = {}

    def forget(self) -> None:
        """Drop the cached knowledge of the table, after a rollback or after packing."""
        self._look_until.clear()

    def put(self, rows: Sequence[Reading], at: int) -> Shelved:
        """Put in the rows that are new, as readings of the event `at`; of two rows with one key the first given stays.

        Raises:
            InvariantError: A row vanished, which only a value of a wrong type can cause.
        """
        ordered = sorted(rows, key=BY_TIME_AND_PROBE)
        plain: list[tuple[int, int, int, int]] = []
        plain_rows: list[Reading] = []
        careful: list[Reading] = []
        look_until, numbers = self._look_until, self._book.number
        for row in ordered:
            time, probe, micro, unit = row
            number = numbers.get((probe, unit))
            if number is None or number not in look_until:
                number = self._meet(probe, unit)
            if time <= look_until[number]:
                careful.append(row)
            else:
                plain.append((number, time, micro, at - time))
                plain_rows.append(row)
        shelved = self._put_plain(plain, plain_rows, at)
        for row in careful:
            self._put_careful(row, at, shelved)
        if careful:
            shelved.new.sort(key=BY_TIME_AND_PROBE)
        return shelved

    def _meet(self, probe: str, unit: str) -> int:
        number = self._book.add(probe, unit)
        family = self._book.of_probe[probe]
        if len(family) > 1:
            for member in family:
                self._look_until[member] = _ALWAYS_LOOK
        else:
            self._look_until[number] = self._blocks.last_time(number)
        return number

    def _put_plain(self, plain: list[tuple[int, int, int, int]], rows: list[Reading], at: int) -> Shelved:
        before = self._connection.total_changes
        whole = len(plain) // _AT_ONCE * _AT_ONCE
        if whole:
            many = (tuple(chain.from_iterable(plain[i : i + _AT_ONCE])) for i in range(0, whole, _AT_ONCE))
            self._connection.executemany(_INSERT + ", ".join([_ROW] * _AT_ONCE), many)
        self._connection.executemany(_INSERT + _ROW, plain[whole:])
        if self._connection.total_changes - before == len(plain):
            return Shelved(rows)
        shelved = Shelved([])
        seen: dict[tuple[int, int], Reading] = {}
        for (number, time, _, _), row in zip(plain, rows, strict=True):
            kept = seen.get((number, time))
            if kept is not None:
                _compare(row, kept.micro, kept.unit, shelved)
                continue
            seen[number, time] = row
            found = self._fresh(number, time)
            if found is None:
                raise InvariantError(f"the reading {row} was not taken in by the store")
            if found[1] == at:
                shelved.new.append(row)
            else:
                seen[number, time] = row._replace(micro=found[0])
                _compare(row, found[0], row.unit, shelved)
        return shelved

    def _put_careful(self, row: Reading, at: int, shelved: Shelved) -> None:
        for number in self._book.of_probe[row.probe]:
            found = self._fresh(number, row.time) or self._blocks.find(number, row.time)
            if found is not None:
                _compare(row, found[0], self._book.meaning[number][1], shelved)
                return
        number = self._book.number[row.probe, row.unit]
        self._connection.execute(
            "INSERT INTO reading VALUES (?, ?, ?, ?)", (number, row.time, row.micro, at - row.time)
        )
        shelved.new.append(row)

    def _fresh(self, number: int, time: int) -> tuple[int, int] | None:
        found = self._connection.execute(
            "SELECT micro, time + lag FROM reading WHERE series = ? AND time = ?", (number, time)
        ).fetchone()
        return None if found is None else (found[0], found[1])


def _compare(row: Reading, kept_micro: int, kept_unit: str, shelved: Shelved) -> None:
    if row.micro == kept_micro and row.unit == kept_unit:
        shelved.duplicates += 1
    else:
        shelved.conflicts.append(Conflict(row, kept_micro, kept_unit))
