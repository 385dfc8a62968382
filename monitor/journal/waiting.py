"""Readings whose time cannot be judged while the clock is unconfirmed: kept here, so that their message can be acknowledged.

A broker hands over only so many messages that are not acknowledged; a single node that is ahead would fill that window, and
nothing of any other would arrive. What waits is no part of the record: it enters with an event once the clock is known.
"""

import sqlite3
from collections.abc import Sequence
from typing import NamedTuple

from monitor.model.readings import Reading

WAITING_MAX = 200_000
"""So many readings wait at most; beyond that the oldest are judged by the clock as it is."""


class Waiting(NamedTuple):
    """A reading that waits: where it came from, when (UTC ms by the clock of then), and what it says."""

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
    """Take out the oldest readings, at most so many (inside the writer's transaction)."""
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
