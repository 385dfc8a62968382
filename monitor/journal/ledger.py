"""How far the journal came, and the hash chain over its days.

Rules:
1. An event belongs to the UTC day of its `at`, late data too. The day's hash grows event by event, so that a commit
   never reads the day again; it is kept with every commit, and the day is closed when the first event of a later day
   comes.
2. A closed day's link is never changed; when its events are dropped, link and head stay, marked as pruned.
"""

import sqlite3
from dataclasses import dataclass, replace

from monitor.journal.canonical import ZERO_HASH, day_of, fold, next_head


@dataclass(slots=True)
class Mark:
    """How far the journal came; instants in UTC ms, None before the first.

    Attributes:
        last_event: `at` of the newest event.
        advanced: The watermark: deadlines up to it have been served.
        day: The open UTC day (days since 1970-01-01).
        day_events: Events of the open day so far.
        day_hash: Their hash.
    """

    last_event: int | None
    advanced: int | None
    day: int | None
    day_events: int
    day_hash: bytes

    def latest(self) -> int | None:
        """Return the later of the last event and the watermark."""
        known = [instant for instant in (self.last_event, self.advanced) if instant is not None]
        return max(known) if known else None


@dataclass(frozen=True, slots=True)
class ChainLink:
    """A closed day: how many events it had, their hash, and the head of the chain after it."""

    day: int
    events: int
    hash: bytes
    head: bytes
    pruned: bool


def read_mark(connection: sqlite3.Connection) -> Mark:
    """Return the stored mark."""
    return Mark(
        *connection.execute("SELECT last_event, advanced, day, day_events, day_hash FROM mark WHERE one = 1").fetchone()
    )


def read_chain(connection: sqlite3.Connection) -> list[ChainLink]:
    """Return the closed days, the oldest first."""
    rows = connection.execute("SELECT day, events, hash, head, pruned FROM chain ORDER BY day")
    return [ChainLink(day, events, hashed, head, bool(pruned)) for day, events, hashed, head, pruned in rows]


class Ledger:
    """The mark and the chain, inside the writer's transactions."""

    def __init__(self, connection: sqlite3.Connection) -> None:
        self._connection = connection
        self.mark = read_mark(connection)

    def reload(self) -> None:
        """Read the mark again, after a rollback."""
        self.mark = read_mark(self._connection)

    def stamp(self, now: int) -> int:
        """Return the `at` of an event fed now: later than every event and every advance before it."""
        latest = self.mark.latest()
        return now if latest is None else max(now, latest + 1)

    def opens_day(self, at: int) -> bool:
        """Tell whether an event at `at` begins a later day than the open one."""
        return self.mark.day is not None and day_of(at) > self.mark.day

    def close_day(self) -> None:
        """Put the link of the open day into the chain."""
        mark = self.mark
        self._connection.execute(
            "INSERT INTO chain VALUES (?, ?, ?, ?, 0)",
            (mark.day, mark.day_events, mark.day_hash, next_head(self.head(), mark.day_hash)),
        )
        self.mark = replace(mark, day=None, day_events=0, day_hash=ZERO_HASH)

    def enter(self, at: int, event: bytes) -> None:
        """Add an event's canonical bytes to its day."""
        mark = self.mark
        mark.day = day_of(at)
        mark.day_events += 1
        mark.day_hash = fold(mark.day_hash, event)
        mark.last_event = at

    def head(self) -> bytes:
        """Return the head after the last closed day (32 zero bytes before the first)."""
        row = self._connection.execute("SELECT head FROM chain ORDER BY day DESC LIMIT 1").fetchone()
        return bytes(row[0]) if row else ZERO_HASH

    def save(self) -> None:
        """Store the mark, with every commit."""
        mark = self.mark
        self._connection.execute(
            "UPDATE mark SET last_event = ?, advanced = ?, day = ?, day_events = ?, day_hash = ? WHERE one = 1",
            (mark.last_event, mark.advanced, mark.day, mark.day_events, mark.day_hash),
        )
