"""What sources hand on, and to whom: the seam between what arrives and the one writer.

Rules: 1. Whatever a source takes is offered once, in the order of its arrival. 2. A message is acknowledged only by
its token and only after the writer's commit; what was never acknowledged comes again. 3. That a link is up or down is
told when it changes, not each time it is tried.
"""

from collections.abc import Iterable
from typing import NamedTuple, Protocol

from monitor.codec import Reject
from monitor.model.readings import Heard

Token = tuple[int, int]
"""What a broker's message is acknowledged by: (connection generation, packet id)."""


class Clock(Protocol):
    """The two times a source needs. Both may be called from any thread, and never block."""

    def now_ms(self) -> int:
        """Return the time as it is known, UTC ms."""

    def monotonic_s(self) -> float:
        """Return seconds since some instant; never goes back."""


class Arrival(NamedTuple):
    """One message or line.

    Attributes:
        source: Name of the source.
        received: When it came, UTC ms.
        heard: The values in it.
        rejects: What was set aside of it.
        token: To acknowledge it by after the commit, or None where there is nothing to acknowledge.
        origin: The topic, or the port's address.
        raw: The message as it came, cut at the bound of what is read.
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
    """Takes what arrives; called from each source's own thread, so also in parallel.

    It may block for a moment to hold a source back, well under a broker's keep-alive. If it raises, the item counts as
    not taken: the source goes on, and a message with a token comes again after the next connect.
    """

    def offer(self, item: Arrival | LinkChange) -> None:
        """Take one item."""


class Source(Protocol):
    """Something that listens: `start`, then to leave `hold`, the last commit and `acknowledge`, `stop`; each once."""

    name: str

    def start(self) -> None:
        """Begin to listen on a thread of its own; returns at once, and an absent other end is no error."""

    def hold(self) -> None:
        """Offer nothing more, but stay connected, so that what was offered can still be committed and acknowledged."""

    def stop(self) -> None:
        """End and wait until the thread is gone."""

    def acknowledge(self, tokens: Iterable[Token]) -> int:
        """Acknowledge committed messages; returns how many were still this connection's. Safe from any thread."""


class Link:
    """Tells changes of one source's link, each once. Used by that source's thread alone."""

    def __init__(self, source: str, sink: Sink, clock: Clock) -> None:
        """Begin with a link of which nothing is known, so that the first state is told."""
        self._source = source
        self._sink = sink
        self._clock = clock
        self._up: bool | None = None
        self._why = ""

    def tell(self, up: bool, why: str, *, anew: bool = False) -> None:
        """Say how the link is; a state that is already known is not told again, unless for another reason (`anew`)."""
        if self._up is not up or (anew and self._why != why):
            self._sink.offer(LinkChange(self._source, up, why, self._clock.now_ms()))
            self._up, self._why = up, why
