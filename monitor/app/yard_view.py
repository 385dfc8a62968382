"""The yard as the journal has it now, for commands that only look: an engine restored beside the running daemon."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass

from monitor.configuration import Configuration
from monitor.engine import Engine
from monitor.journal import Store, holder, open_reader, resume


@dataclass(slots=True)
class YardView:
    """What a looking command works on; `pid` is the daemon's, 0 if unknown, None if none runs."""

    engine: Engine
    store: Store
    pid: int | None
    last: int | None


@contextmanager
def yard_view(configuration: Configuration) -> Iterator[YardView]:
    """Open the journal for reading and bring an engine to where it stands.

    Raises:
        UnavailableError: There is no journal, or it cannot be read.
    """
    with open_reader(configuration.data) as store:
        resumed = resume(store, Engine, Engine.restore)
        engine = resumed.engine
        assert isinstance(engine, Engine)
        yield YardView(engine, store, holder(configuration.data), resumed.down_since)
