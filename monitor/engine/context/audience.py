"""The readers of the engine's words: people, or nobody while settings are tried.

An engine is given its audience at construction. What rings, who is told and when is the same for both.
"""

from collections.abc import Callable
from typing import ClassVar, TypeVar

from monitor.notices import NoticeDesk, UnreadDesk

T = TypeVar("T")


class Audience:
    """People, who read every word.

    Attributes:
        desk: What decides whom to tell.
    """

    desk: ClassVar[type[NoticeDesk]] = NoticeDesk

    def read(self, write: Callable[[], T], blank: T, /) -> T:
        """Return the words that `write` makes for them; it must have no other effect."""
        del blank
        return write()


class Nobody(Audience):
    """Reads nothing, so that nothing is written: no texts, no conditions of bins, no digests."""

    desk = UnreadDesk

    def read(self, write: Callable[[], T], blank: T, /) -> T:
        """Return the blank."""
        del write
        return blank


PEOPLE, NOBODY = Audience(), Nobody()
