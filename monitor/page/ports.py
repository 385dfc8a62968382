"""The page's needs of the rest of the program, as small protocols; `app` fills them.

Rules: the page never sees the journal, the configuration or the writer. It reads through a look (one consistent state, its own
copy), and acts through `Doing`, with events that the one writer takes in or refuses.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, NamedTuple, Protocol

from monitor.diary import Due
from monitor.drawing import BagLabel
from monitor.engine import Engine
from monitor.model.effects import Effect
from monitor.model.events import EventKind
from monitor.model.readings import HandRead
from monitor.model.work import Work
from monitor.page.material_views import LotView, RecallView, StockView
from monitor.page.season_views import SeasonShown
from monitor.reports import Section, Span

if TYPE_CHECKING:
    from numpy import int64
    from numpy.typing import NDArray


class Column(NamedTuple):
    """A probe's readings in one unit, in order of time: own times (UTC ms) and values as sent (millionths)."""

    unit: str
    time: NDArray[int64]
    micro: NDArray[int64]


class Entry(NamedTuple):
    """A piece of work with corrections applied.

    Attributes:
        at: The event that brought it, UTC ms.
        work: The work.
        row: Its row among those of an import, from 0.
    """

    at: int
    work: Work
    row: int = 0


@dataclass(frozen=True, slots=True)
class Stocked:
    """A material in stock, for a mix.

    Attributes:
        material: Its name.
        amount: How much there is, a number; "" if nobody can say.
        measure: The unit of that.
        spoils: Whether it rots while it waits, so that it should go first.
        hint: What to know before it goes in, or "".
    """

    material: str
    amount: str
    measure: str
    spoils: bool
    hint: str


class Material(Protocol):
    """The yard's material, as far as the record knows it; valid inside the look that gave it."""

    def stock(self, *, names: bool) -> StockView:
        """Return the stock and the lots; without `names` nobody is named."""

    def lot(self, lot: str, *, names: bool) -> LotView:
        """Return the sheet of a lot.

        Args:
            lot: Its id.
            names: Whether people may be named; False: nobody is.

        Raises:
            MonitorError: There is no such lot; the sentence says which are.
        """

    def recall(self, what: str) -> RecallView:
        """Return the lots that have something of a delivery, heap, bed, harvest or bin, and who got it.

        Raises:
            MonitorError: Nothing has that name.
        """

    def doubts(self, lot: str, amount: str, receiver: str, at: int) -> str:
        """Return the doubts about giving some of a lot out, as a question; "" if there are none.

        Args:
            lot: The lot.
            amount: The amount, as typed.
            receiver: Who got it.
            at: When it was given, UTC ms.

        Raises:
            MonitorError: There is no such lot, or the amount cannot be understood.
        """

    def doubts_of_making(self, source: str, amount: str, moisture: str, at: int) -> str:
        """Return the doubts about making a lot, as a question; "" if there are none.

        Args:
            source: A harvest, a fraction or a heap.
            amount: How much of it, as typed; "": all that is left.
            moisture: Its moisture, as typed, or "".
            at: When it is made, UTC ms.

        Raises:
            MonitorError: The source cannot become a lot, or the amount or the moisture cannot be understood.
        """

    def new_lot(self, source: str, at: int) -> tuple[str, str]:
        """Return the source of a new lot, as the record names it, and the id that the lot gets.

        Args:
            source: A harvest, a fraction or a heap.
            at: When it is made, UTC ms.

        Raises:
            MonitorError: The source cannot become a lot.
        """

    def label(self, lot: str) -> BagLabel:
        """Return the label of a lot's bags, without a code.

        Raises:
            MonitorError: There is no such lot.
        """


