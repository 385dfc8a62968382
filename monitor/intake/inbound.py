"""The items that sources hand on, and their receiver: the port between sources and the one writer.

Rules: 1. A source offers each item once, in the order of arrival. 2. A message is acknowledged only by
its token and only after the writer's commit; a message never acknowledged comes again. 3. A link's state is
reported when it changes, not at each attempt.
"""

from collections.abc import Iterable
from typing import NamedTuple, Protocol

from monitor.codec import Reject
from monitor.model.readings import Heard

Token = tuple[int, int]
"""Identifies a broker's message for its acknowledgement: (connection generation, packet id)."""


class Clock(Protocol):
    """The two times a source needs. Both may be called from any thread, and never block."""

    def now_ms(self) -> int:
        """Return the present as far as it is known, UTC ms."""

    def monotonic_s(self) -> float:
        """Return seconds since some instant; never goes back."""


class Arrival(NamedTuple):
    """One message or line.

    Attributes:
        source: Name of the source.
        received: When it came, UTC ms.
        heard: The values in it.
        rejects: The parts of it that were set aside.
        token: To acknowledge it by after the commit, or None if it needs no acknowledgement.
        origin: The topic, or the port's address.
        raw: The message as it came, cut at the most that is read.
    """

    source: str
    received: int
    heard: tuple[Heard, ...]
    rejects: tuple[Reject, ...]
    token: Token | None
    origin: str = ""
    raw: bytes = b""


class LinkChange(NamedTuple):
    """A source's link came up or went down.

    Attributes:
        source: Name of the source.
        up: Whether it is up now.
        why: For people, one phrase without a secret.
        at: When it was noticed, UTC ms.
    """

    source: str
    up: bool
    why: str
    at: int


class Sink(Protocol):
    """Takes items; called from each source's own thread, so also in parallel.

    It may block for a moment to hold a source back, well under a broker's keep-alive. If it raises, the item counts as
    not taken: the source goes on, and a message with a token comes again after the next connect.
    """

    def offer(self, item: Arrival | LinkChange) -> None:
        """Take one item."""


class Source(Protocol):
    """A listener: `start`, then for the end `hold`, the last commit and `acknowledge`, `stop`; each once."""

    name: str

    def start(self) -> None:
        """Begin to listen on a thread of its own; returns at once. It is no error if the other end is absent."""

    def hold(self) -> None:
        """Offer nothing more, but stay connected, so that items offered before can still be committed and acknowledged."""

    def stop(self) -> None:
        """End and wait until the thread is gone."""

    def acknowledge(self, tokens: Iterable[Token]) -> int:
        """Acknowledge committed messages; return how many belonged to the present connection. Safe from any thread."""


class Link:
    """Reports changes of one source's link, each once. Used by that source's thread alone."""

    def __init__(self, source: str, sink: Sink, clock: Clock) -> None:
        """Begin with a link in an unknown state, so that the first state is reported."""
        self._source = source
        self._sink = sink
        self._clock = clock
        self._up: bool | None = None
        self._why = ""

    def tell(self, up: bool, why: str, *, anew: bool = False) -> None:
        """Report the link's state; a state known already is not reported again.

        Args:
            up: Whether the link is up.
            why: For people, one phrase without a secret.
            anew: Whether a known state is reported again if its reason changed.
        """
        if self._up is not up or (anew and self._why != why):
            self._sink.offer(LinkChange(self._source, up, why, self._clock.now_ms()))
            self._up, self._why = up, why
