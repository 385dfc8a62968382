"""What the outbox needs of the journal: rows that are due, and a place to say how far each came."""

from collections.abc import Sequence
from typing import Protocol


class NoticeRow(Protocol):
    """One message to one contact over one channel; the journal's own row type serves.

    `at` is when it was decided and `next_try` when it may go, UTC ms; `notice` is the short id that every message
    shows; `attempts` counts the handings over before this one; `maybe_repeat` says that it was found half handed over.
    """

    @property
    def id(self) -> int:
        """The row's number."""

    @property
    def at(self) -> int:
        """When it was decided, UTC ms."""

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
        """How often it was handed over before."""

    @property
    def maybe_repeat(self) -> bool:
        """Whether it was found half handed over."""

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
        """Mark a handed-over row as not delivered; None: for good."""
