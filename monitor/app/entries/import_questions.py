"""Asks about work and readings by hand in files before an import believes them.

Rules: each row is checked as if it were logged after those before it; rows are taken in order of their time. A pile whose
building is not logged holds a heap from its first core reading in the files. That work was done long ago raises no question,
because an import is meant for the past.
"""

import re
from collections import deque
from collections.abc import Iterable, Mapping, Sequence
from contextlib import ExitStack

from monitor.app.entries.entry_log import Numbered, entry_log
from monitor.app.entries.questioning import yard_of
from monitor.app.yard.sizes_of_yard import sizes_of
from monitor.app.yard.yard_view import yard_view
from monitor.configuration import Configuration
from monitor.engine import (
    Engine,
    HandSpot,
    LoggedPast,
    Standing,
    Yard,
    YardSizes,
    is_core,
    questions,
    questions_of_readings,
)
from monitor.journal import journal_path
from monitor.model.readings import Reading
from monitor.model.settings import Settings
from monitor.model.times import DAY_MS
from monitor.model.units import to_milli
from monitor.model.work import Work, WorkKind

_FAR_AWAY_MS = 800 * DAY_MS


def questions_of_files(
    configuration: Configuration,
    works: Sequence[Work],
    rows: Iterable[tuple[int, str, int, str]],
    hands: Sequence[Reading],
    now: int,
) -> list[tuple[Work | Reading, str]]:
    """Return the questions about new work and readings by hand in files, each with the row that it is about.

    Args:
        configuration: The yard's configuration.
        works: The work, in order of time.
        rows: All readings that come with it, as (time in UTC ms, probe, value in millionths, unit).
        hands: Those of them that were taken by hand, in any order.
        now: Now, UTC ms.
    """
    if not works and not hands:
        return []
    settings = configuration.settings
    with ExitStack() as stack:
        engine, entries = Engine(), list[Numbered]()
        if journal_path(configuration.data).exists():
            view = stack.enter_context(yard_view(configuration))
            engine = view.engine
            entries = entry_log(view.store, [*settings.piles, *settings.bins])
    sizes = sizes_of(configuration)
    return _asked(settings, engine, entries, (works, hands), _first_readings(settings, rows), now, sizes)


def remarks_on_work(settings: Settings, works: Sequence[Work], firsts: Mapping[str, int]) -> list[tuple[Work, str]]:
    """Return remarks on the work of files that are believed without asking, each with its work.

    Args:
        settings: Settings with the places that the files name.
        works: The work, in any order.
        firsts: The first core reading of each pile, UTC ms.
    """
    if not works:
        return []
    log = sorted(works, key=lambda one: one.time)
    # `now` is put years later, so that every day in the texts is named with its year.
    asked = _asked(settings, Engine(), [], (log, ()), firsts, log[-1].time + _FAR_AWAY_MS, YardSizes())
    said = [(one, f"{_statement(question)} It is taken as it stands.") for one, question in asked]
    return [(one, words) for one, words in said if isinstance(one, Work)]


def _statement(question: str) -> str:
    """Return the statements of a question, without the sentences that ask."""
    sentences = re.split(r"(?<=[.?]) (?=[A-Z])", question)
    return " ".join(one for one in sentences if not one.endswith("?")) or question


def _asked(
    settings: Settings,
    engine: Engine,
    entries: list[Numbered],
    brought: tuple[Sequence[Work], Sequence[Reading]],
    first: Mapping[str, int],
    now: int,
    sizes: YardSizes,
) -> list[tuple[Work | Reading, str]]:
    state = engine.state
    # This engine belongs to the command alone, so it may take settings that the yard's engine gets at its next start.
    state.settings = settings
    engine.core.renew()
    book = engine.core.batches
    for place, pile in settings.piles.items():
        if pile.built is not None and place not in state.batches.settled:
            book.begin(place, pile.built)
    asking = _Asking(engine, now, sizes)
    asking.know(yard_of(engine, entries, now, sizes).entries)
    works, hands = brought
    found: list[tuple[Work | Reading, str]] = []
    # Work goes before readings of the same instant.
    rows: list[Work | Reading] = [*works, *hands]
    for one in sorted(rows, key=lambda one: (one.time, isinstance(one, Reading))):
        for place, time in first.items():
            if time <= one.time:
                book.heard(place, time)
        asked = asking.of_work(one) if isinstance(one, Work) else asking.of_reading(one)
        found += [(one, question) for question in asked]
    return found


