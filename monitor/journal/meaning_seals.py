"""Seals: the points at which a record decided under one meaning of the engine goes on under another.

Rules:
1. A seal is an event, `sealed`, at the head of the first turn under the new meaning. Effects before it are kept and
   never compared again; from the seal on the same events give the same effects.
2. The state at the seal is kept for good, because no replay under the new meaning could reach it. It is the newest snapshot
   as today's program reads it (unknown fields are left out, missing ones get their defaults), with the later events fed
   once more. The event names the state's hash.
3. Meaning goes up only: a program whose number is lower than the record's leaves the record alone.
4. At the event the engine works out every open batch again, and reports one change of phase and of rule where they differ.
"""

import hashlib
import sqlite3
import zlib
from pathlib import Path

from monitor.journal.deflated import STATE_MOST, inflate
from monitor.journal.engine_port import Machine, Restore
from monitor.journal.storage_faults import DamagedError
from monitor.model.errors import UnavailableError


def refuse_newer(path: Path, meaning: int | None, known: int) -> None:
    """Refuse a record that a newer meaning decided, though its tables may be those of this program.

    Args:
        path: The journal, for the sentence.
        meaning: The number that decided the record; None in one from before meanings were numbered.
        known: The number of this program's engine.

    Raises:
        UnavailableError: The record's number is higher.
    """
    if meaning is not None and meaning > known:
        raise UnavailableError(
            f"{path} was written by a newer version (decided by meaning {meaning}, this one knows {known}): update first"
        )


def name_of(state: bytes) -> str:
    """Return the hash that a seal's event gives for its state."""
    return hashlib.sha256(state).hexdigest()


def keep(connection: sqlite3.Connection, at: int, meaning: int, state: bytes) -> None:
    """Keep the state at a seal (inside the writer's transaction).

    Args:
        connection: The writer's.
        at: Instant of the seal's event, UTC ms.
        meaning: The engine's `meaning` from the seal on.
        state: Snapshot from before the event; stored compressed.
    """
    connection.execute("INSERT INTO seal VALUES (?, ?, ?)", (at, meaning, zlib.compress(state)))


def state_at(connection: sqlite3.Connection, at: int) -> bytes:
    """Return the state from which the record goes on after a seal.

    Raises:
        DamagedError: It is missing or damaged.
    """
    row = connection.execute("SELECT state FROM seal WHERE at = ?", (at,)).fetchone()
    try:
        return inflate(row[0], STATE_MOST)
    except (TypeError, ValueError) as fault:
        raise DamagedError(f"the state kept with the seal at {at} is missing or damaged ({fault})") from fault


def engine_at(connection: sqlite3.Connection, at: int, restore: Restore) -> Machine:
    """Return the engine as it stood before it took in a seal's event.

    Args:
        connection: Any connection to the journal.
        at: Instant of the seal's event, UTC ms.
        restore: Makes an engine from a snapshot.

    Returns:
        A new engine; the seal's event comes next.

    Raises:
        UnavailableError: The state is missing, damaged, or of a program that this one does not understand.
    """
    try:
        return restore(state_at(connection, at))
    except (ValueError, KeyError, TypeError) as fault:
        raise UnavailableError(f"the state kept with the seal at {at} cannot be used ({fault})") from fault
