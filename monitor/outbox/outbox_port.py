"""The outbox's port to the journal: due rows, and methods to record the state of each delivery."""

from collections.abc import Sequence
from typing import Protocol

from monitor.model.notice_rows import NoticeRow


class NoticeRows(Protocol):
    """The rows, on the writer's connection; every method is called on the writer's thread, inside its transaction."""

    def due(self, now: int, limit: int = ...) -> Sequence[NoticeRow]:
        """Return waiting rows to hand over at `now` (UTC ms), the most urgent first."""

    def begin(self, row: int) -> bool:
        """Mark a row as handed over; False if it no longer waits."""

    def done(self, row: int) -> bool:
        """Mark a handed-over row as delivered."""

    def fail(self, row: int, why: str, retry_at: int | None, *, maybe_arrived: bool = False) -> bool:
        """Mark a handed-over row as not delivered.

        Args:
            row: Number of the row.
            why: Reason, kept with the row.
            retry_at: Earliest instant of the next try, UTC ms; None: the row failed for good.
            maybe_arrived: Whether its letter may have arrived all the same, so that every later one says so.

        Returns:
            False if the row was not handed over, and is left as it was.
        """
