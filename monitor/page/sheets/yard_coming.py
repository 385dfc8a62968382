"""The days around today on the yard's sheet: places by days, with a letter for all that was done, is due, or is expected."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from zoneinfo import ZoneInfo

from monitor.diary import Letter, Week, What, days_around, week
from monitor.model.work import WorkKind
from monitor.notices import instant, local
from monitor.page.places.place_view import PlaceView
from monitor.page.ports import Look

_DONE: dict[WorkKind, What] = {
    WorkKind.TURNED: What.TURN,
    WorkKind.WATERED: What.WATER,
    WorkKind.FED: What.FEED,
    WorkKind.BEDDED: What.BEDDING,
    WorkKind.HARVESTED: What.HARVEST,
    WorkKind.SCREENED: What.SCREEN,
    WorkKind.EMPTIED: What.EMPTY,
}
"""The work that the table shows as done, each as the thing of the diary that it settles."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Day:
    """A day at the head of the table: `Mo`, `20`, and both in full."""

    weekday: str
    number: str
    words: str
    today: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Coming:
    """The table.

    Attributes:
        days: Its days.
        lines: Each place with its letters of each day.
        legend: Each letter that stands there and its words.
        looks: The ways in which letters stand there: `done`, `late`, `due`, `expected`.
    """

    days: Sequence[Day]
    lines: Sequence[tuple[PlaceView, Sequence[Sequence[Letter]]]]
    legend: Sequence[tuple[str, str]]
    looks: frozenset[str]


def coming_of(look: Look, views: Sequence[PlaceView]) -> Coming:
    """Return the table of the days around today.

    Args:
        look: The look.
        views: All places in their order. Those with nothing in these days are left out.
    """
    zone = ZoneInfo(look.engine.state.settings.site.time_zone)
    days = days_around(look.now, zone)
    start, until = instant(days[0], 0, zone), instant(days[-1] + timedelta(days=1), 0, zone)
    done = [
        (entry.work.time, view.place, what)
        for view in views
        for entry in look.works(view.place, start - 1)
        if entry.work.place == view.place
        and entry.work.time <= look.now
        and (what := _DONE.get(entry.work.kind)) is not None
    ]
    found = week(done, look.coming(until), look.now, zone)
    lines = [(view, [found.cells.get((view.place, day), ()) for day in days]) for view in views]
    lines = [(view, cells) for view, cells in lines if any(cells)]
    looks = frozenset(letter.look.value for _, cells in lines for cell in cells for letter in cell)
    return Coming(
        days=[_day(day, local(look.now, zone).date()) for day in days],
        lines=lines,
        legend=_legend(found, lines),
        looks=looks,
    )


def _legend(found: Week, lines: Sequence[tuple[PlaceView, Sequence[Sequence[Letter]]]]) -> list[tuple[str, str]]:
    shown = {letter.letter for _, cells in lines for cell in cells for letter in cell}
    return sorted((letter, words) for letter, words in found.legend.items() if letter in shown)


def _day(day: date, today: date) -> Day:
    words = f"{day:%A} {day.day} {day:%B}"
    return Day(weekday=f"{day:%a}"[:2], number=str(day.day), words=words, today=day == today)
