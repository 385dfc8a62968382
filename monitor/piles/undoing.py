"""Undoes the effect of an entry on where heaps lie: each heap lies again where it lay, as if the entry had never been made.

Rules:

1. Only the newest change of a heap's places can be undone; later changes that rest on it come first (the caller names them).
2. A heap that began with the entry never existed; a heap that ended or left by it lies where it lay. A heap that took another
   up, or from which a part was taken, stays where it is, and its record is worked out again.
"""

from dataclasses import dataclass, replace

from monitor.model.work import Work
from monitor.model.work_kinds import Material, declared
from monitor.piles.batches import Batch, BatchState


@dataclass(frozen=True, slots=True, kw_only=True)
class Reversal:
    """The effect of undoing an entry.

    Attributes:
        gone: The batch that then never existed, or "".
        back: The batch that then lies again where it lay, or "".
        pile: The pile of that batch.
        left: The pile that is then empty, or "".
        touched: Other batches whose record changes.
        bedded: The batch that then is no longer the bedding of a bin, or "".
        unsaid: Whether a pile on which no heap was known is then no longer said to have been emptied.
        why_not: Why the entry cannot be undone, or "".
    """

    gone: str = ""
    back: str = ""
    pile: str = ""
    left: str = ""
    touched: tuple[str, ...] = ()
    bedded: str = ""
    unsaid: bool = False
    why_not: str = ""

    @property
    def changes(self) -> bool:
        """Whether anything lies elsewhere after it."""
        return bool(self.gone or self.back or self.bedded)


_NOTHING = Reversal()


def reversal_of(state: BatchState, work: Work) -> Reversal:
    """Return the effect that undoing a piece of work would have on where heaps lie."""
    material = declared(work.kind).material
    if material in (Material.BEGINS, Material.TAKES_IN):
        return _of_beginning(state, work, work.place)
    if material is Material.ENDS:
        ended = _ended_by(state, work)
        if ended is None:
            return Reversal(unsaid=state.says_empty(work))
        return _back(state, ended, work)
    if material not in (Material.PART_GOES, Material.GOES, Material.JOINS):
        return _NOTHING
    bedded = _bedded_by(state, work)
    if bedded is not None:
        whole = _ended_by(state, work)
        back = _NOTHING if whole is None else _back(state, whole, work)
        return replace(back, bedded=bedded.batch)
    found = _of_split(state, work) if material is Material.PART_GOES else _of_going(state, work)
    # From a pile without a known batch, unknown material came, and may have begun a heap.
    return found if found.changes else _of_beginning(state, work, work.to)


def take_back(state: BatchState, work: Work, reversal: Reversal) -> None:
    """Undo a piece of work.

    Args:
        state: The batches; changed in place.
        work: The entry.
        reversal: Result of `reversal_of` for it, without a `why_not`.
    """
    if reversal.bedded:
        bedding = state.batches[reversal.bedded].bedding
        bedding[:] = [one for one in bedding if (one.time, one.bin) != (work.time, work.to)]
    if reversal.gone:
        del state.batches[reversal.gone]
        state.lying.pop(reversal.left, None)
    if reversal.back:
        batch = state.batches[reversal.back]
        if batch.spans[-1].pile != reversal.pile:
            batch.spans.pop()
            state.lying.pop(reversal.left, None)
        batch.spans[-1].end = batch.ended = None
        batch.merged_into = ""
        state.lying[reversal.pile] = batch.batch
        state.settled[reversal.pile] = True
    if reversal.unsaid:
        state.emptied[work.place].remove(work.time)
        if not state.emptied[work.place]:
            del state.emptied[work.place]
    for pile in {work.place, work.to} - set(state.lying):
        state.unsettle(pile)


def forget_batch(state: BatchState, name: str) -> bool:
    """Remove a batch as if it had never existed, in place; False if it has gone elsewhere or other heaps rest on it."""
    batch = state.batches[name]
    if _went_on(state, batch):
        return False
    pile = batch.spans[-1].pile
    del state.batches[name]
    if state.lying.get(pile) == name:
        del state.lying[pile]
    state.unsettle(pile)
    return True


def _bedded_by(state: BatchState, work: Work) -> Batch | None:
    """Return the batch that a piece of work turned into the bedding of a bin, or None."""
    named = (work.time, work.to)
    return next((one for one in state.batches.values() if named in ((b.time, b.bin) for b in one.bedding)), None)


def _of_beginning(state: BatchState, work: Work, pile: str) -> Reversal:
    begun = [
        batch for batch in state.batches.values()
        if not batch.parent and (batch.spans[0].pile, batch.spans[0].start) == (pile, work.time)
    ]  # fmt: skip
    if not begun:
        return _NOTHING
    made = next((batch for batch in begun if state.lying.get(pile) == batch.batch), begun[-1])
    if why_not := _went_on(state, made):
        return Reversal(gone=made.batch, why_not=why_not)
    before = _ended_by(state, work) if pile == work.place else None
    if before is None:
        return Reversal(gone=made.batch, left=pile)
    return Reversal(gone=made.batch, left=pile, back=before.batch, pile=work.place)


def _of_split(state: BatchState, work: Work) -> Reversal:
    part = next(
        (
            batch for batch in state.batches.values()
            if batch.parent and (batch.spans[0].pile, batch.spans[0].start) == (work.to, work.time)
        ),
        None,
    )  # fmt: skip
    if part is None:
        return _NOTHING
    return Reversal(gone=part.batch, left=work.to, touched=(part.parent,), why_not=_went_on(state, part))


def _of_going(state: BatchState, work: Work) -> Reversal:
    joined = _ended_by(state, work, joined=True)
    if joined is not None:
        return _back(state, joined, work)
    for batch in state.batches.values():
        for before, after in zip(batch.spans, batch.spans[1:], strict=False):
            if (before.pile, before.end, after.pile, after.start) == (work.place, work.time, work.to, work.time):
                if after is not batch.spans[-1] or after.end is not None:
                    return Reversal(back=batch.batch, pile=work.place, why_not="the heap has gone elsewhere since")
                return _back(state, batch, work)
    return _NOTHING


def _back(state: BatchState, batch: Batch, work: Work) -> Reversal:
    left = work.to if batch.spans[-1].pile == work.to else ""
    why_not = "another heap lies there now" if work.place in state.lying else ""
    touched = (batch.merged_into,) if batch.merged_into else ()
    return Reversal(back=batch.batch, pile=work.place, left=left, touched=touched, why_not=why_not)


def _ended_by(state: BatchState, work: Work, *, joined: bool = False) -> Batch | None:
    """Return the batch that ended, or joined another, on the place of a piece of work at its instant."""
    return next(
        (
            batch for batch in reversed(state.batches.values())
            if batch.ended == work.time and bool(batch.merged_into) == joined
            and (batch.spans[-1].pile, batch.spans[-1].end) == (work.place, work.time)
        ),
        None,
    )  # fmt: skip


def _went_on(state: BatchState, batch: Batch) -> str:
    """Return why a batch cannot be removed as if it had never existed, or "" if it can."""
    if len(batch.spans) > 1 or batch.ended is not None:
        return "the heap has gone elsewhere, or ended, since"
    if any(batch.batch in (other.parent, other.merged_into) for other in state.batches.values()):
        return "other heaps were split from it, or joined it"
    return ""
