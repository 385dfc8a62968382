"""Names typed by people, made safe for one line of a message.

Rules: one line; no control, format or private characters (an override of the writing direction can turn a number
round); a long name keeps its beginning and its end, since names of one yard often differ only there; a name with
right-to-left letters is isolated, so that the number after it keeps its place.

Source: Unicode Standard Annex #9 (isolates U+2068 and U+2069); Unicode general categories.
"""

import unicodedata

NAME_LENGTH = 32
"""Longest name in a message, characters."""

_MARKS_PER_LETTER = 2
_RIGHT_TO_LEFT = frozenset({"R", "AL", "AN"})


def clean(name: str, limit: int = NAME_LENGTH) -> str:
    """Return a name fit for one line of a message, at most `limit` characters (and two invisible isolates).

    Args:
        name: Any text at all.
        limit: The longest result in characters, 5 or more.
    """
    letters: list[str] = []
    marks = 0
    for letter in unicodedata.normalize("NFC", name):
        category = unicodedata.category(letter)
        if category[0] in "CZ":
            # Spaces of every kind and line ends become one space; invisible characters go.
            if (category[0] == "Z" or letter in "\t\n\v\f\r\x85") and letters and letters[-1] != " ":
                letters.append(" ")
            continue
        marks = marks + 1 if category[0] == "M" else 0
        if marks <= _MARKS_PER_LETTER:
            letters.append(letter)
    text = _shorten("".join(letters).strip(), limit) or "no name"
    if any(unicodedata.bidirectional(letter) in _RIGHT_TO_LEFT for letter in text):
        return f"\u2068{text}\u2069"
    return text


def _shorten(text: str, limit: int) -> str:
    if len(text) <= limit:
        return text
    tail = (limit - 1) // 3
    return text[: limit - 1 - tail].rstrip() + "…" + text[-tail:].lstrip()


def join_names(names: list[str]) -> str:
    """Return names as people list them: `A`, `A and B`, `A, B and C`."""
    if len(names) < 2:
        return "".join(names)
    return ", ".join(names[:-1]) + " and " + names[-1]
