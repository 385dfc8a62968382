"""The yard as the journal has it now, for commands that only look: an engine restored beside the running daemon.

The engine is imported where it is restored: what the log alone answers need not wait for it.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from monitor.journal import Store, holder, open_reader, resume
from monitor.model.events import EventKind
from monitor.model.settings import Settings

if TYPE_CHECKING:
    from monitor.configuration import Configuration
    from monitor.engine import Engine


@dataclass(slots=True)
class YardView:
    """One consistent state of the journal, valid while the view is open.

    Attributes:
        engine: An engine brought up to the end of the journal; asking it changes nothing.
        store: The journal.
        pid: The daemon's process, 0 if unknown, None if none runs.
        since: When the daemon started (UTC ms), None if none runs.
        last: The end of the record (UTC ms), None if nothing was ever recorded.
        faults: Sentences about snapshots that could not be used.
    """

    engine: Engine
    store: Store
    pid: int | None
    since: int | None
    last: int | None
    faults: list[str]


def heaps_left_behind(engine: Engine, settings: Settings) -> dict[str, int]:
    """Return the piles that the settings no longer name although the record has a heap there, which nothing watches.

    Returns:
        The time at which each heap was built, or first read, UTC ms, by the pile's id.
    """
    batches = engine.state.batches
    return {pile: batches.batches[one].built for pile, one in batches.lying.items() if pile not in settings.piles}


def left_behind_words(pile: str, built: int, settings: Settings) -> str:
    """Return a sentence about a heap on a pile that the settings no longer name, and how to mend that.

    Args:
        pile: The pile's id.
        built: When the heap was built, UTC ms.
        settings: The settings in force, for the time zone.
    """
    from monitor.notices import say_date  # noqa: PLC0415 (few views need its words)

    day = say_date(built, ZoneInfo(settings.site.time_zone))
    return (
        f"by the record a heap has lain there since {day}, and the configuration names no such pile, so nothing watches it; "
        f"write [piles.{pile}] again, and to give the pile another id log the heap as moved there first"
    )


@contextmanager
def yard_view(configuration: Configuration) -> Iterator[YardView]:
    """Open the journal for reading and bring an engine up to its end.

    Raises:
        UnavailableError: There is no journal, or it cannot be read.
    """
    with open_reader(configuration.data) as store, store.view():
        yield view_of(store)


def view_of(store: Store) -> YardView:
    """Bring an engine up to the end of a journal of which one consistent state is held (`Store.view`).

    Without that the daemon could commit between reading the snapshot and reading the later events.

    Raises:
        UnavailableError: The journal cannot be read.
    """
    from monitor.engine import Engine  # noqa: PLC0415 (it takes longer to import than most questions to answer)

    resumed = resume(store, Engine, Engine.restore)
    engine = resumed.engine
    assert isinstance(engine, Engine)
    pid = holder(store.folder)
    since = store.last_of(EventKind.STARTED) if pid is not None else None
    return YardView(engine, store, pid, since, resumed.down_since, resumed.faults)
