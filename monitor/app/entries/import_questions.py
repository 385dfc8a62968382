"""Asks about the work in a file before an import believes it: each row is checked as if it were logged after those before it.

Rules: rows are taken in order of their time. A pile whose building is not logged holds a heap from its first core reading in
the files. That work was done long ago raises no question, because an import is meant for the past.
"""

import re
from collections.abc import Iterable, Mapping, Sequence
from contextlib import ExitStack

from monitor.app.entries.entry_log import Numbered, entry_log
from monitor.app.entries.questioning import yard_of
from monitor.app.yard.yard_view import yard_view
from monitor.configuration import Configuration
from monitor.engine import Engine, Standing, Yard, is_core, questions
from monitor.journal import journal_path
from monitor.model.settings import Settings
from monitor.model.times import DAY_MS
from monitor.model.work import Work, WorkKind

_FAR_AWAY_MS = 800 * DAY_MS


def questions_of_work(
    configuration: Configuration, works: Sequence[Work], rows: Iterable[tuple[int, str, int, str]], now: int
) -> list[tuple[Work, str]]:
    """Return the questions about new work in files, each with the work that it is about.

    Args:
        configuration: The yard's configuration.
        works: The work, in order of time.
        rows: The readings that come with it, as (time in UTC ms, probe, value in millionths, unit).
        now: Now, UTC ms.
    """
    if not works:
        return []
    settings = configuration.settings
    with ExitStack() as stack:
        engine, entries = Engine(), list[Numbered]()
        if journal_path(configuration.data).exists():
            view = stack.enter_context(yard_view(configuration))
            engine = view.engine
            entries = entry_log(view.store, [*settings.piles, *settings.bins])
    return _asked(settings, engine, entries, works, _first_readings(settings, rows), now)


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
    asked = _asked(settings, Engine(), [], log, firsts, log[-1].time + _FAR_AWAY_MS)
    return [(work, f"{_statement(question)} It is taken as it stands.") for work, question in asked]


def _statement(question: str) -> str:
    """Return the statements of a question, without the sentences that ask."""
    sentences = re.split(r"(?<=[.?]) (?=[A-Z])", question)
    return " ".join(one for one in sentences if not one.endswith("?")) or question


def _asked(
    settings: Settings,
    engine: Engine,
    entries: list[Numbered],
    works: Sequence[Work],
    first: Mapping[str, int],
    now: int,
) -> list[tuple[Work, str]]:
    state = engine.state
    # This engine belongs to the command alone, so it may take settings that the yard's engine gets at its next start.
    state.settings = settings
    engine.core.renew()
    book = engine.core.batches
    for place, pile in settings.piles.items():
        if pile.built is not None and place not in state.batches.settled:
            book.begin(place, pile.built)
    carried: dict[str, str] = {}
    # Questions compare only the same work at the same place within a day; keeping just those makes long files quick.
    known: dict[tuple[str, WorkKind], list[Standing]] = {}
    for one in yard_of(engine, entries, now).entries:
        known.setdefault((one.work.place, one.work.kind), []).append(one)
    found: list[tuple[Work, str]] = []
    for work in works:
        for place, time in first.items():
            if time <= work.time:
                book.heard(place, time)
        alike = known.setdefault((work.place, work.kind), [])
        alike[:] = [one for one in alike if one.work.time > work.time - DAY_MS]
        yard = Yard(
            core=engine.core,
            entries=alike,
            now=now,
            place_of=lambda probe: carried.get(probe) or engine.place_of(probe),
            far_back=False,
        )
        found += [(work, question) for question in questions(yard, work)]
        alike.append(Standing(0, work))
        book.apply(work)
        if work.kind is WorkKind.PROBE_IN:
            carried[work.probe] = work.place
    return found


def _first_readings(settings: Settings, rows: Iterable[tuple[int, str, int, str]]) -> dict[str, int]:
    """Return the time of each pile's first reading by a core probe, UTC ms."""
    cores = {probe: one.place for probe, one in settings.probes.items() if is_core(one)}
    found: dict[str, int] = {}
    for time, probe, _, _ in rows:
        pile = cores.get(probe)
        if pile is not None and time < found.get(pile, time + 1):
            found[pile] = time
    return found
