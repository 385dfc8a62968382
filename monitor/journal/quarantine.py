"""The quarantine, bounded and counted, and the flags that conditioning gave.

Rules: the newest `QUARANTINE_ROWS` entries are kept with an excerpt of at most `EXCERPT_BYTES`; the counts by source
and reason are kept for ever. Flags are sparse: a reading without a row passed, or is not examined yet.
"""

import sqlite3
from collections.abc import Iterable
from typing import NamedTuple

from monitor.journal.ledger import flag_weight
from monitor.journal.series_book import SeriesBook
from monitor.model.flags import Flag, Verdict
from monitor.model.quarantine import SetAside
from monitor.model.readings import Reading

QUARANTINE_ROWS = 20_000
EXCERPT_BYTES = 1_000
_DETAIL_CHARACTERS = 500


class Quarantined(NamedTuple):
    """An entry of the quarantine: when it came (UTC ms), its source, the reason, and its first bytes."""

    received: int
    source: str
    reason: SetAside
    detail: str
    excerpt: bytes


class Tally(NamedTuple):
    """Number of entries that one source had set aside for one reason, and the instant of the latest (UTC ms)."""

    source: str
    reason: SetAside
    total: int
    latest: int


def set_aside(connection: sqlite3.Connection, entry: Quarantined) -> None:
    """Keep and count one entry (inside the writer's transaction)."""
    source, detail = (_storable(text) for text in (entry.source, entry.detail[:_DETAIL_CHARACTERS]))
    row = connection.execute(
        "INSERT INTO quarantine (received, source, reason, detail, excerpt) VALUES (?, ?, ?, ?, ?)",
        (entry.received, source, str(entry.reason), detail, entry.excerpt[:EXCERPT_BYTES]),
    )
    connection.execute("DELETE FROM quarantine WHERE id <= ?", (int(row.lastrowid or 0) - QUARANTINE_ROWS,))
    count_aside(connection, Tally(source, entry.reason, 1, entry.received))


def count_aside(connection: sqlite3.Connection, more: Tally) -> None:
    """Count entries of which nothing is kept (inside the writer's transaction)."""
    connection.execute(
        "INSERT INTO set_aside VALUES (?, ?, ?, ?) ON CONFLICT DO UPDATE SET total = total + excluded.total, "
        "latest = max(latest, excluded.latest)",
        (_storable(more.source), str(more.reason), more.total, more.latest),
    )


def _storable(text: str) -> str:
    """Return the text with characters that have no UTF-8 form replaced: bytes from a wire may have named the source."""
    return text.encode("utf-8", "replace").decode()


def read_quarantine(connection: sqlite3.Connection, limit: int) -> list[Quarantined]:
    """Return the newest entries, the newest first."""
    rows = connection.execute(
        "SELECT received, source, reason, detail, excerpt FROM quarantine ORDER BY id DESC LIMIT ?", (limit,)
    )
    return [Quarantined(received, source, SetAside(why), detail, data) for received, source, why, detail, data in rows]


def read_conflicts(connection: sqlite3.Connection) -> list[Reading]:
    """Return the kept readings that were set aside because another value stood at their instant, the oldest first."""
    rows = connection.execute(
        "SELECT excerpt FROM quarantine WHERE reason = ? ORDER BY id", (str(SetAside.CONFLICT),)
    ).fetchall()
    return [reading for (excerpt,) in rows if (reading := _in_excerpt(bytes(excerpt))) is not None]


def conflict_excerpt(row: Reading) -> bytes:
    """Return the excerpt that keeps a conflicting reading; `read_conflicts` reads it back."""
    return f"{row.time} {row.probe} {row.micro} {row.unit}".encode()


def _in_excerpt(excerpt: bytes) -> Reading | None:
    """Return the reading of an excerpt; None if its end was cut off."""
    time, _, rest = excerpt.decode("utf-8", "replace").partition(" ")
    probe, micro, unit = ["", "", "", *rest.rsplit(" ", 2)][-3:]
    try:
        return Reading(int(time), probe, int(micro), unit)
    except ValueError:
        return None


def read_newest_by_reason(connection: sqlite3.Connection) -> list[Quarantined]:
    """Return the newest kept entry of each reason, ordered by reason."""
    rows = connection.execute(
        "SELECT received, source, reason, detail, excerpt FROM quarantine WHERE id IN "
        "(SELECT max(id) FROM quarantine GROUP BY reason) ORDER BY reason"
    )
    return [Quarantined(received, source, SetAside(why), detail, data) for received, source, why, detail, data in rows]


def read_tallies(connection: sqlite3.Connection) -> list[Tally]:
    """Return the counts, ordered by (source, reason)."""
    rows = connection.execute("SELECT source, reason, total, latest FROM set_aside ORDER BY source, reason")
    return [Tally(source, SetAside(reason), total, latest) for source, reason, total, latest in rows]


class FlagShelf:
    """Keeps the flags other than pass; a later verdict on the same reading replaces the earlier."""

    def __init__(self, connection: sqlite3.Connection, book: SeriesBook) -> None:
        self._connection = connection
        self._book = book
        self._newest: dict[str, int] = {}

    def forget(self) -> None:
        """Drop the cached knowledge of the table, after a rollback."""
        self._newest.clear()

    def keep(self, verdicts: Iterable[Verdict], at: int) -> int:
        """Keep verdicts that were final by `at` (UTC ms; inside the transaction); return the change of the flags' sum."""
        changed = 0
        newest = self._newest
        for time, probe, _, flag, reason in verdicts:
            if flag is Flag.PASS and probe in newest and time > newest[probe]:
                continue
            series = self._book.lead(probe)
            if series is None:
                continue
            if probe not in newest:
                row = self._connection.execute("SELECT max(time) FROM flag WHERE series = ?", (series,)).fetchone()
                newest[probe] = -(1 << 62) if row[0] is None else row[0]
            if flag is not Flag.PASS:
                changed -= self._weight(series, time) if time <= newest[probe] else 0
                newest[probe] = max(newest[probe], time)
                self._connection.execute(
                    "INSERT OR REPLACE INTO flag VALUES (?, ?, ?, ?, ?)", (series, time, int(flag), str(reason), at)
                )
                changed += flag_weight(series, time, int(flag), str(reason), at)
            elif time <= newest[probe]:
                # A rebuild examined the reading again and it passes now.
                changed -= self._weight(series, time)
                self._connection.execute("DELETE FROM flag WHERE series = ? AND time = ?", (series, time))
        return changed

    def _weight(self, series: int, time: int) -> int:
        """Return a stored flag's contribution to the sum, 0 if the reading has no flag."""
        row = self._connection.execute(
            "SELECT flag, reason, at FROM flag WHERE series = ? AND time = ?", (series, time)
        ).fetchone()
        return 0 if row is None else flag_weight(series, time, *row)
