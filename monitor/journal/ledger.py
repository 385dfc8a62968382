"""The journal's mark, which says how far it has come, and the hashes over its days.

Rules:
1. An event belongs to the UTC day of its `at`, late data too. The day's hash grows event by event, so that a commit
   never reads the day again; every commit keeps it, and the first event of a later day closes the day.
2. A closed day's link is never changed; when its events are dropped, link and head stay, marked as pruned.
3. Effects are hashed beside the events, by the days in which they were entered: a deadline of the late evening that
   the first event of the morning served belongs to the morning (as it does for retention). The head leaves effects out.
4. The mark and each snapshot have a checksum of their own: nothing else would reveal that they changed.
5. Flags change, so they have a sum in place of a chain: the sum of the hashes of all present flags, in any order.
"""

import hashlib
import json
import sqlite3
import zlib
from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Any

from monitor.journal.event_bytes import ZERO_HASH, day_of, fold, next_head

_SUM_BYTES = 32


@dataclass(slots=True)
class Mark:
    """Progress of the journal; instants in UTC ms, None before the first.

    Attributes:
        last_event: `at` of the newest event.
        advanced: The watermark: deadlines up to it have been served.
        day: The open UTC day (days since 1970-01-01).
        day_events: Events of the open day so far.
        day_hash: Their hash.
        meaning: The engine's `meaning` that has decided the record since its last seal; None in a record from before
            meanings were numbered.
        effects: Number of effects entered in the open day.
        effects_hash: Their hash.
        effects_after: The instant after which they begin; None: the beginning of the record.
        flags_sum: The sum over the flags; None until it is first taken.
    """

    last_event: int | None
    advanced: int | None
    day: int | None
    day_events: int
    day_hash: bytes
    meaning: int | None = None
    effects: int = 0
    effects_hash: bytes = ZERO_HASH
    effects_after: int | None = None
    flags_sum: bytes | None = None

    def latest(self) -> int | None:
        """Return the later of the last event and the watermark."""
        known = [instant for instant in (self.last_event, self.advanced) if instant is not None]
        return max(known) if known else None


@dataclass(frozen=True, slots=True)
class ChainLink:
    """A closed day: the number of its events, their hash, and the head of the chain after it.

    For the effects entered in the day it keeps their number and hash, the instant after which they begin (None: the beginning)
    and the latest instant they may have. `effects_hash` is None for a day from before effects were hashed.
    """

    day: int
    events: int
    hash: bytes
    head: bytes
    pruned: bool
    effects: int = 0
    effects_hash: bytes | None = None
    effects_after: int | None = None
    effects_until: int | None = None


_MARK = (
    "last_event", "advanced", "day", "day_events", "day_hash", "meaning", "effects", "effects_hash", "effects_after",
    "flags_sum",
)  # fmt: skip
_LINK = "day, events, hash, head, pruned, effects, effects_hash, effects_after, effects_until"


def effect_hash(so_far: bytes, row: Iterable[Any]) -> bytes:
    """Return a hash over effects after one more, given as the row that is stored."""
    return fold(so_far, json.dumps(list(row), ensure_ascii=False, separators=(",", ":")).encode())


def flag_weight(series: int, time: int, flag: int, reason: str, at: int) -> int:
    """Return the contribution of one flag to the sum over all flags.

    Args:
        series: Number of the series.
        time: Own time of the flagged reading, UTC ms.
        flag: Value of a `Flag`.
        reason: Word of a `FlagReason`.
        at: Instant after which the flag was final, UTC ms.

    Returns:
        A whole number of 256 bits.
    """
    text = json.dumps([series, time, flag, reason, at], separators=(",", ":"))
    return int.from_bytes(hashlib.sha256(text.encode()).digest())


def flags_sum(connection: sqlite3.Connection) -> bytes:
    """Compute the sum over all stored flags."""
    rows = connection.execute("SELECT series, time, flag, reason, at FROM flag")
    return _as_sum(sum(flag_weight(*row) for row in rows))


