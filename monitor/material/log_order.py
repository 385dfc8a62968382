"""Looks over a whole log before it is read: the order of its entries, and what a later entry says of an earlier one."""

from collections.abc import Iterable, Sequence

from monitor.model.times import HOUR_MS
from monitor.model.work import Work, WorkKind

EMPTIED_AFTER_MS = 6 * HOUR_MS


def in_order(entries: Iterable[tuple[int, Work]]) -> list[tuple[int, Work]]:
    """Return entries in the order in which they are read: of their own time, then of their numbers."""
    return sorted(entries, key=lambda one: (one[1].time, one[0]))


def places_in(ordered: Iterable[tuple[int, Work]]) -> dict[str, list[int]]:
    """Return the numbers of the entries of each place."""
    places: dict[str, list[int]] = {}
    for number, work in ordered:
        places.setdefault(work.place, []).append(number)
    return places


def tests_in(ordered: Iterable[tuple[int, Work]]) -> dict[str, list[tuple[int, Work]]]:
    """Return the tests of each lot, by its id in small letters."""
    tests: dict[str, list[tuple[int, Work]]] = {}
    for number, work in ordered:
        if work.kind is WorkKind.TESTED:
            tests.setdefault(work.lot.casefold(), []).append((number, work))
    return tests


def harvested_whole(ordered: Sequence[tuple[int, Work]]) -> set[int]:
    """Return the numbers of the harvests after which the bin was emptied."""
    found, last = set[int](), dict[str, tuple[int, int]]()
    for number, work in ordered:
        if work.kind is WorkKind.HARVESTED:
            last[work.place] = (number, work.time)
        elif work.kind is WorkKind.EMPTIED and work.place in last:
            harvest, time = last.pop(work.place)
            if work.time - time <= EMPTIED_AFTER_MS:
                found.add(harvest)
    return found


def first_emptied(ordered: Sequence[tuple[int, Work]]) -> dict[str, int]:
    """Return when each place was emptied for the first time, UTC ms."""
    found: dict[str, int] = {}
    for _, work in ordered:
        if work.kind is WorkKind.EMPTIED:
            found.setdefault(work.place, work.time)
    return found
