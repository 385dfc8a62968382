"""Questions that the writer asks before it believes an entry, as a form shows them; and which turning a turning counts with."""

from collections.abc import Mapping
from dataclasses import dataclass

from monitor.model.turnings import counted_firsts
from monitor.model.work import Work, WorkKind
from monitor.model.work_kinds import Material, declared
from monitor.page.seams import Look

_NOT_KEPT = ("token", "back", "again")


@dataclass(frozen=True, slots=True)
class Question:
    """A question with its two buttons.

    Attributes:
        words: What is asked.
        action: Where the form goes that says *it is so*.
        fields: What was typed, to be sent again as it was.
    """

    words: str
    action: str
    fields: tuple[tuple[str, str], ...]


def question_of(words: str, action: str, form: Mapping[str, str]) -> Question:
    """Return the question that stands in the way of a form."""
    return Question(words, action, tuple((name, text) for name, text in form.items() if name not in _NOT_KEPT))


def counts_with(look: Look, work: Work) -> int | None:
    """Return the instant (UTC ms) of the turning with which one that was just logged counts as one; None: with none."""
    if not turns(work):
        return None
    place = _lies_then(work)
    others = [entry.work.time for entry in look.works(place) if turns(entry.work) and _lies_then(entry.work) == place]
    first = [one for one in counted_firsts([*others, work.time]) if one <= work.time][-1]
    return first if first in others else None


def turns(work: Work) -> bool:
    """Tell whether a piece of work turns a heap: a turning, or a move that does not say otherwise."""
    moved_only = work.kind is WorkKind.MOVED and "not a turning" in work.note.casefold()
    return declared(work.kind).turns and not moved_only


def _lies_then(work: Work) -> str:
    return work.to if declared(work.kind).material is Material.GOES else work.place
