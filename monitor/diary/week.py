"""The days around today as a table of places by days: done, due, and expected if it goes on so.

1. Today and days ahead have what falls due; the days before have what was done. What fell due before today stands at today.
2. A thing that comes again by itself (a feeding by its plan, the next turnings of a rule) stands on the later days as expected:
   nobody can know that it will be done in time.
3. A letter stands for each kind; the same table of words says what it means, so no letter goes without its words.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum
from zoneinfo import ZoneInfo

from monitor.diary.due import Due, What
from monitor.diary.due_words import title
from monitor.model.times import DAY_MS
from monitor.notices import local

BEFORE, AHEAD = 2, 4
"""Days of the table before today and after it."""


class Look(StrEnum):
    """The ways in which a letter stands in the table."""

    DONE = "done"
    LATE = "late"
    DUE = "due"
    EXPECTED = "expected"


LETTERS: dict[What, str] = {
    What.KEEP_OFF: "!",
    What.TURN: "T",
    What.READ: "R",
    What.WATER: "W",
    What.BEDDING: "B",
    What.FEED: "F",
    What.LIFT: "L",
    What.HARVEST: "H",
    What.SCREEN: "S",
    What.TEST: "Q",
    What.CERTIFY: "C",
    What.CALIBRATE: "K",
    What.EMPTY: "E",
    What.SHADE: "D",
    What.WRAP: "P",
}
"""The letter of each kind of thing that can be done at a place."""
EXPECTED: dict[str, tuple[str, str]] = {
    "met": ("M", "its rule is met"),
    "ready": ("V", "ready for worms, at the earliest"),
}
"""The letter and the words of each thing that can be expected of a heap, by the beginning of its `of`."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Letter:
    """A letter in the table: what it is, how it stands, and the whole in words."""

    letter: str
    look: Look
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Week:
    """The table.

    Attributes:
        days: Its days, in order.
        cells: The letters of a place on a day, without repeats.
        legend: Each letter that stands there, and its words.
    """

    days: tuple[date, ...]
    cells: Mapping[tuple[str, date], tuple[Letter, ...]]
    legend: Mapping[str, str]


def days_around(now: int, zone: ZoneInfo) -> tuple[date, ...]:
    """Return the days of the table around an instant (UTC ms), in order."""
    today = local(now, zone).date()
    return tuple(today + timedelta(days=number) for number in range(-BEFORE, AHEAD + 1))


def week(done: Iterable[tuple[int, str, What]], dues: Iterable[Due], now: int, zone: ZoneInfo) -> Week:
    """Return the table around an instant.

    Args:
        done: What was done, as (when in UTC ms, place, kind).
        dues: What falls due.
        now: The instant, UTC ms.
        zone: The yard's time zone.
    """
    today, days = local(now, zone).date(), days_around(now, zone)
    cells: dict[tuple[str, date], list[Letter]] = {}
    legend: dict[str, str] = {}

    def put(place: str, day: date, letter: str | None, look: Look, words: str) -> None:
        if letter is None or not days[0] <= day <= days[-1]:
            return
        legend.setdefault(letter, words)
        here = cells.setdefault((place, day), [])
        if all((one.letter, one.look) != (letter, look) for one in here):
            here.append(Letter(letter=letter, look=look, words=words))

    for at, place, what in sorted(done):
        put(place, local(at, zone).date(), LETTERS.get(what), Look.DONE, _plain(what))
    for one in dues:
        day = max(today, local(one.due_ms, zone).date())
        look = Look.EXPECTED if one.expected else Look.LATE if one.slack_ms(now) < 0 else Look.DUE
        letter, words = _of(one)
        put(one.place, day, letter, look, words)
        if one.again_ms is not None:
            again = max(one.due_ms, now) + one.again_ms
            while local(again, zone).date() <= days[-1]:
                put(one.place, local(again, zone).date(), letter, Look.EXPECTED, words)
                again += max(one.again_ms, DAY_MS)
        for again in one.then_ms:
            put(one.place, local(again, zone).date(), letter, Look.EXPECTED, words)
    return Week(days=days, cells={key: tuple(some) for key, some in cells.items()}, legend=legend)


def _of(one: Due) -> tuple[str | None, str]:
    """Return the letter of a thing, None if it has none here, and its words."""
    if one.expected:
        return EXPECTED.get(one.of.partition("/")[0], (None, ""))
    return LETTERS.get(one.what), title(one)


def _plain(what: What) -> str:
    """Return the words of a kind of thing, of none in particular."""
    return title(Due(due_ms=0, place="", what=what, why=""))
