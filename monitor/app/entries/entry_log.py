"""Lists all entries ever made (work, and readings by hand), each with the short number by which people know it.

A number is an entry's position in the order of arrival in the record. It follows from the record alone and never changes: an
entry taken back keeps its number, and the days that retention dropped left a count of their entries (`journal.retention`).
"""

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass

from monitor.app.entries.hand_log import series_reads, with_words
from monitor.app.entries.work_log import Entered, entered_by, work_log
from monitor.journal import Store, dropped_entries
from monitor.model.events import Event, EventKind
from monitor.model.flags import FlagReason
from monitor.model.readings import HAND_PREFIX, HandRead, hand_spot, is_hand
from monitor.model.work import Work


@dataclass(slots=True, kw_only=True)
class Numbered:
    """An entry with its number.

    Attributes:
        number: The number by which people know it.
        at: The event that brought it, UTC ms.
        time: When the work was done or the reading taken, with corrections applied, UTC ms.
        place: The place; for a move, the place it began at.
        entered: The piece of work; None for readings.
        readings: The readings by hand of one event, each with its series: a single one, or a round over several spots.
        imported: Whether it came out of a file.
        undone: Whether it was taken back.
    """

    number: int
    at: int
    time: int
    place: str
    entered: Entered | None = None
    readings: tuple[tuple[str, HandRead], ...] = ()
    imported: bool = False
    undone: bool = False

    @property
    def work(self) -> Work | None:
        """The work with corrections applied; for work taken back, as it stood before; None for readings."""
        return None if self.entered is None else self.entered.work or self.entered.logged

    def is_of(self, place: str) -> bool:
        """Return whether the entry concerns a place."""
        return place == self.place or (self.work is not None and self.work.to == place)


def entry_log(store: Store, places: Collection[str] = ()) -> list[Numbered]:
    """Return all entries in the order of their numbers.

    Args:
        store: The journal.
        places: Ids of the places in force; they tell a hand series' place from its spot.
    """
    with store.view():
        found = [_of_work(one) for one in work_log(store)] + list(_by_hand(store, places))
        dropped = sorted(dropped_entries(store).items())
    # Python's sort is stable: several entries of one event stay in their order.
    found.sort(key=lambda one: one.at)
    gone = 0
    for count, one in enumerate(found, 1):
        while dropped and dropped[0][0] <= one.at:
            gone += dropped.pop(0)[1]
        one.number = count + gone
    return found


def later_entries(
    store: Store, events: Iterable[Event], places: Collection[str], after: int, count: int
) -> list[Numbered]:
    """Return the entries after an instant, in the order of their numbers.

    Args:
        store: The journal.
        events: The events of work after that instant, in order.
        places: Ids of the places in force.
        after: The instant, UTC ms.
        count: How many entries there were until then, those dropped since included.
    """
    with store.view():
        found = [_of_work(one) for one in entered_by(events)]
        found += [one for one in _by_hand(store, places) if one.at > after]
    found.sort(key=lambda one: one.at)
    for number, one in enumerate(found, count + 1):
        one.number = number
    return found


def number_of(entries: Sequence[Numbered], at: int) -> int | None:
    """Return the number of an event's first entry; None if it brought none."""
    return next((one.number for one in entries if one.at == at), None)


def author_of(store: Store, one: Numbered) -> str:
    """Return who did the work or read the thermometer, "" if nobody said."""
    if one.readings:
        return with_words(store, one.readings[0][1]).by
    return one.work.by if one.work is not None else ""


def _of_work(one: Entered) -> Numbered:
    standing = one.work or one.logged
    return Numbered(
        number=0, at=one.at, time=standing.time, place=standing.place, entered=one, imported=one.imported,
        undone=one.work is None,
    )  # fmt: skip


def _by_hand(store: Store, places: Collection[str]) -> Iterable[Numbered]:
    by_hand = [probe for probe in store.probes() if is_hand(probe)]
    from_files = {event.at for event in store.events_of(EventKind.IMPORTED)} if by_hand else set[int]()
    taken: dict[tuple[object, ...], list[tuple[str, HandRead, bool]]] = {}
    for series in by_hand:
        gone = {kept.time for kept in store.flags(series) if kept.reason is FlagReason.WITHDRAWN}
        place, spot = _where(series, places)
        for read in series_reads(store, series, spot):
            # All readings by hand of one event are one entry, a round; in an imported file each row is its own entry.
            key = (read.at, read.time, series) if read.at in from_files else (read.at, place)
            taken.setdefault(key, []).append((series, read, read.time in gone))
    for some in taken.values():
        series, first, _ = some[0]
        yield Numbered(
            number=0, at=first.at, time=first.time, place=_where(series, places)[0],
            readings=tuple((name, read) for name, read, gone in some if not gone) or tuple((n, r) for n, r, _ in some),
            imported=first.at in from_files, undone=all(gone for _, _, gone in some),
        )  # fmt: skip


def _where(series: str, places: Collection[str]) -> tuple[str, str]:
    """Return place and spot of a hand series; if the place is gone, its id ends at the first colon."""
    place, _, spot = series.removeprefix(HAND_PREFIX).partition(":")
    return hand_spot(series, places) or (place, spot)
