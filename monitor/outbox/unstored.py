"""Letters that go out while nothing can be stored: memory keeps their states until they can be stored.

A row delivered meanwhile is then marked as delivered; any other goes its usual way. Should the program end
meanwhile, the row still counts as waiting and goes again, marked as a possible repeat: delivery stays at least once.

A letter that no row stood for may still be without an answer when storing works again, and the journal then gets a row for
the same news. `Rowless` holds such letters until that row takes them over, so that the news goes once.
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


class Rowless:
    """Letters that went out without a row of the journal and are not known to have arrived; for the writer's thread alone."""

    def __init__(self) -> None:
        self._letters: dict[int, Tried] = {}
        self._taken_over: dict[int, int] = {}

    def keep(self, tried: dict[int, Tried]) -> None:
        """Take out those that no row stands for, and keep those whose answer is still to come, or never came."""
        for number in [number for number in tried if number < 0]:
            one = tried.pop(number)
            if one.why is None or (one.why and one.maybe_arrived):
                self._letters[number] = one

    def rows(self) -> list[NoticeRow]:
        """Return the letters as rows, each with its number below 0."""
        return [one.row for one in self._letters.values()]

    def in_hand(self, channel: str) -> int:
        """Return how many letters a channel still has in hand."""
        return sum(one.why is None and one.row.channel == channel for one in self._letters.values())

    def take_over(self, number: int, row: int) -> Tried:
        """Let a row of the journal stand for a letter from now on, and for its answer."""
        tried = self._letters.pop(number)
        if tried.why is None:
            self._taken_over[number] = row
        return tried

    def row_of(self, number: int) -> int:
        """Return the row that an answer is for: its own number, or the row that took the letter over."""
        return self._taken_over.get(number, number)

    def answered(self, number: int, why: str) -> NoticeRow | None:
        """Note an answer ("" if the letter was accepted); return the letter's row, None if it is not among these."""
        one = self._letters.get(number)
        if one is None:
            return None
        one.why, one.maybe_arrived = why, one.maybe_arrived or why.startswith(NO_ANSWER)
        if not why or not one.maybe_arrived:
            del self._letters[number]
        return one.row

    def forget(self) -> None:
        """Forget those that are answered; the others' answers are still to come."""
        self._letters = {number: one for number, one in self._letters.items() if one.why is None}
