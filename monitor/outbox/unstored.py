"""Letters that go out while nothing can be stored: memory keeps their states until they can be stored.

A row delivered meanwhile is then marked as delivered; any other goes its usual way. Should the program end
meanwhile, the row still counts as waiting and goes again, marked as a possible repeat: delivery stays at least once.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace

from monitor.model.notice_rows import NoticeRow
from monitor.model.times import MINUTE_MS
from monitor.outbox.outgoing_letters import NO_ANSWER

AGAIN_MS = MINUTE_MS
"""Pause between two tries while nothing can be stored."""


@dataclass(slots=True)
class Tried:
    """A row that was handed over.

    `why` is None while it is in hand and "" once it was accepted; `again` is the next try, UTC ms. `maybe_arrived` says that
    a try without an answer may have arrived.
    """

    row: NoticeRow
    why: str | None
    again: int
    tries: int
    maybe_arrived: bool = False


class Unstored:
    """Rows handed over without any trace in the journal; used by the writer's thread alone."""

    def __init__(self) -> None:
        self.tried: dict[int, Tried] = {}

    def due(self, rows: Iterable[NoticeRow], now: int) -> list[NoticeRow]:
        """Return the rows not handed over yet, or to be tried again at `now` (UTC ms), marked if they may have arrived."""
        return [
            replace(row, maybe_repeat=True) if one is not None and one.maybe_arrived else row
            for row in rows
            if (one := self.tried.get(row.id)) is None or (one.why and one.again <= now)
        ]

    def handed(self, row: NoticeRow, now: int) -> None:
        """Note that a row was handed over."""
        before = self.tried.get(row.id)
        if before is None:
            self.tried[row.id] = Tried(row, None, now, 1)
        else:
            self.tried[row.id] = Tried(row, None, now, before.tries + 1, before.maybe_arrived)

    def answered(self, row: int, why: str, now: int) -> NoticeRow | None:
        """Note the result of a row.

        Args:
            row: Number of the row.
            why: Why it was not accepted, "" if it was.
            now: The writer's time, UTC ms.

        Returns:
            The row, if it was handed over unstored and waited for its result; else None.
        """
        one = self.tried.get(row)
        if one is None or one.why is not None:
            return None
        one.why, one.again = why, now + AGAIN_MS
        one.maybe_arrived = one.maybe_arrived or why.startswith(NO_ANSWER)
        return one.row
