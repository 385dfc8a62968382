"""Seals: where a record that one meaning of the engine decided goes on under another.

Rules:
1. A seal is an event, `sealed`, at the head of the first turn under the new meaning. What was decided before it is kept and
   not compared with anything again; from it on the same events give the same effects.
2. The state from which it goes on is kept for good: no replay under the new meaning could come to it otherwise. It is the
   newest snapshot as today's program reads it (what it does not know is left out, what is missing gets its default), with
   the later events fed once more. The event names its hash.
3. The engine works every open batch out again at the event, and tells one change of phase and of rule where they differ.
"""

import hashlib
import sqlite3
import zlib

from monitor.journal.engine_port import Machine, Restore
from monitor.journal.storage_faults import DamagedError
from monitor.model.errors import UnavailableError


def name_of(state: bytes) -> str:
    """Return the hash by which a seal's event names its state."""
    return hashlib.sha256(state).hexdigest()


def keep(connection: sqlite3.Connection, at: int, meaning: int, state: bytes) -> None:
    """Keep the state from which the record goes on after the seal at an instant (inside the writer's transaction)."""
    connection.execute("INSERT INTO seal VALUES (?, ?, ?)", (at, meaning, zlib.compress(state)))


def state_at(connection: sqlite3.Connection, at: int) -> bytes:
    """Return the state from which the record goes on after a seal.

    Raises:
        DamagedError: It is missing or damaged.
    """
    row = connection.execute("SELECT state FROM seal WHERE at = ?", (at,)).fetchone()
    try:
        return zlib.decompress(row[0])
    except (TypeError, zlib.error) as fault:
        raise DamagedError(f"the state kept with the seal at {at} is missing or damaged ({fault})") from fault


def engine_at(connection: sqlite3.Connection, at: int, restore: Restore) -> Machine:
    """Return the engine as it stood before it took in the seal at an instant.

    Raises:
        UnavailableError: Its state is missing, damaged, or of a program that this one does not understand.
    """
    try:
        return restore(state_at(connection, at))
    except (ValueError, KeyError, TypeError) as fault:
        raise UnavailableError(f"the state kept with the seal at {at} cannot be used ({fault})") from fault
