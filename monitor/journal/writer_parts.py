"""The parts that a turn of the writer works on: the open journal, the engine, and the rule for when a snapshot is due."""

from __future__ import annotations

from monitor.journal import snapshots
from monitor.journal.arrival_index import SpanKeeper
from monitor.journal.engine_port import Fresh, Machine, Restore
from monitor.journal.inbox import Requests
from monitor.journal.ledger import Ledger
from monitor.journal.outbox_rows import Dispatch
from monitor.journal.quarantine import FlagShelf
from monitor.journal.reading_writer import Shelf
from monitor.journal.resume import Resumed, resume
from monitor.journal.store import Store
from monitor.model.times import MINUTE_MS

SNAPSHOT_MS = 5 * MINUTE_MS
SNAPSHOT_ROWS = 50_000
SNAPSHOT_EVENTS = 5_000
"""A start feeds the events after the snapshot again: this many take about half a second of the three that it may take."""


class JournalParts:
    """The parts of an open journal that a turn writes to, and the engine that decides.

    Attributes:
        store: For reading, on the writer's own connection.
        ledger, shelf, spans, flags, dispatch, requests: Its tables, each with a cache of its own.
        suspects: Requests of the inbox during which a turn was lost: id -> reason. They are refused the next time.
        engine: The engine as the journal left it.
        rows, events: Numbers since the last snapshot.
    """

    def __init__(self, store: Store, fresh: Fresh, restore: Restore) -> None:
        """Take an open journal; `bring_back` comes before the first turn."""
        connection = store.connection
        self.store = store
        self.ledger = Ledger(connection)
        self.shelf = Shelf(connection, store.book, store.blocks)
        self.spans = SpanKeeper(connection)
        self.flags = FlagShelf(connection, store.book)
        self.dispatch = Dispatch(connection, store.path)
        self.requests = Requests(connection, store.path)
        self.suspects: dict[int, str] = {}
        self.engine: Machine
        self.rows = self.events = 0
        self._snapshot_at: int | None = None
        self._fresh, self._restore = fresh, restore

    def beside(self) -> Resumed:
        """Return a separate engine as the journal stands, and how it was brought there."""
        return resume(self.store, self._fresh, self._restore)

    def bring_back(self) -> Resumed:
        """Bring the engine to where the journal stands, and return how it was brought there."""
        resumed = self.beside()
        self.engine = resumed.engine
        self.rows, self.events = resumed.replayed_rows, resumed.replayed
        self._snapshot_at = resumed.snapshot_at if resumed.snapshot_at is not None else resumed.down_since
        return resumed

    def go_on_from_own_state(self) -> bytes:
        """Replace the engine by one restored from its own state, and return that state (inside a turn)."""
        state = self.engine.snapshot()
        self.engine = self._restore(state)
        return state

    def snapshot_if_due(self) -> bool:
        """Keep a snapshot if enough has come since the last one (inside a turn)."""
        last = self.ledger.mark.latest()
        if self._snapshot_at is None:
            self._snapshot_at = last
        due = (
            self.rows >= SNAPSHOT_ROWS
            or self.events >= SNAPSHOT_EVENTS
            or (last is not None and self._snapshot_at is not None and last - self._snapshot_at >= SNAPSHOT_MS)
        )
        if due and self.events:
            self.keep_snapshot()
            return True
        return False

    def keep_snapshot(self, opens_day: int = 0) -> None:
        """Keep a snapshot of the engine as it stands (inside a turn)."""
        mark = self.ledger.mark
        at = mark.latest()
        if at is None:
            return
        state = snapshots.Snapshot(
            at=at, last_event=mark.last_event, advanced=mark.advanced, state=self.engine.snapshot()
        )
        snapshots.save(self.store.connection, state, opens_day)
        self._snapshot_at = at
        self.rows = self.events = 0

    def forget(self) -> None:
        """Drop the caches of a transaction that was rolled back."""
        self.store.book.reload()
        self.store.blocks.forget()
        self.shelf.forget()
        self.spans.reload()
        self.flags.forget()
        self.ledger.reload()
