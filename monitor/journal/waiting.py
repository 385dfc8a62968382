"""Readings whose time cannot be judged while the clock is unconfirmed: kept here, so that their message can be acknowledged.

A broker hands over only a limited number of unacknowledged messages; a single node that is ahead would fill that window, and
messages of other nodes would not arrive. Waiting readings are no part of the record: they enter with an event once the
clock is confirmed.
"""

import sqlite3
from collections.abc import Sequence
from typing import NamedTuple

from monitor.model.readings import Reading

WAITING_MAX = 200_000
"""Most readings that may wait; beyond that the oldest are judged by the unconfirmed clock."""


class Waiting(NamedTuple):
    """A waiting reading: its source, when it came (UTC ms by the clock of then), and the reading itself."""

    source: str
    received: int
    reading: Reading


def keep_waiting(connection: sqlite3.Connection, rows: Sequence[Waiting]) -> None:
    """Keep readings (inside the writer's transaction)."""
    connection.executemany(
        "INSERT INTO waiting (source, received, time, probe, micro, unit) VALUES (?, ?, ?, ?, ?, ?)",
        [(one.source.encode("utf-8", "replace").decode(), one.received, *one.reading) for one in rows],
    )


def take_waiting(connection: sqlite3.Connection, limit: int) -> list[Waiting]:
    """Take out the oldest readings, at most `limit` (inside the writer's transaction)."""
    rows = connection.execute(
        "SELECT id, source, received, time, probe, micro, unit FROM waiting ORDER BY id LIMIT ?", (limit,)
    ).fetchall()
    if rows:
        connection.execute("DELETE FROM waiting WHERE id <= ?", (rows[-1][0],))
    return [
        Waiting(source, received, Reading(time, probe, micro, unit))
        for _, source, received, time, probe, micro, unit in rows
    ]


def count_waiting(connection: sqlite3.Connection) -> int:
    """Return how many readings wait."""
    return int(connection.execute("SELECT count(*) FROM waiting").fetchone()[0])
