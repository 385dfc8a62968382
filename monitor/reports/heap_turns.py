"""The heaps that met their rule, and those whose rule became void, by the decisions in the record.

A decision is never taken back; a later one says otherwise. So of each heap's decisions on its rule, in order: *met* stands
until the rule begins anew because raw material came in (then the heap was met, and became void), or because the record was
changed (then it never was). It counts at the instant from which it was true.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

from monitor.model.effects import Effect, EffectKind
from monitor.model.words import RuleState
from monitor.piles import Reason


class Turn(StrEnum):
    """A turn in the course of a heap under its rule."""

    MET = "met"
    VOID = "void"


@dataclass(frozen=True, slots=True)
class HeapTurn:
    """A turn in the course of a heap.

    Attributes:
        batch: The heap.
        place: Where it lay.
        rule: The rule's id.
        what: The turn.
        at: When it became true, UTC ms.
    """

    batch: str
    place: str
    rule: str
    what: Turn
    at: int


def heap_turns(effects: Iterable[Effect]) -> list[HeapTurn]:
    """Return all turns that stand, in order of time.

    Args:
        effects: All effects of the record, in order; those on other matters are passed over.
    """
    found: dict[str, list[HeapTurn]] = {}
    for effect in effects:
        draft = effect.draft
        if draft.kind is not EffectKind.RULE:
            continue
        batch = str(draft.values.get("batch", ""))
        turns = found.setdefault(batch, [])
        if draft.after == RuleState.MET:
            # Told again with its old instant once an entry was taken back: what came between never was.
            while turns and turns[-1].at >= draft.since:
                turns.pop()
            turns.append(HeapTurn(batch, draft.place, draft.axis, Turn.MET, draft.since))
        elif draft.reason == Reason.RAW_ADDED:
            turns.append(HeapTurn(batch, draft.place, draft.axis, Turn.VOID, draft.since))
        elif draft.before == RuleState.MET and turns and turns[-1].what is Turn.MET:
            turns.pop()  # the record changed
    return sorted((one for turns in found.values() for one in turns), key=lambda one: (one.at, one.batch))
