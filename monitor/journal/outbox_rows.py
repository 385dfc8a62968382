"""The outbox rows: one for each (notice effect, contact, channel), with the state of its delivery.

Rules:
1. Rows are made in the transaction that keeps their effect, and the key (effect, contact, channel) is unique: however
   often an event is fed again, a cause makes one row.
2. States: waiting → handed → delivered, or back to waiting for another try, or failed for good. `begin` is committed
   before the message is handed over, so delivery is at least once: a row still handed over at a start goes again, marked
   as a possible repeat.
3. A short notice id is 5 characters of a hash of the effect's id: one in 33 million, enough to tell apart the messages
   that one person has in view; the effect's full id stays the key.
All methods run on the writer's connection.
"""

import hashlib
import sqlite3
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from monitor.journal.effect_rows import all_text
from monitor.journal.storage_faults import sound, telling
from monitor.model.effects import Effect, EffectKind
from monitor.model.notice_rows import Delivery, NoticeRow
from monitor.model.notice_values import NoticeValues
from monitor.model.settings import PAGE_CONTACT
from monitor.model.words import Priority

PAGE_CHANNEL = "page"
"""Channel of a notice for a contact without channels."""

_LETTERS = "0123456789abcdefghjkmnpqrstvwxyz"  # base 32 without i, l, o, u, which people misread
_COLUMNS = (
    "id, at, ordinal, contact, channel, notice, place, occasion, priority, text, state, attempts, next_try, "
    "maybe_repeat, why"
)
_ENTER = (
    "INSERT INTO outbox (at, ordinal, contact, channel, notice, place, occasion, priority, text, state, attempts, "  # noqa: S608 - a constant
    f"next_try, maybe_repeat, why) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, 0, ?, 0, '') RETURNING {_COLUMNS}"
)


def notice_id(at: int, ordinal: int) -> str:
    """Return the short id of a notice: the first 25 bits of SHA-256("AT/ORDINAL") in base 32."""
    digest = hashlib.sha256(f"{at}/{ordinal}".encode()).digest()
    bits = int.from_bytes(digest[:4], "big") >> 7
    return "".join(_LETTERS[bits >> shift & 31] for shift in (20, 15, 10, 5, 0))


def rows_of(effect: Effect) -> list[tuple[int, int, str, str, str, str, str, int, str]]:
    """Return the constant columns of a notice's outbox rows.

    They are (at, ordinal, contact, channel, notice, place, occasion, priority, text).
    """
    draft, values = effect.draft, NoticeValues.of(effect.draft.values)
    contact = str(draft.after) if draft.after else PAGE_CONTACT
    return [
        (
            effect.at,
            effect.ordinal,
            contact,
            channel,
            notice_id(effect.at, effect.ordinal),
            draft.place,
            str(draft.axis),
            int(values.priority),
            draft.text,
        )
        for channel in dict.fromkeys(values.channels or (PAGE_CHANNEL,))
    ]


class Dispatch:
    """The `outbox` table on the writer's connection (a reader's connection may only look).

    Raises:
        UnavailableError: From every method, if the disk or the file is at fault.
    """

    def __init__(self, connection: sqlite3.Connection, path: Path) -> None:
        self._connection = connection
        self._path = path

    def enter(self, effects: Sequence[Effect]) -> list[NoticeRow]:
        """Make the rows of the notices among these effects, due at once (inside the writer's transaction)."""
        made = []
        for effect in effects:
            if effect.draft.kind != EffectKind.NOTICE:
                continue
            for fixed in rows_of(effect):
                row = self._connection.execute(_ENTER, (*fixed, str(Delivery.WAITING), effect.at)).fetchall()
                made.append(_row(row[0]))
        return made

    def mark_repeats(self) -> int:
        """Set rows left handed over back to waiting, marked as possible repeats; return their number (at start)."""
        return self._connection.execute(
            "UPDATE outbox SET state = 'waiting', maybe_repeat = 1 WHERE state = 'handed'"
        ).rowcount

    def doubt_waiting(self) -> None:
        """Mark all waiting rows as possible repeats (inside a transaction)."""
        with telling(self._path):
            self._connection.execute("UPDATE outbox SET maybe_repeat = 1 WHERE state = 'waiting'")

    def due(self, now: int, limit: int = 200) -> list[NoticeRow]:
        """Return the rows to hand over now, the most urgent first, then the oldest."""
        where = "state = 'waiting' AND next_try <= ? ORDER BY priority DESC, at, ordinal, id LIMIT ?"
        return self._select(where, (now, limit))

    def next_try(self) -> int | None:
        """Return when the next waiting row is due, UTC ms, or None if none waits."""
        found = self._connection.execute("SELECT min(next_try) FROM outbox WHERE state = 'waiting'").fetchone()[0]
        return None if found is None else int(found)

    def begin(self, row: int) -> bool:
        """Mark a row as handed over before handing it over; False if it no longer waits."""
        return self._move(row, "state = 'handed', attempts = attempts + 1", (), "waiting")

    def done(self, row: int) -> bool:
        """Mark a handed-over row as delivered."""
        return self._move(row, "state = 'delivered', why = ''", (), "handed")

    def fail(self, row: int, why: str, retry_at: int | None, *, maybe_arrived: bool = False) -> bool:
        """Mark a handed-over row as not delivered.

        Args:
            row: Id of the row.
            why: Reason, kept with the row.
            retry_at: Earliest instant of the next try, UTC ms; None: the row failed for good.
            maybe_arrived: Whether its letter may have arrived all the same, so that every later one says so.

        Returns:
            False if the row was not handed over, and is left as it was.
        """
        state = Delivery.FAILED if retry_at is None else Delivery.WAITING
        change = "state = ?, why = ?, next_try = coalesce(?, next_try), maybe_repeat = max(maybe_repeat, ?)"
        return self._move(row, change, (state, why, retry_at, maybe_arrived), "handed")

    def row(self, row: int) -> NoticeRow | None:
        """Return one row, or None."""
        found = self._select("id = ?", (row,))
        return found[0] if found else None

    def rows(self, after: int = 0, limit: int = 1000) -> list[NoticeRow]:
        """Return rows with an id above `after`, in order of id, whatever their state (exports, the page)."""
        return self._select("id > ? ORDER BY id LIMIT ?", (after, limit))

    def _select(self, where: str, bound: tuple[Any, ...]) -> list[NoticeRow]:
        with telling(self._path), sound(self._path):
            rows = self._connection.execute(f"SELECT {_COLUMNS} FROM outbox WHERE {where}", bound)  # noqa: S608 - conditions stand in this class
            return [_row(row) for row in rows]

    def _move(self, row: int, change: str, bound: tuple[Any, ...], state: str) -> bool:
        with telling(self._path):
            changed = self._connection.execute(
                f"UPDATE outbox SET {change} WHERE id = ? AND state = ?",  # noqa: S608 - changes stand just above
                (*bound, row, state),
            )
        return changed.rowcount == 1


def _row(row: tuple[Any, ...]) -> NoticeRow:
    all_text(*row[3:8], row[9], row[14])
    told = dict(zip(_COLUMNS.split(", "), row, strict=True))
    told |= {"priority": Priority(row[8]), "state": Delivery(row[10]), "maybe_repeat": bool(row[13])}
    return NoticeRow(**told)
