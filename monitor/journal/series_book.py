"""The book of series: the probe and the unit behind the small number that a row carries.

A series is one probe in one unit. Nearly every probe has one; a probe that changed its unit has several, and its key
(probe, time) stays unique over all of them (`reading_writer.Shelf` sees to that).
"""

import sqlite3


class SeriesBook:
    """The `series` table in memory; one per connection."""

    def __init__(self, connection: sqlite3.Connection) -> None:
        self._connection = connection
        self.number: dict[tuple[str, str], int] = {}
        """(probe, unit) -> series."""
        self.meaning: dict[int, tuple[str, str]] = {}
        """series -> (probe, unit)."""
        self.of_probe: dict[str, list[int]] = {}
        """probe -> its series, the oldest first (that one also carries the probe's flags)."""
        self.reload()

    def reload(self) -> None:
        """Read the table again, after a rollback or because a writer may have added to it."""
        self.number.clear()
        self.meaning.clear()
        self.of_probe.clear()
        for number, probe, unit in self._connection.execute("SELECT id, probe, unit FROM series ORDER BY id"):
            self._enter(number, probe, unit)

    def add(self, probe: str, unit: str) -> int:
        """Return the number of a series; a new series gets one (inside the writer's transaction)."""
        known = self.number.get((probe, unit))
        if known is not None:
            return known
        row = self._connection.execute("INSERT INTO series (probe, unit) VALUES (?, ?)", (probe, unit))
        number = int(row.lastrowid or 0)
        self._enter(number, probe, unit)
        return number

    def lead(self, probe: str) -> int | None:
        """Return the series that carries a probe's flags, or None for a probe that never spoke."""
        numbers = self.of_probe.get(probe)
        return numbers[0] if numbers else None

    def _enter(self, number: int, probe: str, unit: str) -> None:
        if not (isinstance(probe, str) and isinstance(unit, str)):
            raise ValueError(f"series {number} names no probe and unit")
        self.number[probe, unit] = number
        self.meaning[number] = (probe, unit)
        self.of_probe.setdefault(probe, []).append(number)
