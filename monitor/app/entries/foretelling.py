"""Tells the changes of an entry and the questions about it, from an engine beside the daemon; nothing is taken in."""

import json
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass

from monitor.app.console.refusals import ended
from monitor.app.entries.entries import Entry
from monitor.app.entries.hand_entries import hand_meaning
from monitor.app.entries.questioning import judge
from monitor.app.entries.rehearsal import losses
from monitor.app.yard.sizes_of_yard import sizes_of
from monitor.app.yard.yard_view import yard_view
from monitor.configuration import Configuration, canonical_settings
from monitor.engine import Engine, foreseen_of
from monitor.journal import Store, journal_path
from monitor.model.errors import MisuseError
from monitor.model.events import Event, EventKind
from monitor.model.work import work_from
from monitor.recordings import MemoryHistory


@dataclass(frozen=True, slots=True)
class Foretold:
    """The outcome that an entry would have.

    Attributes:
        changes: Its changes, in sentences; "" for none but the log.
        question: The question before it is believed; "" for none.
    """

    changes: str
    question: str


@dataclass(frozen=True, slots=True)
class _Beside:
    engine: Engine
    store: Store | None


def foretell(configuration: Configuration, entry: Entry, now: int, *, again: bool) -> Foretold:
    """Return the outcome that an entry would have.

    Args:
        configuration: The yard's configuration.
        entry: The entry.
        now: Now, UTC ms.
        again: Whether it would be confirmed, so that nothing is asked.

    Raises:
        MisuseError: The entry would be refused; the message says why.
    """
    with _beside(configuration, now) as known:
        sizes = sizes_of(configuration)
        judged = judge(known, configuration.settings, now, entry.kind, entry.payload, again=again, sizes=sizes)
        if judged.refusal:
            raise MisuseError(ended(judged.refusal))
        return Foretold(_changes(known, configuration, entry, now), judged.question)


def changes_ahead(configuration: Configuration, entry: Entry, now: int) -> str:
    """Return the changes that an entry of work would make, in sentences; "" for none but the log, or for other entries.

    Args:
        configuration: The yard's configuration.
        entry: The entry.
        now: Now, UTC ms.
    """
    if entry.kind is not EventKind.WORK:
        return ""
    with _beside(configuration, now) as known:
        return _changes(known, configuration, entry, now)


def _changes(known: _Beside, configuration: Configuration, entry: Entry, now: int) -> str:
    if entry.kind is EventKind.WORK:
        return foreseen_of(known.engine.core, work_from(entry.payload, now), now)
    if entry.kind is EventKind.READINGS:
        return hand_meaning(configuration.settings, entry.payload, now)
    if entry.kind is EventKind.CORRECTION and known.store is not None:
        return " ".join(losses(known.engine, known.store, entry.payload, now)) or "No heap loses anything by it."
    return ""


@contextmanager
def _beside(configuration: Configuration, now: int) -> Iterator[_Beside]:
    """Yield an engine at the end of the record, under the configuration's settings as the next session would be."""
    if not journal_path(configuration.data).exists():
        engine = Engine()
        _follow(engine, configuration, now)
        yield _Beside(engine, None)
        return
    with yard_view(configuration) as view:
        if canonical_settings(view.engine.state.settings) != canonical_settings(configuration.settings):
            _follow(view.engine, configuration, max(now, view.engine.last + 1), view.store)
        yield _Beside(view.engine, view.store)


def _follow(engine: Engine, configuration: Configuration, at: int, store: Store | None = None) -> None:
    settings = {"settings": json.loads(canonical_settings(configuration.settings))}
    engine.feed(Event(at, EventKind.SETTINGS, settings), MemoryHistory() if store is None else store)
