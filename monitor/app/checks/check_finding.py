"""What a check found."""

from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True, slots=True)
class Finding:
    """What came of one check; `words` say what is wrong and what would be right, or add something worth knowing.

    A `warning` is ok, and yet somebody should know.
    """

    what: str
    ok: bool
    words: str = ""
    warning: bool = False

    def plain(self) -> dict[str, Any]:
        """Return it as plain values."""
        return {"what": self.what, "ok": self.ok, "words": self.words, "warning": self.warning}
