"""Carries the last action as a token in a sheet's address: the sheet names the action, and *undo* takes it back."""

import time
from dataclasses import dataclass

from monitor.page.visitors.signed_tokens import SignedTokens

UNDO_S = 86_400.0
"""How long, in seconds, an entry can be undone; nobody must hurry."""


@dataclass(frozen=True, slots=True)
class JustDone:
    """The last action at a place, in words for people.

    Attributes:
        place: The place; "" for the whole yard.
        words: The sheet's words about it.
        at: The event that *undo* takes back (UTC ms); None if it cannot be undone.
        reading: For readings by hand, their (time, series joined by `|`); else None.
    """

    place: str
    words: str
    at: int | None = None
    reading: tuple[int, str] | None = None


class DoneTokens:
    """Signs and reads the tokens; any thread may call it."""

    def __init__(self, key: bytes) -> None:
        self._tokens = SignedTokens(key, "undo")

    def token(self, done: JustDone) -> str:
        """Return the token of an action."""
        return self._tokens.sign([done.at, done.place, done.words, done.reading], time.time() + UNDO_S)

    def read(self, token: str) -> JustDone | None:
        """Return the action of a token, or None after its day is over."""
        value = self._tokens.read(token, time.time()) if token else None
        if value is None:
            return None
        at, place, words, reading = value
        return JustDone(place, words, at, None if reading is None else (int(reading[0]), str(reading[1])))
