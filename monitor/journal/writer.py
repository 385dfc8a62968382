"""The one writer: turns arrivals into events, feeds the engine, and keeps both in one transaction.

Rules:
1. The writer holds the operating system's lock on the data folder for its life.
2. A turn is one transaction: events, their effects, outbox rows, flags, the watermark, and a snapshot when one is due.
   Once `with writer.turn(...)` ends without an exception, all of it is on the disk.
3. A turn that failed left nothing. The engine had seen more than the journal kept, so another engine is brought back from
   the journal, and the same turn may be tried again.
4. A record that another meaning of the engine decided is sealed at the head of the first turn (see `meaning_seals`).
5. One thread at a time.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from types import TracebackType
from typing import Self

from monitor.journal import meaning_seals
from monitor.journal.engine_port import Fresh, Machine, Restore
from monitor.journal.lock import WriterLock
from monitor.journal.packing import pack_before
from monitor.journal.resume import Resumed
from monitor.journal.retention import Kept, Pruned, prune
from monitor.journal.schema import connect, journal_path
from monitor.journal.storage_faults import sound, telling, told
from monitor.journal.store import Store
from monitor.journal.turn import Turn
from monitor.journal.writer_parts import JournalParts
from monitor.model.errors import MonitorError
from monitor.model.times import HOUR_MS


class Writer:
    """The journal's writer with its engine; made by `open_writer`.

    Attributes:
        store: For reading, on the writer's own connection.
        resumed: How the engine was brought back at the start.
        dispatch: The outbox rows.
        requests: The inbox, as the writer sees it.
        suspects: Requests during which a turn was lost: id -> reason.
        repeats: Number of outbox rows that were still handed over at the start.
    """

    def __init__(self, store: Store, lock: WriterLock, fresh: Fresh, restore: Restore) -> None:
        self.store = store
        self._lock = lock
        self._stale = self._looked = self._remembers = False
        self._parts = JournalParts(store, fresh, restore)
        meaning_seals.refuse_newer(store.path, self._parts.ledger.mark.meaning, fresh().meaning)
        self.dispatch, self.requests = self._parts.dispatch, self._parts.requests
        self.suspects = self._parts.suspects
        self.repeats = self.dispatch.mark_repeats()
        self.resumed = self._bring_back()

    @property
    def engine(self) -> Machine:
        """The engine as the journal left it; a turn that failed replaces it."""
        return self._parts.engine

    @contextmanager
    def turn(self, now: int) -> Iterator[Turn]:
        """Open a turn at `now` (UTC ms); it is committed if the `with` ends without an exception.

        Raises:
            UnavailableError: The disk or the file failed; nothing of the turn was kept and it may be tried again.
            InvariantError: The engine or this program contradicts itself.
        """
        self._make_ready()
        connection = self.store.connection
        with telling(self.store.path):
            connection.execute("BEGIN IMMEDIATE")
        turn = Turn(self._parts, now)
        try:
            if self._other_meaning():
                turn = self._sealing(turn, now)
            yield turn
            if not self._looked:
                # Not before: a start gathers what fell due while nobody was there, and any other event would serve it.
                turn.take_over_conflicts()
            turn.finish()
            connection.execute("COMMIT" if turn.changed else "ROLLBACK")
            self._looked = True
        except BaseException as fault:
            self._undo(turn)
            if isinstance(fault, sqlite3.Error):
                raise told(self.store.path, fault) from fault
            raise

    def _other_meaning(self) -> bool:
        """Return whether another meaning decided the record; an empty record takes the engine's."""
        mark = self._parts.ledger.mark
        if mark.latest() is None:
            mark.meaning = self.engine.meaning
        return mark.meaning != self.engine.meaning

    def _sealing(self, turn: Turn, now: int) -> Turn:
        """Seal the record. If its batches cannot be worked out, seal them as they stand: a program must be able to start."""
        try:
            turn.seal()
        except (MonitorError, sqlite3.Error):
            raise
        except Exception as fault:  # noqa: BLE001 - whatever an old state holds that today's program trips over
            self._undo(turn)
            self._bring_back()
            self.store.connection.execute("BEGIN IMMEDIATE")
            turn = Turn(self._parts, now)
            turn.seal(f"{type(fault).__name__}: {fault}"[:300])
        return turn

    @contextmanager
    def transaction(self) -> Iterator[None]:
        """Open a transaction that feeds nothing (the outbox's rows); committed if the `with` ends without an exception.

        Raises:
            UnavailableError: The disk or the file failed; nothing of it was kept.
        """
        connection = self.store.connection
        with telling(self.store.path):
            connection.execute("BEGIN IMMEDIATE")
            try:
                yield
                connection.execute("COMMIT")
            except BaseException:
                if connection.in_transaction:
                    connection.execute("ROLLBACK")
                raise

    def beside(self) -> Machine:
        """Return an engine of its own as the journal stands; the writer's is not touched.

        Raises:
            UnavailableError: The journal cannot be read.
        """
        with telling(self.store.path):
            return self._parts.beside().engine

    def next_deadline(self) -> int | None:
        """Return the engine's earliest deadline, UTC ms, or None."""
        return self.engine.next_deadline()

    def keep_snapshot(self) -> None:
        """Keep a snapshot of the engine as it stands (inside a turn)."""
        self._parts.keep_snapshot()

    def pack_closed_hours(self, before: int, limit_rows: int | None = None) -> int:
        """Move fresh rows older than the hour of `before` (UTC ms) into blocks; return their number."""
        with self._upkeep():
            return pack_before(self.store, before // HOUR_MS * HOUR_MS, limit_rows)

    def prune(self, kept: Kept) -> Pruned:
        """Drop whole days that are older than `kept` says and unprotected; see `retention`."""
        # The marks change in the file first: should reading them again fail, the next turn must not go by the old ones.
        self._remembers = True
        with self._upkeep():
            pruned = prune(self.store, kept)
            self._forget()
        return pruned

    def set_cursor(self, name: str, at: int) -> None:
        """Store how far a follower has come."""
        with telling(self.store.path):
            self.store.timeline.set_cursor(name, at)

    def close(self) -> None:
        """Keep a last snapshot, close the journal and let go of the lock; safe to call twice."""
        try:
            if not self._stale and self._parts.events:
                # If the disk is full or gone, the journal is whole without the snapshot; the next start takes a little longer.
                with suppress(MonitorError), telling(self.store.path):
                    self.store.connection.execute("BEGIN IMMEDIATE")
                    self._parts.keep_snapshot()
                    self.store.connection.execute("COMMIT")
        finally:
            self._stale = True
            self.store.close()
            self._lock.release()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, fault: BaseException | None, trace: TracebackType | None
    ) -> None:
        if kind is not None:
            self._stale = True
        self.close()

    @contextmanager
    def _upkeep(self) -> Iterator[None]:
        try:
            with telling(self.store.path):
                yield
        finally:
            self._parts.shelf.forget()
            if self.store.connection.in_transaction:
                self.store.connection.execute("ROLLBACK")
                self.store.blocks.forget()

    def _undo(self, turn: Turn) -> None:
        """Undo a turn; what a failing disk keeps from being undone now is undone before the next one."""
        self._stale = self._stale or turn.touched_engine or turn.changed
        self._remembers = True
        with suppress(sqlite3.Error, ValueError):
            self._forget()

    def _make_ready(self) -> None:
        """Bring caches and engine to where the journal stands, if a turn failed or the marks changed beside the turns."""
        if self._remembers:
            with sound(self.store.path):
                self._forget()
        if self._stale:
            self._bring_back()

    def _forget(self) -> None:
        """Drop a transaction that still stands, and all that is remembered of it."""
        if self.store.connection.in_transaction:
            self.store.connection.execute("ROLLBACK")
        self._parts.forget()
        self._remembers = False

    def _bring_back(self) -> Resumed:
        with telling(self.store.path):
            resumed = self._parts.bring_back()
        self._stale = False
        return resumed


def open_writer(folder: Path, fresh: Fresh, restore: Restore, wait_s: float = 0.0) -> Writer:
    """Take the lock of a data folder, open its journal (made if there is none) and bring the engine back.

    Args:
        folder: The data folder.
        fresh: Makes an engine that has seen no event.
        restore: Makes an engine from a snapshot.
        wait_s: Seconds to wait for another holder of the lock.

    Returns:
        The writer, which holds the lock until it is closed.

    Raises:
        UnavailableError: Another writer holds the folder, or folder, disk or journal are at fault.
    """
    lock = WriterLock(folder, wait_s)
    try:
        connection = connect(folder)
        try:
            with sound(journal_path(folder)):
                return Writer(Store(connection, folder, writing=True), lock, fresh, restore)
        except BaseException:
            connection.close()
            raise
    except BaseException:
        lock.release()
        raise
