"""Snapshots of the engine: starting points of the next start, and substitutes for a beginning that is no longer kept.

Rules: a snapshot stands in the same transaction as the events that it covers. The newest three are kept, and the one
with which each UTC day opens: once old days are dropped, an export can be replayed from the oldest snapshot that is
still needed. States are deflated.
"""

import sqlite3
import zlib
from dataclasses import dataclass

from monitor.journal.deflated import STATE_MOST, inflate
from monitor.journal.ledger import checksum

_KEPT = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Snapshot:
    """The engine's state after an instant.

    Attributes:
        at: The later of the two below, UTC ms.
        last_event: `at` of the newest event it covers, None if it covers none.
        advanced: Deadlines up to here have been served, None if never advanced.
        state: What `Machine.snapshot` returned.
    """

    at: int
    last_event: int | None
    advanced: int | None
    state: bytes


_NONE = -(1 << 62)


def save(connection: sqlite3.Connection, snapshot: Snapshot, opens_day: int = 0) -> None:
    """Keep a snapshot and drop those that are no longer needed.

    Args:
        connection: The writer's, inside its transaction.
        snapshot: The engine's state; replaces an earlier one of the same instant.
        opens_day: UTC day (since 1970-01-01) that the snapshot opens; 0: none.
    """
    known = connection.execute("SELECT opens_day FROM snapshot WHERE at = ?", (snapshot.at,)).fetchone()
    row = (
        snapshot.at,
        _NONE if snapshot.advanced is None else snapshot.advanced,
        _NONE if snapshot.last_event is None else snapshot.last_event,
        max(opens_day, known[0] if known else 0),
        zlib.compress(snapshot.state),
    )
    connection.execute(
        "INSERT OR REPLACE INTO snapshot (at, advanced, last_event, opens_day, state, crc) VALUES (?, ?, ?, ?, ?, ?)",
        (*row, checksum(*row)),
    )
    connection.execute(
        "DELETE FROM snapshot WHERE opens_day = 0 AND at < (SELECT min(at) FROM (SELECT at FROM snapshot "
        "ORDER BY at DESC LIMIT ?))",
        (_KEPT,),
    )


def newest_first(connection: sqlite3.Connection) -> list[int]:
    """Return the instants of the kept snapshots, the newest first."""
    return [at for (at,) in connection.execute("SELECT at FROM snapshot ORDER BY at DESC")]


def load(connection: sqlite3.Connection, at: int) -> Snapshot:
    """Return a kept snapshot.

    Raises:
        ValueError: Its state is damaged.
    """
    *row, crc = connection.execute(
        "SELECT at, advanced, last_event, opens_day, state, crc FROM snapshot WHERE at = ?", (at,)
    ).fetchone()
    if crc is not None and checksum(*row) != crc:
        raise ValueError(f"the snapshot of {at} is damaged: its checksum is wrong")
    _, advanced, last_event, _, state = row
    try:
        plain = inflate(state, STATE_MOST)
    except ValueError as fault:
        raise ValueError(f"the snapshot of {at} is damaged: {fault}") from fault
    return Snapshot(
        at=at,
        advanced=None if advanced == _NONE else advanced,
        last_event=None if last_event == _NONE else last_event,
        state=plain,
    )


def checkpoint(connection: sqlite3.Connection) -> Snapshot | None:
    """Return the state before the first kept event after the newest dropped day, or None if no day was dropped."""
    pruned = connection.execute("SELECT max(day) FROM chain WHERE pruned = 1").fetchone()[0]
    if pruned is None:
        return None
    found = connection.execute("SELECT min(at) FROM snapshot WHERE opens_day > ?", (pruned,)).fetchone()[0]
    return None if found is None else load(connection, found)
