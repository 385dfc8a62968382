"""The result of a decoder: values, and the parts set aside with the reason.

Rules: 1. A decoder returns or rejects; it never raises, whatever the bytes. 2. Nothing in a result is longer than its
bound, and every text in it is printable, so it can be stored and shown as it is. 3. A bad part of a message
never costs the good parts.
"""

from collections.abc import Callable
from typing import Any, NamedTuple

from monitor.model.quarantine import SetAside
from monitor.model.readings import Heard

LIMIT_BYTES = 64 * 1024
"""Longest message that is decoded; a longer one is set aside whole (common practice, no published source)."""

LIMIT_DEPTH = 32
"""Deepest nesting of a JSON document that is decoded (common practice, no published source)."""

LIMIT_REJECTS = 20
"""Most rejects reported of one message; the last one then says how many more there were."""

_EXCERPT_CHARACTERS = 80
_WORD_CHARACTERS = 255


class Reject(NamedTuple):
    """A message, or a part of one, that was set aside.

    Attributes:
        reason: Why, for counting.
        detail: Why, for a person: a short phrase.
        excerpt: A short printable piece of the offending bytes.
    """

    reason: SetAside
    detail: str
    excerpt: str


class Decoded(NamedTuple):
    """The content of one message.

    Attributes:
        heard: The values, in the order of the message.
        rejects: The parts set aside.
        untimed: Whether some value has no time of its own, or only a time relative to its arrival; such a
            message must not be taken twice, nor from a queue.
    """

    heard: tuple[Heard, ...]
    rejects: tuple[Reject, ...]
    untimed: bool = False


Decoder = Callable[[bytes | bytearray, int, bool], Decoded]
"""(payload, arrival in UTC ms, stale) -> Decoded. `stale`: the message was retained or waited in a queue, so that its
arrival does not reveal its time; values that would need it are rejected with NO_TIME."""

NOTHING = Decoded((), ())


def excerpt(data: bytes | bytearray | str) -> str:
    """Return the beginning of some data as one printable line of at most 80 characters."""
    text = data if isinstance(data, str) else bytes(data[: 4 * _EXCERPT_CHARACTERS]).decode("utf-8", "replace")
    shown = text[:_EXCERPT_CHARACTERS]
    if not shown.isprintable():
        shown = "".join(sign if sign.isprintable() else "\ufffd" for sign in shown)
    return shown + "…" if len(text) > _EXCERPT_CHARACTERS else shown


def rejected(reason: SetAside, detail: str, data: bytes | bytearray | str) -> Decoded:
    """Make the result of a message that is set aside whole.

    Args:
        reason: Why, for counting.
        detail: Why, for a person: a short phrase.
        data: The message; its beginning becomes the excerpt.

    Returns:
        A result with one reject and no value.
    """
    return Decoded((), (Reject(reason, detail, excerpt(data)),))


def is_word(text: Any) -> bool:
    """Return whether a value from outside can serve as an address: printable, not blank, at most 255 characters.

    Lone surrogates, which JSON can smuggle in and no database takes, are not printable.
    """
    return isinstance(text, str) and 0 < len(text) <= _WORD_CHARACTERS and text.isprintable() and not text.isspace()


def timed_or_stale(heard: Heard, *, untimed: bool, stale: bool, data: bytes | bytearray | str) -> Decoded:
    """Make the result of a message with one value; the value is rejected if it needs an arrival time that means nothing.

    Args:
        heard: The value.
        untimed: Whether the value has no time of its own.
        stale: Whether the arrival does not reveal its time.
        data: The message, for the excerpt.

    Returns:
        The value, or a reject with NO_TIME.
    """
    if untimed and stale:
        return rejected(SetAside.NO_TIME, no_time_detail(heard.address), data)
    return Decoded((heard,), (), untimed)


def no_time_detail(address: str) -> str:
    """Return the words for a value whose arrival does not reveal its time."""
    return f"{excerpt(address)}: no time of its own, and it was stored before it came"
