"""Makes any text fit to be printed: only letters that the typesetter's own type can draw, and words that can break.

Rules:

1. A letter that the built-in type has no shape for, a control character, and whatever turns the direction of writing
   is printed as its code, `[U+4E2D]`; the attached record holds the text as it was written.
2. A word of more than 16 letters may break after every 8th, so it never runs out of its column; one of more than 100 is
   cut, and so is a text of more than 600, with an ellipsis: the attached record holds all of it.
3. A number and its degree sign stay on one line.
"""

import re
from unicodedata import normalize

LONGEST = 600
_LONGEST_WORD = 100

# Found by setting every letter in Libertinus Serif, the body type of typst 0.15, with PDF/A-3b refusing what it lacks.
_DRAWN = re.compile(
    "[\u0020-\u007e\u00a0-\u00ac\u00ae-\u024f\u0370-\u0377\u037a-\u037f\u0384-\u038a\u038c\u038e-\u03a1\u03a3-\u0482"
    "\u048a-\u04ff\u05d0-\u05ea\u1e00-\u1eff\u2010-\u2027\u2030-\u2040\u20a0-\u20bf\u2100-\u211e\u2122\u2126"
    "\u2150\u2151\u2153-\u2184\u2190-\u2194\u2212\u2248\u2260\u2264\u2265]"
)
_LONG_WORD = re.compile(r"[^\s\u200b-]{17,}")
_BREAK = "\u200b"


def printable(text: str) -> str:
    """Return a text as it can be set in one paragraph."""
    words = normalize("NFC", text[: 4 * LONGEST]).split()
    plain = " ".join(word if len(word) <= _LONGEST_WORD else word[: _LONGEST_WORD - 1] + "…" for word in words)
    if len(plain) > LONGEST:
        plain = plain[: LONGEST - 1] + "…"
    plain = plain.replace(" °", "\u00a0°")
    drawn = "".join(sign if _DRAWN.match(sign) else f"[U+{ord(sign):04X}]" for sign in plain)
    return _LONG_WORD.sub(_breakable, drawn)


def _breakable(word: "re.Match[str]") -> str:
    whole = word.group()
    return _BREAK.join(whole[at : at + 8] for at in range(0, len(whole), 8))


def printable_tree(value: object) -> object:
    """Return plain values with every text in them made fit to be printed."""
    if isinstance(value, str):
        return printable(value)
    if isinstance(value, dict):
        return {key: printable_tree(one) for key, one in value.items()}
    if isinstance(value, (list, tuple)):
        return [printable_tree(one) for one in value]
    return value
