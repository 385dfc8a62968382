"""What the page needs of the rest of the house, as small protocols; `app` fills them.

Rules: the page never sees the journal, the configuration or the writer. What it reads comes through a look (one consistent
state, its own copy); what it does goes through `Doing` as an event that the one writer takes in or refuses.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, NamedTuple, Protocol

from monitor.engine import Engine
from monitor.model.effects import Effect
from monitor.model.events import EventKind
from monitor.model.readings import HandRead
from monitor.model.work import Work

if TYPE_CHECKING:
    from numpy import int64
    from numpy.typing import NDArray


class Column(NamedTuple):
    """A probe's readings in one unit, in order of time: own times (UTC ms) and values as sent (millionths)."""

    unit: str
    time: NDArray[int64]
    micro: NDArray[int64]


class Entry(NamedTuple):
    """A piece of work as it stands after corrections; `at` names the event that brought it (UTC ms)."""

    at: int
    work: Work


class Look(Protocol):
    """One consistent look at the yard; used on one thread, inside the `with` that opened it."""

    @property
    def engine(self) -> Engine:
        """An engine of this look's own: it may be asked anything, what it does changes nothing."""

    @property
    def now(self) -> int:
        """The yard's clock when the look was taken, UTC ms."""

    @property
    def fresh(self) -> bool:
        """False where the writer did not answer in time, so that this is how the yard stood a while ago."""

    def columns(self, probe: str, start: int, end: int) -> Sequence[Column]:
        """Return a probe's readings with start <= time <= end (UTC ms), one entry for each unit."""

    def dropped(self, probe: str, start: int, end: int) -> Sequence[int]:
        """Return the times in [start, end] (UTC ms) of readings that were flagged as suspect or worse."""

    def effects(self, after: int, until: int, place: str | None = None) -> Sequence[Effect]:
        """Return the effects with after < at <= until (UTC ms), in order."""

    def works(self, place: str, after: int = 0) -> Sequence[Entry]:
        """Return what was logged of a place and done later than `after` (UTC ms), in order of time."""

    def by_hand(self, place: str, after: int = 0) -> Sequence[HandRead]:
        """Return the newest readings of a place taken by hand later than `after` (UTC ms), in order of time.

        Those that were taken back are left out.
        """


class Yard(Protocol):
    """Where looks come from; any thread."""

    def look(self) -> AbstractContextManager[Look]:
        """Open a look.

        Raises:
            UnavailableError: There is nothing to see yet, or the record cannot be read.
        """

    def changed(self) -> int:
        """Return a number that rises whenever something was committed that may be worth looking at again."""

    def now(self) -> int:
        """Return the yard's clock, UTC ms."""


@dataclass(frozen=True, slots=True)
class Done:
    """What became of something put to the writer.

    Attributes:
        at: The event's instant (UTC ms), None where nothing in it was new.
        refusal: Why it was not taken in, a sentence, or "".
        question: What is asked before it is believed, or ""; put with `again`, it is taken as it stands.
    """

    at: int | None
    refusal: str = ""
    question: str = ""


class Doing(Protocol):
    """Puts events before the one writer and waits for its answer; any thread, blocks for seconds at most."""

    def put(self, kind: EventKind, payload: Mapping[str, Any], *, again: bool = False) -> Done:
        """Have an event taken in; `again` where it is meant as it stands, whatever may be asked about it.

        Raises:
            UnavailableError: The writer did not answer in time; the request is kept and will be taken in later.
        """


@dataclass(frozen=True, slots=True)
class Mark:
    """A stretch of a place that somebody called trouble or fine; `start` and `end` in UTC ms."""

    start: int
    end: int
    kind: str
    note: str = ""


class Marking(Protocol):
    """Where marked stretches are kept; any thread."""

    def marks(self, place: str) -> Sequence[Mark]:
        """Return the stretches of a place, in order of their start."""

    def mark(self, place: str, mark: Mark, by: str) -> None:
        """Keep a stretch.

        Raises:
            UnavailableError: It could not be kept.
        """

    def unmark(self, place: str, mark: Mark) -> None:
        """Drop a stretch that is kept; one that is not is no fault."""


@dataclass(frozen=True, slots=True)
class Paper:
    """A certificate that was made: the name of its file, when (UTC ms), and its verdict in words."""

    name: str
    made: int
    words: str


@dataclass(frozen=True, slots=True)
class RuleDay:
    """A day of 24 h as the rule counts them (UTC ms): whether it counts, what came of it, and why, "" where that says all."""

    start: int
    end: int
    counts: bool
    kind: str
    why: str


class Certifying(Protocol):
    """Makes certificates and keeps them; any thread, making one takes seconds."""

    def days(self, batch: str) -> Sequence[RuleDay]:
        """Return the days of a batch as its certificate would count them now; () where its rule counts none.

        Raises:
            MonitorError: The batch cannot be judged; the sentence says why.
        """

    def papers(self, batch: str) -> Sequence[Paper]:
        """Return the certificates made of a batch, the newest first."""

    def make(self, batch: str, by: str) -> Paper:
        """Make one of how things stand now.

        Raises:
            MonitorError: It cannot be made; the sentence says why.
        """

    def pdf(self, name: str) -> bytes:
        """Return one that was made.

        Raises:
            KeyError: There is none of that name.
        """
