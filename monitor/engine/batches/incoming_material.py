"""Material that came into a batch: from which other batch, and its effect on the count of the rule (`material`).

Rules:
1. `merged`, `moved` and `split` onto a batch bring the batch of the place they name. `added` brings the batch that it names,
   or the one into which that batch had gone by then; so do `fed` and `bedded`, words of bins, if they were logged of a heap.
   Material of no batch in the record is raw. An entry that names the batch itself (its own overs) changes nothing.
2. Material has *met* the rule if its own record up to that instant meets the rule of the batch that takes it in; material of a
   batch under another rule is raw.
3. Only amounts show that a share is at most 10 %: both masses, or else both volumes. An unknown amount counts as more.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from monitor.engine.context.places import Places
from monitor.material import SMALL_SHARE_PERCENT, Change, HeatStatus, change_by
from monitor.model.amounts import Dimension, known_amount
from monitor.model.work import Work, WorkKind
from monitor.model.work_kinds import declared

WasMet = Callable[[str, int], bool]
"""Returns whether a batch had met, at an instant (UTC ms), the rule of the batch that takes it in."""


def never_met(batch: str, at: int) -> bool:
    """Return False: a `WasMet` under which no batch had met a rule."""
    del batch, at
    return False


_WHOLE = (WorkKind.MERGED, WorkKind.MOVED)


@dataclass(frozen=True, slots=True)
class CameIn:
    """Material that came into a batch.

    Attributes:
        work: The entry.
        batch: The batch that it was part of, or "" if the record knows of none.
        small: Whether it is known to be at most 10 % of the batch that took it in.
    """

    work: Work
    batch: str
    small: bool

    def change(self, was_met: WasMet) -> Change:
        """Return its effect on the count of the rule."""
        met = bool(self.batch) and was_met(self.batch, self.work.time)
        return change_by(HeatStatus.MET if met else HeatStatus.RAW, small=self.small)


def incoming(core: Places, batch: str, until: int | None = None) -> Iterator[CameIn]:
    """Yield the material that came into a batch after it was built, in order of time.

    Args:
        core: The engine's state.
        batch: The batch.
        until: Material of this instant (UTC ms) is the last; None: all.
    """
    built = core.state.batches.batches[batch].built
    for work, own in core.works_of(batch):
        if until is not None and work.time > until:
            return
        if work.time <= built:
            continue
        found = came_in(core, batch, work, own=own)
        if found is not None:
            yield found


def came_in(core: Places, batch: str, work: Work, *, own: bool) -> CameIn | None:
    """Return the material that an entry brought into a batch, or None.

    Args:
        core: The engine's state.
        batch: The batch.
        work: The entry.
        own: Whether the entry is about this heap; False: about another that was thrown onto it.
    """
    if own and not declared(work.kind).brings:
        return None
    if own:
        other = _taken_up(core, work.what, work.time) if work.what in core.state.batches.batches else ""
    else:
        left = core.batches.until(work.place, work.time)
        other = left.batch if left is not None else ""
    if other == batch:
        return None
    return CameIn(work, other, _is_small(core, batch, work, other))


def _taken_up(core: Places, batch: str, at: int) -> str:
    """Return the batch to which a batch's material belonged at an instant (UTC ms): it may have been thrown onto another."""
    book, seen = core.state.batches.batches, {batch}
    while True:
        one = book[batch]
        gone = one.ended is not None and one.ended <= at
        if not gone or one.merged_into not in book or one.merged_into in seen:
            return batch
        batch = one.merged_into
        seen.add(batch)


def relatives(core: Places, batch: str) -> Iterator[tuple[str, int, int]]:
    """Yield (other batch, until when its record counts, when it came into this one), UTC ms, however indirectly it came in."""
    seen = {batch}

    def of(one: str, until: int | None, came: int | None) -> Iterator[tuple[str, int, int]]:
        for found in incoming(core, one, until):
            if not found.batch:
                continue
            at = found.work.time
            yield found.batch, at, at if came is None else came
            if found.work.what in core.state.batches.batches and found.work.what != found.batch:
                # The entry by which the other took it up may be corrected.
                yield found.work.what, at, at if came is None else came
            if found.batch not in seen:
                seen.add(found.batch)
                yield from of(found.batch, at, at if came is None else came)

    yield from of(batch, None, None)


def _is_small(core: Places, batch: str, work: Work, other: str) -> bool:
    for dimension in (Dimension.MASS, Dimension.VOLUME):
        part = _of_entry(core, work, other, dimension)
        whole = _total(core, batch, work.time, dimension)
        if part is not None and whole is not None:
            return part * 100 <= whole * SMALL_SHARE_PERCENT
    return False


def _of_entry(core: Places, work: Work, other: str, dimension: Dimension) -> int | None:
    """Return how much an entry brought, in g or mL, or None if nobody said."""
    if work.amount.strip():
        return _amount(work, dimension)
    if work.kind in _WHOLE and other:
        return _total(core, other, work.time, dimension)
    return None


def _amount(work: Work, dimension: Dimension) -> int | None:
    found = known_amount(work.amount, work.measure, work.unit)
    return found.base if found is not None and found.dimension is dimension else None


def _total(core: Places, batch: str, until: int, dimension: Dimension) -> int | None:
    """Return how much (g or mL) went into a batch before an instant, less the parts split off; None if not known."""
    total, built = 0, False
    for work, own in core.works_of(batch):
        if work.time >= until:
            break
        amount: int | None
        if not own:
            left = core.batches.until(work.place, work.time)
            amount = _of_entry(core, work, left.batch if left is not None else "", dimension)
        elif work.kind is WorkKind.BUILT or declared(work.kind).brings:
            built = True
            amount = _amount(work, dimension)
        elif work.kind is WorkKind.SPLIT:
            taken = _amount(work, dimension)
            amount = None if taken is None else -taken
        else:
            continue
        if amount is None:
            return None
        total += amount
    return total if built and total > 0 else None