class Look(Protocol):
    """A consistent look at the yard; for one thread, inside the `with` that opened it."""

    @property
    def engine(self) -> Engine:
        """An engine of this look alone; asking it anything changes nothing."""

    @property
    def now(self) -> int:
        """The daemon's time when the look was taken, UTC ms."""

    @property
    def fresh(self) -> bool:
        """False if the writer did not answer in time, so that the look shows the yard of a while ago."""

    @property
    def order(self) -> Sequence[str]:
        """The ids of all piles and bins in the order of the configuration, which people know by heart."""

    @property
    def fire_number(self) -> str:
        """The number of the fire service that the configuration has for the site; "" for none."""

    @property
    def fire_address(self) -> str:
        """The yard's place in the configuration's words for the fire service; "" for none."""

    def columns(self, probe: str, start: int, end: int) -> Sequence[Column]:
        """Return a probe's readings, one column for each unit.

        Args:
            probe: Name of the series.
            start: First instant, UTC ms.
            end: Last instant, inclusive, UTC ms.
        """

    def dropped(self, probe: str, start: int, end: int) -> Sequence[int]:
        """Return the times of readings flagged as suspect or worse.

        Args:
            probe: Name of the series.
            start: First instant, UTC ms.
            end: Last instant, inclusive, UTC ms.
        """

    def effects(self, after: int, until: int, place: str | None = None) -> Sequence[Effect]:
        """Return effects in order.

        Args:
            after: Exclusive lower bound of `at`, UTC ms.
            until: Inclusive upper bound, UTC ms.
            place: Id of a place; None: all.
        """

    def works(self, place: str, after: int = 0) -> Sequence[Entry]:
        """Return the work of a place done later than `after` (UTC ms), in order of time."""

    def air_ahead(self, *, names: bool) -> str:
        """Return the forecast of the air for tomorrow, else for today: `tomorrow 97 °F, typed in by Ann`; "" for none.

        Args:
            names: Whether it may say who typed it in.
        """

    def authors(self) -> Sequence[str]:
        """Return the names beside pieces of work, each once, the one who wrote last first."""

    def diary(self, until: int) -> Sequence[Due]:
        """Return the things that fall due before `until` (UTC ms), in order."""

    def coming(self, until: int) -> Sequence[Due]:
        """Return the things that fall due at piles and bins before `until` (UTC ms), in order: fit for every look."""

    def calendar(self, until: int) -> bytes:
        """Return the things that fall due before `until` (UTC ms) as an iCalendar file."""

    def stock(self) -> Sequence[Stocked]:
        """Return the materials in stock, what spoils first in front."""

    def material(self) -> Material:
        """Return the yard's material."""

    def report(self, span: Span) -> Sequence[Section]:
        """Return the report of some days, in sections."""

    def report_csv(self, span: Span) -> bytes:
        """Return the report of some days as a file for a spreadsheet."""

    def season(self, span: Span, piles: Sequence[str], bins: Sequence[str], heaps: range) -> SeasonShown:
        """Return some months: heaps beside each other by days since they were built, and bins by the day.

        Args:
            span: The months, from the first day of one to the last of another.
            piles: The places whose heaps are shown.
            bins: The bins that are shown.
            heaps: Which of these heaps are worked out, counted from the one built last.
        """

    def by_hand(self, place: str, after: int = 0) -> Sequence[HandRead]:
        """Return the newest readings of a place taken by hand later than `after` (UTC ms), in order of time.

        Readings that were taken back are left out.
        """


class Yard(Protocol):
    """Opens looks; any thread may call it."""

    def look(self) -> AbstractContextManager[Look]:
        """Open a look.

        Raises:
            UnavailableError: There is no state to see yet, or the record cannot be read.
        """

    def changed(self) -> int:
        """Return a number that rises whenever a commit may have changed what the page shows."""

    def now(self) -> int:
        """Return the daemon's time, UTC ms."""


@dataclass(frozen=True, slots=True)
class Done:
    """The outcome of a request to the writer.

    Attributes:
        at: The event's instant (UTC ms); None if it brought nothing new.
        refusal: Why it was not taken in, a sentence, or "".
        question: A question to answer first, or ""; the same request with `again` is taken in.
        remark: A remark on what was taken in, a sentence, or "".
    """

    at: int | None
    refusal: str = ""
    question: str = ""
    remark: str = ""


class Doing(Protocol):
    """Puts events before the one writer and waits for its answer, some seconds at most; any thread may call it."""

    def put(self, kind: EventKind, payload: Mapping[str, Any], *, again: bool = False) -> Done:
        """Have an event taken in, and return the outcome.

        Args:
            kind: The kind of event.
            payload: The event's payload.
            again: Whether the person confirmed it, so that no question is asked.

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
    """Keeps marked stretches; any thread may call it."""

    def marks(self, place: str) -> Sequence[Mark]:
        """Return the stretches of a place, in order of their start."""

    def mark(self, place: str, mark: Mark, by: str) -> None:
        """Keep a stretch.

        Args:
            place: Id of the place.
            mark: The stretch.
            by: Who marked it.

        Raises:
            UnavailableError: It could not be kept.
        """

    def unmark(self, place: str, mark: Mark) -> None:
        """Drop a stretch; one that is not kept is ignored."""
