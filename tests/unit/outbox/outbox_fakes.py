"""Rows in memory with the journal's states, and channels that do as they are told."""

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from typing import Any

from monitor.model.notice_rows import Delivery, NoticeRow
from monitor.model.words import Priority
from monitor.outbox import DeliveryError, Letter

MINUTE = 60_000
START = 1_772_355_600_000


def Row(number: int, **changes: Any) -> NoticeRow:  # noqa: N802 - a row, with what a test changes about it
    given: dict[str, Any] = {
        "id": number,
        "at": START,
        "contact": "anna",
        "channel": "mail",
        "notice": "7kq2m",
        "place": "b1",
        "occasion": "new",
        "priority": Priority.MEDIUM,
        "text": "Sunny wall bin: overheating.",
        "next_try": START,
    }
    return NoticeRow(**(given | changes))


class Rows:
    """As the journal's outbox table: only what was committed is kept."""

    def __init__(self, *rows: NoticeRow) -> None:
        self.kept = {row.id: row for row in rows}
        self.open = False
        self.broken = False

    @contextmanager
    def transaction(self) -> Iterator[None]:
        before = dict(self.kept)
        self.open = True
        try:
            yield
            if self.broken:
                raise OSError("disk full")
        except BaseException:
            self.kept = before
            raise
        finally:
            self.open = False

    def due(self, now: int, limit: int = 200) -> list[NoticeRow]:
        found = [row for row in self.kept.values() if row.state == "waiting" and row.next_try <= now]
        return sorted(found, key=lambda row: (-row.priority, row.at, row.id))[:limit]

    def _move(self, number: int, wanted: str, **change: Any) -> bool:
        assert self.open, "rows are only touched inside the transaction"
        row = self.kept[number]
        if row.state != wanted:
            return False
        self.kept[number] = replace(row, **change)
        return True

    def begin(self, row: int) -> bool:
        return self._move(row, "waiting", state="handed", attempts=self.kept[row].attempts + 1)

    def done(self, row: int) -> bool:
        return self._move(row, "handed", state="delivered", why="")

    def fail(self, row: int, why: str, retry_at: int | None, *, maybe_arrived: bool = False) -> bool:
        maybe = self.kept[row].maybe_repeat or maybe_arrived
        if retry_at is None:
            return self._move(row, "handed", state="failed", why=why, maybe_repeat=maybe)
        return self._move(row, "handed", state="waiting", why=why, next_try=retry_at, maybe_repeat=maybe)

    def restart(self) -> None:
        """As the journal does when it is opened: rows found half handed over go again."""
        self.kept = {
            number: replace(row, state=Delivery.WAITING, maybe_repeat=True) if row.state == "handed" else row
            for number, row in self.kept.items()
        }

    def states(self) -> dict[int, str]:
        return {number: row.state for number, row in self.kept.items()}


@dataclass
class Box:
    """A channel that keeps letters, fails while `fault` is set, and waits at `gate`."""

    sent: list[Letter] = field(default_factory=list)
    fault: Exception | None = None
    gate: threading.Event = field(default_factory=threading.Event)
    tried: int = 0

    def __post_init__(self) -> None:
        self.gate.set()

    def send(self, letter: Letter) -> None:
        self.gate.wait(20)
        self.tried += 1
        if self.fault is not None:
            raise self.fault
        self.sent.append(letter)


REFUSED = DeliveryError("refused")
