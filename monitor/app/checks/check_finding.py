"""The result of a check."""

from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True, slots=True)
class Finding:
    """The result of one check.

    Attributes:
        what: The subject of the check.
        ok: Whether it passed.
        words: The fault and its remedy, or a remark worth knowing.
        warning: Whether a passed check still deserves attention.
    """

    what: str
    ok: bool
    words: str = ""
    warning: bool = False

    def plain(self) -> dict[str, Any]:
        """Return it as JSON values."""
        return {"what": self.what, "ok": self.ok, "words": self.words, "warning": self.warning}
