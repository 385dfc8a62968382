"""A form that was sent and not taken in, as the sheet that it came from shows it again."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from monitor.model.errors import FieldError
from monitor.page.forms.questions import Question


@dataclass(frozen=True, slots=True)
class SentForm:
    """A form that was sent.

    Attributes:
        kept: The typed fields, which stay in the form.
        trouble: Why it could not be taken in, or "".
        question: The question about it, or None.
    """

    kept: Mapping[str, str] = field(default_factory=dict)
    trouble: Exception | str = ""
    question: Question | None = None

    @property
    def status(self) -> int:
        """The HTTP status of the sheet."""
        return 400 if self.trouble else 409 if self.question else 200

    def shown(self, form: str | None = None) -> dict[str, Any]:
        """Return the values that a template needs for it.

        Args:
            form: Which form of the sheet it was; None: its own field `form` says so.
        """
        named = self.kept.get("form", "") if form is None else form
        return {
            "question": self.question,
            "trouble": str(self.trouble),
            "trouble_at": self.trouble.field if isinstance(self.trouble, FieldError) else "",
            "trouble_in": named if self.trouble else "",
            "kept": self.kept,
        }


UNSENT = SentForm()
"""Stands for no form: the sheet was only asked for."""
