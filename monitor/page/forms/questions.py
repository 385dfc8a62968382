"""Questions that the writer asks before it believes an entry, as forms show them."""

from collections.abc import Mapping
from dataclasses import dataclass

_NOT_KEPT = ("token", "back", "again")


@dataclass(frozen=True, slots=True)
class Question:
    """A question with its two buttons.

    Attributes:
        words: The question.
        action: The address to which the form that confirms goes.
        fields: The typed fields, to be sent again unchanged.
        head, yes, no: Its heading, and the words on its buttons.
    """

    words: str
    action: str
    fields: tuple[tuple[str, str], ...]
    head: str = "Not written down yet"
    yes: str = "Yes, write it down"
    no: str = "Leave it out"


def question_of(words: str, action: str, form: Mapping[str, str]) -> Question:
    """Return the question to show above a form.

    Args:
        words: The question.
        action: The address to which the form goes again.
        form: The form as it was sent.
    """
    return Question(words, action, tuple((name, text) for name, text in form.items() if name not in _NOT_KEPT))