class _Asking:
    """Asks about the rows of files one after another, each as if those before it were logged."""

    def __init__(self, engine: Engine, now: int, sizes: YardSizes) -> None:
        self._engine = engine
        self._now = now
        self._sizes, self._past = sizes, LoggedPast(sizes)
        self._logged: deque[Standing] = deque()
        """The entries of the log that are not in `_past` yet, in order of time."""
        # Questions compare only the same work at the same place within a day; keeping just those makes long files quick.
        self._known: dict[tuple[str, WorkKind], list[Standing]] = {}
        self._there: dict[str, list[Standing]] = {}
        self._carried: dict[str, str] = {}
        self._empty: set[str] = set()

    def know(self, entries: Iterable[Standing]) -> None:
        """Take in the entries of the log."""
        entries = sorted(entries, key=lambda one: (one.work.time, one.number))
        self._logged.extend(entries)
        for one in entries:
            self._known.setdefault((one.work.place, one.work.kind), []).append(one)
            self._note(one)

    def of_work(self, work: Work) -> list[str]:
        """Return the questions about a piece of work, and take it in."""
        alike = self._known.setdefault((work.place, work.kind), [])
        alike[:] = [one for one in alike if one.work.time > work.time - DAY_MS]
        while self._logged and self._logged[0].work.time <= work.time:
            known = self._logged.popleft()
            self._past.take(known.number, known.work)
        asked = questions(self._yard(alike), work)
        self._past.take(0, work)
        standing = Standing(0, work)
        alike.append(standing)
        self._note(standing)
        self._engine.core.batches.apply(work)
        if work.kind is WorkKind.PROBE_IN:
            self._carried[work.probe] = work.place
        return asked

    def of_reading(self, row: Reading) -> list[str]:
        """Return the questions about a reading by hand, and take it in; that nothing lies at a place is asked once."""
        core = self._engine.core
        where = core.settings.place_of_hand(row.probe)
        if where is None:
            return []
        place, spot = where
        if not core.cores_of(place):
            core.batches.heard(place, row.time)
        if place in core.settings.piles and core.batches.at(place, row.time) is None:
            again = place in self._empty
            self._empty.add(place)
            if again:
                return []
        asked = questions_of_readings(self._yard(self._there.get(place, ())), [row])
        known, milli = core.state.hands.get(row.probe), to_milli(row.micro, row.unit)
        if known is None or known.time < row.time:
            core.state.hands[row.probe] = HandSpot(place, spot, row.time, milli, row.time)
        return asked

    def _note(self, one: Standing) -> None:
        for place in {one.work.place, one.work.to}:
            self._there.setdefault(place, []).append(one)

    def _yard(self, entries: Sequence[Standing]) -> Yard:
        engine, carried = self._engine, self._carried
        return Yard(
            core=engine.core,
            entries=entries,
            now=self._now,
            place_of=lambda probe: carried.get(probe) or engine.place_of(probe),
            far_back=False,
            whole_log=False,
            sizes=self._sizes,
            past=self._past,
        )


def _first_readings(settings: Settings, rows: Iterable[tuple[int, str, int, str]]) -> dict[str, int]:
    """Return the time of each pile's first reading by a core probe, UTC ms."""
    cores = {probe: one.place for probe, one in settings.probes.items() if is_core(one)}
    found: dict[str, int] = {}
    for time, probe, _, _ in rows:
        pile = cores.get(probe)
        if pile is not None and time < found.get(pile, time + 1):
            found[pile] = time
    return found
