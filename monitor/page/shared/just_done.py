"""What was just done, as a token in the address of the sheet that says so; by it, *undo* takes it back."""

import time
from dataclasses import dataclass

from monitor.page.visitors.signed_tokens import SignedTokens

UNDO_S = 86_400.0
"""For how long *undo* serves after something was written down; nobody must hurry."""


@dataclass(frozen=True, slots=True)
class JustDone:
    """What was just done at a place, in words for people.

    Attributes:
        place: The place, "" for the whole yard.
        words: What the sheet says of it.
        at: The event that *undo* takes back (UTC ms), None where nothing can be taken back.
        reading: Its (time, series joined by `|`) where it is a reading by hand, else None.
    """

    place: str
    words: str
    at: int | None = None
    reading: tuple[int, str] | None = None


class DoneTokens:
    """Signs and reads them; any thread."""

    def __init__(self, key: bytes) -> None:
        self._tokens = SignedTokens(key, "undo")

    def token(self, done: JustDone) -> str:
        """Return the token of what was just done."""
        return self._tokens.sign([done.at, done.place, done.words, done.reading], time.time() + UNDO_S)

    def read(self, token: str) -> JustDone | None:
        """Return what a token says, or None once its day is over."""
        value = self._tokens.read(token, time.time()) if token else None
        if value is None:
            return None
        at, place, words, reading = value
        return JustDone(place, words, at, None if reading is None else (int(reading[0]), str(reading[1])))
