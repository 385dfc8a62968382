"""Questions that the writer asks before it believes an entry, as a form shows them."""

from collections.abc import Mapping
from dataclasses import dataclass

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
