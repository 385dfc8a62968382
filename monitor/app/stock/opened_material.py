"""The yard's material, opened for one command: the graph at once, the engine only if somebody asks about heat."""

import gc
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cached_property

from monitor.app.material.kept_material import read_material
from monitor.app.yard.yard_view import YardView, view_of
from monitor.configuration import Configuration
from monitor.journal import Store, open_reader
from monitor.material import MaterialRecord


class OpenedMaterial:
    """One consistent state of the record; valid inside the `with` that opened it."""

    def __init__(self, store: Store, configuration: Configuration) -> None:
        """Look at an open journal of which one state is held.

        Args:
            store: The journal.
            configuration: The configuration in force.
        """
        self.store, self._configuration = store, configuration

    @cached_property
    def view(self) -> YardView:
        """The yard, with an engine brought up to its end."""
        return view_of(self.store)

    @cached_property
    def record(self) -> MaterialRecord:
        """The graph of the yard's material, and its stock."""
        record = read_material(self.store, self._configuration, lambda: self.view.engine)
        gc.freeze()  # the command's whole answer is about it, so it is never searched for garbage
        return record


@contextmanager
def opened_material(configuration: Configuration) -> Iterator[OpenedMaterial]:
    """Open the journal for reading and hold one state of it.

    Raises:
        UnavailableError: There is no journal, or it cannot be read.
    """
    with open_reader(configuration.data) as store, store.view():
        yield OpenedMaterial(store, configuration)
