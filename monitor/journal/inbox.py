"""The inbox: the only table that processes other than the writer may write to, and the way in which they get an answer.

Rules: a request is entered over a short connection of its own. The writer turns it into an event, or refuses it with a
sentence, in the transaction that also keeps the event; so an answered request is neither lost nor done twice. A request
that nobody answered in time stays, and the next writer takes it.
"""

import json
import sqlite3
import time
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from monitor.journal.event_bytes import canonical_payload
from monitor.journal.schema import BUSY_MS, MIGRATIONS, check_ours, journal_path
from monitor.journal.storage_faults import telling
from monitor.model.errors import UnavailableError
from monitor.model.event_shapes import too_deep, wrong_request
from monitor.model.events import EventKind

_POLL_S = 0.05
_AGAIN = "again"


@dataclass(frozen=True, slots=True, kw_only=True)
class Request:
    """An entry that somebody asks the writer to feed; `payload` as in `model.events`.

    `again` says that the person was asked about the entry and means it as it stands; it is no part of the event.
    """

    id: int
    kind: EventKind
    payload: Mapping[str, Any]
    again: bool = False


@dataclass(frozen=True, slots=True)
class Judged:
    """The writer's opinion of a request. With all fields at their defaults the request is taken in.

    Attributes:
        refusal: Why the request cannot be taken in, a sentence.
        question: Asked before the entry is believed: nothing is taken in, and a request with `again` skips the question.
        done: Instant of the event that brought the same entry earlier, UTC ms; the entry is not taken in twice.
    """

    refusal: str = ""
    question: str = ""
    done: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Reply:
    """The writer's answer.

    `at` names the event (None: the request held nothing new); otherwise `refusal` or `question` holds a sentence. `new`,
    `repeated` and `conflicts` count the readings of the request, if it had any.
    """

    at: int | None
    refusal: str
    new: int = 0
    repeated: int = 0
    conflicts: int = 0
    question: str = ""


class Inbox:
    """Puts requests into the journal of a data folder from outside; every call opens its own short connection."""

    def __init__(self, folder: Path) -> None:
        self._path = journal_path(folder)

    def submit(self, kind: EventKind, payload: Mapping[str, Any], *, again: bool = False) -> int:
        """Enter a request.

        Args:
            kind: Kind of the event to feed.
            payload: As in `model.events`; text and whole numbers only.
            again: Whether the entry is meant as it stands, so that the writer asks nothing about it.

        Returns:
            The request's id, for `answer`.

        Raises:
            ValueError: The payload holds fractions or other values that an event cannot keep.
            UnavailableError: There is no journal, or it cannot be written.
        """
        if too_deep(payload):
            raise ValueError("the payload is nested too deeply")
        text = canonical_payload({**payload, _AGAIN: True} if again else payload)
        with telling(self._path):
            connection = self._open()
            try:
                row = connection.execute(
                    "INSERT INTO inbox (kind, payload, state, answer) VALUES (?, ?, 'waiting', '')", (str(kind), text)
                )
                return int(row.lastrowid or 0)
            finally:
                connection.close()

    def answer(self, request: int) -> Reply | None:
        """Return the answer to a request, or None while it waits.

        Raises:
            UnavailableError: There is no such request (or its answer is no longer kept).
        """
        with telling(self._path):
            connection = self._open()
            try:
                row = connection.execute("SELECT state, at, answer FROM inbox WHERE id = ?", (request,)).fetchone()
            finally:
                connection.close()
        if row is None:
            raise UnavailableError(f"request {request} is not in {self._path}")
        if row[0] == "waiting":
            return None
        if row[0] == "asked":
            return Reply(at=None, refusal="", question=row[2])
        return Reply(at=row[1], refusal=row[2]) if row[0] == "refused" else _done(row[1], row[2])

    def await_answer(self, request: int, timeout_s: float) -> Reply | None:
        """Return the answer to a request, or None if `timeout_s` seconds passed without one (the request then still waits)."""
        end = time.monotonic() + timeout_s
        while True:
            reply = self.answer(request)
            left = end - time.monotonic()
            if reply is not None or left <= 0:
                return reply
            time.sleep(min(_POLL_S, left))

    def _open(self) -> sqlite3.Connection:
        if not self._path.exists():
            raise UnavailableError(f"there is no journal at {self._path}: start the daemon first, or name its folder")
        connection = sqlite3.connect(self._path, timeout=BUSY_MS / 1000, isolation_level=None)
        try:
            if check_ours(connection, self._path) != len(MIGRATIONS):
                raise UnavailableError(f"{self._path} is of an older version: start the daemon once to bring it up")
            connection.execute("PRAGMA synchronous = FULL")
        except BaseException:
            connection.close()
            raise
        return connection


class Requests:
    """The writer's side of the inbox, on the writer's connection."""

    def __init__(self, connection: sqlite3.Connection, path: Path) -> None:
        self._connection = connection
        self._path = path
        self._seen_version = -1

    def may_wait(self) -> bool:
        """Tell cheaply whether another process wrote since the last call (always True the first time).

        Raises:
            UnavailableError: The disk or the file is at fault.
        """
        with telling(self._path):
            version = int(self._connection.execute("PRAGMA data_version").fetchone()[0])
        changed, self._seen_version = version != self._seen_version, version
        return changed

    def waiting(self, limit: int = 500) -> list[Request]:
        """Return the oldest waiting requests; those of an unknown kind or a wrong shape are refused at once and left out."""
        found = []
        rows = self._connection.execute(
            "SELECT id, kind, payload FROM inbox WHERE state = 'waiting' ORDER BY id LIMIT ?", (limit,)
        ).fetchall()
        for number, kind, payload in rows:
            try:
                asked, told = EventKind(kind), json.loads(payload)
                again = isinstance(told, dict) and told.pop(_AGAIN, None) is True
                wrong = wrong_request(asked, told)
            except (ValueError, TypeError, RecursionError) as fault:
                wrong = str(fault)[:200]
            if wrong:
                self.reply(number, Reply(at=None, refusal=f"the request is not understood: {wrong}"))
            else:
                found.append(Request(id=number, kind=asked, payload=told, again=again))
        return found

    def reply(self, request: int, reply: Reply) -> None:
        """Keep the answer to a request (inside the writer's transaction)."""
        counts = (reply.new, reply.repeated, reply.conflicts)
        answer = reply.refusal or reply.question or (" ".join(map(str, counts)) if any(counts) else "")
        state = "refused" if reply.refusal else "asked" if reply.question else "done"
        self._connection.execute(
            "UPDATE inbox SET state = ?, at = ?, answer = ? WHERE id = ?", (state, reply.at, answer, request)
        )


def _done(at: int | None, counts: str) -> Reply:
    """Return the answer to a request that was taken in; its counts are 0 if it brought no readings."""
    new, repeated, conflicts = map(int, counts.split()) if counts else (0, 0, 0)
    return Reply(at=at, refusal="", new=new, repeated=repeated, conflicts=conflicts)
