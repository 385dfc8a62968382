"""The work behind entries of which only the places in the journal are kept: each is read when it is asked for."""

from collections.abc import ItemsView, Iterable, Iterator, Mapping, ValuesView
from dataclasses import asdict
from typing import Any

from monitor.app.entries.entry_log import Numbered
from monitor.app.entries.work_log import work_log
from monitor.journal import Store, payload_at
from monitor.model.work import Work, work_from

ALONE = -1
"""The row of an entry that is an event of its own; those of an import count from 0."""


def kept_places(entries: Iterable[Numbered]) -> list[Any]:
    """Return the numbers of entries of work, the events that brought them, their rows there, and corrected work itself."""
    numbers, events, rows, corrected = list[int](), list[int](), list[int](), list[Any]()
    for one in entries:
        entered = one.entered
        assert entered is not None
        assert entered.work is not None
        numbers.append(one.number)
        events.append(entered.at)
        rows.append(entered.row if entered.imported else ALONE)
        if entered.work is not entered.logged:
            given = {name: value for name, value in asdict(entered.work).items() if value not in ("", None)}
            corrected.append((one.number, given))
    return [numbers, events, rows, corrected]


class KeptWorks(Mapping[int, Work]):
    """Entries by their numbers, in order of their own time; valid while one state of the journal is held."""

    def __init__(self, store: Store, places: list[Any], later: Mapping[int, Work]) -> None:
        """Find entries in a journal.

        Args:
            store: The journal.
            places: The places of the entries, as `kept_places` returned them.
            later: Further entries, later than these.
        """
        numbers, events, rows, corrected = places
        self._store = store
        self._places = dict(zip(numbers, zip(events, rows, strict=True), strict=True))
        self._later = later
        self._known = {number: work_from(given, given["time"]) for number, given in corrected} | dict(later)
        self._events: dict[int, Any] = {}

    def __getitem__(self, number: int) -> Work:
        """Return the work of an entry."""
        known = self._known.get(number)
        if known is None:
            at, row = self._places[number]
            if at not in self._events:
                self._events[at] = payload_at(self._store, at)
            payload = self._events[at]
            known = self._known[number] = work_from(payload if row == ALONE else payload["work"][row], at)
        return known

    def __iter__(self) -> Iterator[int]:
        """Iterate over the numbers."""
        yield from self._places
        yield from self._later

    def __len__(self) -> int:
        """Return how many entries there are."""
        return len(self._places) + len(self._later)

    def values(self) -> ValuesView[Work]:
        """Return all the work, which is read at once."""
        self._read_all()
        return super().values()

    def items(self) -> ItemsView[int, Work]:
        """Return all numbers with their work, which is read at once."""
        self._read_all()
        return super().items()

    def _read_all(self) -> None:
        if len(self._known) < len(self):
            found = {(one.at, one.row if one.imported else ALONE): one.work for one in work_log(self._store)}
            for number, place in self._places.items():
                work = found[place]
                assert work is not None
                self._known[number] = work
