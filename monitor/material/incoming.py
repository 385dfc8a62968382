"""Material that came into a heap: from which other heap, how much, and its effect on the count of the rule (`material`).

Rules, beside those of `brought`:
1. Material of no batch in the record is raw. An entry that names the batch itself (its own overs) changes nothing.
2. Material has *met* the rule if its own record up to that instant meets the rule of the batch that takes it in; material of a
   batch under another rule is raw.
3. Only amounts show that a share is at most 10 %: both masses, or else both volumes. An unknown amount counts as more.
   What one entry brings counts together. What left a heap counts as gone if it was
   split off, or lacked when the heap was weighed on its way.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Protocol

from monitor.material.brought import Brought, Heaps, amount_of, brought_by, in_dimension
from monitor.material.heat_status import SMALL_SHARE_PERCENT, Change, HeatStatus, change_by
from monitor.model.amounts import Dimension
from monitor.model.work import Work, WorkKind
from monitor.model.work_kinds import declared

WasMet = Callable[[str, int], bool]
"""Returns whether a batch had met, at an instant (UTC ms), the rule of the batch that takes it in."""


def never_met(batch: str, at: int) -> bool:
    """Return False: a `WasMet` under which no batch had met a rule."""
    del batch, at
    return False


class LogOfHeaps(Protocol):
    """Tells which heap lay where, and the work on each; the engine's memory does."""

    @property
    def laid(self) -> Heaps:
        """Return who tells which heap lay where."""

    def works_of(self, batch: str, /) -> Sequence[tuple[Work, bool]]:
        """Return (work, whether it is about this heap; else about one thrown onto it) in order of time."""


@dataclass(frozen=True, slots=True)
class CameIn:
    """Material that came into a batch.

    Attributes:
        work: The entry.
        batch: The batch that it was part of, or "" if the record knows of none.
        small: Whether all that the entry brought is known to be at most 10 % of the batch that took it in.
        named: The batch by which the entry calls it, or "": another, if that one had been thrown onto `batch` by then.
    """

    work: Work
    batch: str
    small: bool
    named: str = ""

    def change(self, was_met: WasMet) -> Change:
        """Return its effect on the count of the rule."""
        met = bool(self.batch) and was_met(self.batch, self.work.time)
        return change_by(HeatStatus.MET if met else HeatStatus.RAW, small=self.small)


def incoming(log: LogOfHeaps, batch: str, until: int | None = None) -> Iterator[CameIn]:
    """Yield the material that came into a batch after it was built, in order of time.

    Args:
        log: The heaps and the work on them.
        batch: The batch.
        until: Material of this instant (UTC ms) is the last; None: all.
    """
    heaps = log.laid
    built = heaps.built(batch)
    for work, own in log.works_of(batch):
        if until is not None and work.time > until:
            return
        if work.time > built:
            yield from came_in(log, batch, work, own=own, heaps=heaps)


def came_in(log: LogOfHeaps, batch: str, work: Work, *, own: bool, heaps: Heaps | None = None) -> list[CameIn]:
    """Return the material that an entry brought into a batch.

    Args:
        log: The heaps and the work on them.
        batch: The batch.
        work: The entry.
        own: Whether the entry is about this heap; False: about another that was thrown onto it.
        heaps: Which heap lay where, if that was looked up before.
    """
    if own and not declared(work.kind).brings:
        return []
    heaps = log.laid if heaps is None else heaps
    itself = _whole_then(heaps, batch, work, work.place if own else work.to)
    there = [one for one in brought_by(work, heaps, own=own) if one.heap not in (batch, itself)]
    if not there:
        return []
    small = _is_small(log, heaps, batch, work, there)
    return list(dict.fromkeys(CameIn(work, one.heap, small, one.named) for one in there))


def _whole_then(heaps: Heaps, batch: str, work: Work, place: str) -> str:
    """Return the batch that a batch was a part of when an entry brought something to a place."""
    seen = {batch}
    while (part := heaps.split_off(batch)) is not None and part[0] not in seen:
        whole, onto, since = part
        if work.time > since or (work.time == since and place == onto):
            break
        seen.add(whole)
        batch = whole
    return batch


