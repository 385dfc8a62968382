"""Goes back in a kept reading of the log to before the earliest entry that has changed, and reads on from there.

Rules:
1. What is changed are entries put right or taken back, and entries made since, whatever time they name. Nothing before the
   earliest of these times is read otherwise than before, but a harvest: it depends on whether its bin was emptied within 6 h.
2. A heap that lay elsewhere than was known counts from the first instant at which it did. A name may mean a heap, whenever that
   was built: if an earlier entry could have meant it, the whole log is read.
3. Where the first emptying of a bin whose bed has a known day is another one, the whole log is read, too.
"""

from collections.abc import Collection, Iterable, Mapping, Sequence
from typing import Any

from monitor.app.entries.entry_log import Numbered
from monitor.app.entries.work_log import Entered, entered_by
from monitor.app.material.kept_works import ALONE, KeptWorks
from monitor.journal import FOREVER, Store, event_at
from monitor.material import (
    EMPTIED_AFTER_MS,
    KeptReading,
    MaterialRecord,
    YardOfMaterial,
    in_order,
    places_in,
    tests_in,
)
from monitor.model.events import Event, EventKind
from monitor.model.work import Work, WorkKind

_LOOK_AHEAD = frozenset({WorkKind.HARVESTED, WorkKind.EMPTIED})
Lay = Sequence[Sequence[Any]]


def corrected_since(store: Store, events: Iterable[Event]) -> list[Entered]:
    """Return the entries that corrections among some events put right or took back, as they stand now.

    Args:
        store: The journal.
        events: The events since.
    """
    targets = {event.payload.get("of") for event in events if event.kind is EventKind.CORRECTION}
    if not targets:
        return []
    found = [one for at in targets if isinstance(at, int) and (one := event_at(store, at)) is not None]
    found = [one for one in found if one.kind in (EventKind.WORK, EventKind.IMPORTED)]
    found += [one for one in store.events_of(EventKind.CORRECTION) if one.payload.get("of") in targets]
    return entered_by(sorted(found, key=lambda one: one.at))


def first_difference(before: Lay, after: Lay) -> tuple[int | None, set[str]]:
    """Return since when heaps lay otherwise (UTC ms; None: they do not), and the names that only one of both knows.

    Args:
        before: Where heaps lay, as it was kept.
        after: Where they lie by the record now.
    """
    old, new = ({str(one[0]): one for one in lay} for lay in (before, after))
    instants = [
        at
        for name in {*old, *new}
        if [*old.get(name, ())] != [*new.get(name, ())]
        for at, *_ in _facts(old.get(name)) ^ _facts(new.get(name))
    ]
    return min(instants, default=None), {*old} ^ {*new}


def _facts(heap: Sequence[Any] | None) -> set[tuple[Any, ...]]:
    """Return the facts about a heap, each with the instant from which it matters."""
    if heap is None:
        return set()
    _, built, parent, merged_into, ended, spans = heap
    found: set[tuple[Any, ...]] = {(built, "built"), (spans[0][1] if spans else built, "of", parent)}
    if ended is not None:
        found.add((ended, "gone", merged_into))
    for pile, start, end in spans:
        found.add((start, "came", pile))
        if end is not None:
            found.add((end, "left", pile))
    return found


def reread(
    store: Store,
    kept: Mapping[str, Any],
    yard: YardOfMaterial,
    changes: tuple[Sequence[Entered], Sequence[Numbered]],
    heaps: tuple[int | None, set[str]],
    places: Collection[str],
) -> MaterialRecord | None:
    """Return the material with what has changed since a reading was kept; None if the whole log has to be read.

    Args:
        store: The journal.
        kept: What was kept.
        yard: The yard behind the log, by where heaps lie now.
        changes: The entries put right or taken back since, and those made since, with their numbers.
        heaps: As `first_difference` returned it.
        places: Ids of the places in force.
    """
    numbers, events, rows, corrected = kept["works"]
    old = KeptWorks(store, kept["works"], {})
    right = _put_right(kept["works"], old, changes[0])
    later = [(one.number, one.work) for one in changes[1] if one.work is not None and not one.undone]
    touched = [work for _, work in later] + [work for work in right.values() if work is not None]
    touched += [old[number] for number in right]
    if any(work.place not in places for work in touched):
        return None  # a place of former days may be a bin or not by what was done there
    since = _earliest(touched, heaps[0])
    reading = kept["reading"]
    earlier = next((one for one in reversed(reading["earlier"]) if one["until"] is None or one["until"] < since), None)
    if earlier is None or _may_mean(reading, earlier["grown"][0], heaps[1]):
        return None
    count = earlier["entries"]
    stay = [(number, right[number] if number in right else old[number]) for number in numbers[count:]]
    tail = in_order([*((number, work) for number, work in stay if work is not None), *later])
    found = KeptReading.gone_back(reading, earlier, yard, tail)
    if any(found.emptied.get(place) != reading["first_emptied"].get(place) for place in yard.begun):
        return None
    first = set(numbers[:count])
    before = [numbers[:count], events[:count], rows[:count], [one for one in corrected if one[0] in first]]
    works = KeptWorks(store, before, dict(tail))
    tests = {lot: [works[one] for one in some if one in first] for lot, some in kept["tests"].items()}
    for lot, tested in tests_in(tail).items():
        tests.setdefault(lot, []).extend(work for _, work in tested)
    done_at = {place: [one for one in some if one in first] for place, some in kept["done_at"].items()}
    for place, done in places_in(tail).items():
        done_at.setdefault(place, []).extend(done)
    return MaterialRecord(
        found.graph,
        found.shelves,
        works,
        {lot: some for lot, some in tests.items() if some},
        {place: some for place, some in done_at.items() if some},
    )


def _put_right(places: Sequence[Sequence[Any]], old: KeptWorks, changed: Sequence[Entered]) -> dict[int, Work | None]:
    """Return the work of entries that were put right since they were kept, by their numbers; None: taken back.

    Args:
        places: The numbers, events and rows of what was kept.
        old: The work as it was kept.
        changed: Entries that were corrected since, those among them that were not kept, too.
    """
    numbers, events, rows, *_ = places
    number_of = {(at, row): number for number, at, row in zip(numbers, events, rows, strict=True)}
    found = dict[int, Work | None]()
    for one in changed:
        number = number_of.get((one.at, one.row if one.imported else ALONE))
        if number is not None and one.work != old[number]:
            found[number] = one.work
    return found


def _earliest(works: Sequence[Work], heaps: int | None) -> int:
    """Return the first instant at which anything may be read otherwise, UTC ms.

    Args:
        works: The work that is new or other, and what it was.
        heaps: Since when heaps lay otherwise, UTC ms, or None.
    """
    times = [work.time for work in works] + ([] if heaps is None else [heaps])
    ahead = EMPTIED_AFTER_MS if any(work.kind in _LOOK_AHEAD for work in works) else 0
    return min(times, default=FOREVER) - ahead


def _may_mean(reading: Mapping[str, Any], moves: int, names: set[str]) -> bool:
    """Return whether something read before the first movements ended may have been called by one of some heaps' names."""
    if not names:
        return False
    plain = {name.casefold() for name in names}
    _, _, source, target, *_ = reading["moves"]
    ids = reading["nodes"][1]
    used = {ids[one] for one in {*source[:moves], *target[:moves]} if one is not None}
    known = {*used, *(name for name, *_ in reading["shelves"]), *(name for name, _ in reading["named"])}
    return any(name.casefold().rpartition("/")[0] in plain or name.casefold() in plain for name in known)