def _as_sum(total: int) -> bytes:
    return (total % (1 << 8 * _SUM_BYTES)).to_bytes(_SUM_BYTES)


def checksum(*values: int | bytes | str | None) -> int:
    """Return the CRC-32 of some stored values."""
    return zlib.crc32(repr(values).encode())


def read_mark(connection: sqlite3.Connection) -> Mark:
    """Return the stored mark.

    Raises:
        ValueError: The mark fails its checksum.
    """
    row = connection.execute(f"SELECT {', '.join(_MARK)}, crc FROM mark WHERE one = 1").fetchone()  # noqa: S608 - a constant
    if row[-1] is not None and checksum(*row[:-1]) != row[-1]:
        raise ValueError("the checksum of its mark is wrong")
    mark = Mark(*row[:-1])
    return mark if mark.effects_hash is not None else replace(mark, effects_hash=ZERO_HASH)


def read_chain(connection: sqlite3.Connection) -> list[ChainLink]:
    """Return the closed days, the oldest first."""
    rows = connection.execute(f"SELECT {_LINK} FROM chain ORDER BY day")  # noqa: S608 - the columns stand above
    return [
        ChainLink(day, events, hashed, head, bool(pruned), effects or 0, effects_hash, after, until)
        for day, events, hashed, head, pruned, effects, effects_hash, after, until in rows
    ]


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
        """Return whether an event at `at` begins a later day than the open one."""
        return self.mark.day is not None and day_of(at) > self.mark.day

    def close_day(self) -> None:
        """Put the link of the open day into the chain."""
        mark, until = self.mark, self.mark.latest()
        self._connection.execute(
            f"INSERT INTO chain ({_LINK}) VALUES (?, ?, ?, ?, 0, ?, ?, ?, ?)",  # noqa: S608 - a constant
            (
                mark.day,
                mark.day_events,
                mark.day_hash,
                next_head(self.head(), mark.day_hash),
                mark.effects,
                mark.effects_hash,
                mark.effects_after,
                until,
            ),
        )
        self.mark = replace(
            mark, day=None, day_events=0, day_hash=ZERO_HASH, effects=0, effects_hash=ZERO_HASH, effects_after=until
        )

    def enter(self, at: int, event: bytes) -> None:
        """Add an event's canonical bytes to its day."""
        mark = self.mark
        mark.day = day_of(at)
        mark.day_events += 1
        mark.day_hash = fold(mark.day_hash, event)
        mark.last_event = at

    def decided(self, rows: Iterable[Iterable[Any]]) -> None:
        """Add effects, as the rows that are stored, in order of their ids."""
        mark = self.mark
        for row in rows:
            mark.effects += 1
            mark.effects_hash = effect_hash(mark.effects_hash, row)

    def flagged(self, change: int) -> None:
        """Add a change to the sum over the flags; it is negative if flags went."""
        known = self.mark.flags_sum
        if known is None:
            # The record is older than the sum: begin with the flags as they stand, this change included.
            self.mark.flags_sum = flags_sum(self._connection)
        elif change:
            self.mark.flags_sum = _as_sum(int.from_bytes(known) + change)

    def head(self) -> bytes:
        """Return the head after the last closed day (32 zero bytes before the first)."""
        row = self._connection.execute("SELECT head FROM chain ORDER BY day DESC LIMIT 1").fetchone()
        return bytes(row[0]) if row else ZERO_HASH

    def save(self) -> None:
        """Store the mark, with every commit."""
        mark = self.mark
        values = [getattr(mark, name) for name in _MARK]
        self._connection.execute(
            f"UPDATE mark SET {', '.join(f'{name} = ?' for name in (*_MARK, 'crc'))} WHERE one = 1",  # noqa: S608 - names of a constant
            (*values, checksum(*values)),
        )
