"""The page's need of the log as people know it, by numbers: entries found again, put right, taken back; `app` fills it."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Protocol

from monitor.model.readings import HandRead
from monitor.model.work import Work
from monitor.page.ports import Done


@dataclass(frozen=True, slots=True, kw_only=True)
class LoggedEntry:
    """An entry of the log; times in UTC ms.

    Attributes:
        number: The number by which people know it.
        entered: When it came into the record.
        time: When the work was done or the reading taken.
        place: The place that it is about.
        words: The entry in words, with its place.
        by: Who did it, or "".
        work: The work with corrections applied; None for readings by hand.
        reads: The readings by hand that it brought, those taken back left out unless all are.
        undone: Whether it was taken back.
        mended: When it was last put right, or None.
        mended_by: Who put it right last, or took it back, or "".
    """

    number: int
    entered: int
    time: int
    place: str
    words: str
    by: str
    work: Work | None = None
    reads: tuple[HandRead, ...] = ()
    undone: bool = False
    mended: int | None = None
    mended_by: str = ""


class Mending(Protocol):
    """Puts entries of the log right, or takes them back; any thread may call it."""

    def number(self, at: int, row: int, series: str, time: int) -> int:
        """Return the number of an entry.

        Args:
            at: The event that brought it, UTC ms.
            row: Of work, its row among those of an import, from 0.
            series: Of a reading by hand, its series; "" for work.
            time: Of a reading, when it was taken, UTC ms.

        Raises:
            MisuseError: There is no such entry.
        """

    def entry(self, number: int) -> LoggedEntry:
        """Return an entry.

        Raises:
            MisuseError: There is no entry of that number.
        """

    def mend(self, number: int, told: Mapping[str, str], at: int | None, by: str, *, again: bool) -> Done:
        """Put an entry right.

        Args:
            number: The entry.
            told: The fields that change, by name, as people type them; "" empties a field. The value of a reading is called
                `value:` and its spot.
            at: The right time, UTC ms; None: unchanged.
            by: Who mends it.
            again: Whether the person confirmed it, so that no question is asked.

        Returns:
            What became of it; a question stands in its `question`.

        Raises:
            MisuseError: It cannot be so; the sentence says why.
        """

    def take_back(self, number: int, by: str, *, again: bool) -> Done:
        """Take an entry back.

        Args:
            number: The entry.
            by: Who takes it back.
            again: Whether the person confirmed it, so that no question is asked.

        Returns:
            What became of it; a question stands in its `question`.

        Raises:
            MisuseError: It cannot be taken back; the sentence says why.
        """
