"""The outbox's port to the journal: due rows, and methods to record the state of each delivery."""

from collections.abc import Sequence
from typing import Protocol


class NoticeRow(Protocol):
    """One message to one contact over one channel; the journal's own row type serves.

    `at` is when it was decided and `next_try` when it may go, UTC ms; `notice` is the short id that every message
    shows; `attempts` counts the earlier attempts; `maybe_repeat` says that a start found it handed over.
    """

    @property
    def id(self) -> int:
        """The row's number."""

    @property
    def at(self) -> int:
        """The instant of its decision, UTC ms."""

    @property
    def contact(self) -> str:
        """Id of the contact."""

    @property
    def channel(self) -> str:
        """Id of the channel."""

    @property
    def notice(self) -> str:
        """Short notice id."""

    @property
    def place(self) -> str:
        """Id of the place, or "" for the yard as a whole."""

    @property
    def occasion(self) -> str:
        """Word of `model.effects.Occasion`."""

    @property
    def priority(self) -> int:
        """Number of `model.words.Priority`."""

    @property
    def text(self) -> str:
        """The message."""

    @property
    def attempts(self) -> int:
        """Number of earlier attempts."""

    @property
    def maybe_repeat(self) -> bool:
        """Whether a start found it handed over, so that it may have arrived."""

    @property
    def why(self) -> str:
        """Why the last try failed, or ""."""


class NoticeRows(Protocol):
    """The rows, on the writer's connection; every method is called on the writer's thread, inside its transaction."""

    def due(self, now: int, limit: int = ...) -> Sequence[NoticeRow]:
        """Return waiting rows to hand over at `now` (UTC ms), the most urgent first."""

    def begin(self, row: int) -> bool:
        """Mark a row as handed over; False if it no longer waits."""

    def done(self, row: int) -> bool:
        """Mark a handed-over row as delivered."""

    def fail(self, row: int, why: str, retry_at: int | None) -> bool:
        """Mark a handed-over row as not delivered.

        Args:
            row: Number of the row.
            why: Reason, kept with the row.
            retry_at: Earliest instant of the next try, UTC ms; None: the row failed for good.

        Returns:
            False if the row was not handed over, and is left as it was.
        """
