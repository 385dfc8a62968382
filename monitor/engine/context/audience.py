"""The readers of the engine's words: people, or nobody while settings are tried.

An engine gets its audience at construction. Alarms, recipients and instants are the same for both.
"""

from collections.abc import Callable
from typing import ClassVar, TypeVar

from monitor.notices import NoticeDesk, UnreadDesk

T = TypeVar("T")


class Audience:
    """People, who read every word.

    Attributes:
        desk: The class of the notice desk.
    """

    desk: ClassVar[type[NoticeDesk]] = NoticeDesk

    def read(self, write: Callable[[], T], blank: T, /) -> T:
        """Return the words that `write` makes for them; it must have no other effect."""
        del blank
        return write()


class Nobody(Audience):
    """Nobody reads, so the engine writes no texts, no conditions of bins and no digests."""

    desk = UnreadDesk

    def read(self, write: Callable[[], T], blank: T, /) -> T:
        """Return the blank."""
        del write
        return blank


PEOPLE, NOBODY = Audience(), Nobody()