def worst_change(came: Sequence[CameIn], was_met: WasMet) -> Change:
    """Return the effect on the count of the rule of all that one entry brought.

    Args:
        came: What it brought.
        was_met: Whether a batch had met the rule by then.
    """
    return max((one.change(was_met) for one in came), key=list(Change).index, default=Change.NONE)


def relatives(log: LogOfHeaps, batch: str) -> Iterator[tuple[str, int, int]]:
    """Yield (other batch, until when its record counts, when it came into this one), UTC ms, however indirectly it came in.

    Args:
        log: The heaps and the work on them.
        batch: The batch.
    """
    seen = {batch}

    def of(one: str, until: int | None, came: int | None) -> Iterator[tuple[str, int, int]]:
        for found in incoming(log, one, until):
            if not found.batch:
                continue
            at = found.work.time
            yield found.batch, at, at if came is None else came
            if found.named and found.named != found.batch:
                # The entry by which the other took it up may be corrected.
                yield found.named, at, at if came is None else came
            if found.batch not in seen:
                seen.add(found.batch)
                yield from of(found.batch, at, at if came is None else came)

    yield from of(batch, None, None)


def lay_in(log: LogOfHeaps, batch: str, until: int, dimension: Dimension, heaps: Heaps | None = None) -> int | None:
    """Return how much went into a batch before an instant, less what was split off or lost, g or mL; None if not known.

    Into a batch that was itself split off went what its entry says.

    Args:
        log: The heaps and the work on them.
        batch: The batch.
        until: The instant, UTC ms.
        dimension: Mass or volume.
        heaps: Which heap lay where, if that was looked up before.
    """
    heaps = log.laid if heaps is None else heaps
    total, known, part = 0, False, heaps.split_off(batch)
    begun = heaps.built(batch)
    for work, own in log.works_of(batch):
        if work.time >= until:
            break
        amount: int | None
        if part is not None and work.time <= part[2]:
            if work.kind is not WorkKind.SPLIT or (work.to, work.time) != part[1:]:
                continue  # it came into the whole, or went from it
            known, amount = True, in_dimension([amount_of(work)], dimension)
        elif own and declared(work.kind).goes_somewhere:
            if heaps.left(work.place, work.time) != batch:
                continue  # at that instant another heap lay there, too
            if work.kind is not WorkKind.SPLIT:
                weighed = in_dimension([amount_of(work)], dimension)
                total = total if weighed is None else min(total, weighed)  # the rest was lost by then
                continue
            taken = in_dimension([amount_of(work)], dimension)
            amount = None if taken is None else -taken
        elif not own or work.kind is WorkKind.BUILT or declared(work.kind).brings:
            known |= work.time == begun  # else nobody wrote down of what it was begun
            there = [one for one in brought_by(work, heaps, own=own) if one.heap != batch]
            amount = _of_entry(log, heaps, work, there, dimension) if there else 0
        else:
            continue
        if amount is None:
            return None
        total += amount
    return total if known and total > 0 else None


def _is_small(log: LogOfHeaps, heaps: Heaps, batch: str, work: Work, there: Sequence[Brought]) -> bool:
    for dimension in (Dimension.MASS, Dimension.VOLUME):
        part = _of_entry(log, heaps, work, there, dimension)
        whole = None if part is None else lay_in(log, batch, work.time, dimension, heaps)
        if part is not None and whole is not None:
            return part * 100 <= whole * SMALL_SHARE_PERCENT
    return False


def _of_entry(log: LogOfHeaps, heaps: Heaps, work: Work, there: Sequence[Brought], dimension: Dimension) -> int | None:
    """Return how much an entry brought, in g or mL, or None if nobody said."""
    if work.amount.strip():
        return in_dimension([amount_of(work)], dimension)
    if len(there) == 1 and there[0].whole:
        return lay_in(log, there[0].heap, work.time, dimension, heaps) if there[0].heap else None
    dry = [one.amount for one in there if not one.is_water]
    return in_dimension(dry, dimension) if dry else None
