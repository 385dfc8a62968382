"""Text on a drawing: made harmless, measured roughly, shortened, and spread so that labels do not overlap.

Rules this module keeps:

1. Any text may be hostile. Characters that XML forbids, control characters and those that turn the writing direction
   are dropped; white space is one space; more than two combining marks in a row are cut.
2. No font is at hand, so widths are those of the page's typeface as measured once; where another stands in, they are estimates.
"""

import unicodedata
from collections.abc import Sequence
from html import escape

MARK_LIMIT = 400
"""Most characters kept of a text; nobody reads more on a drawing."""

_TURNS = frozenset("\u061c\u200b\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2060\u2066\u2067\u2068\u2069\ufeff")
_EMS = {
    letter: ems
    for ems, letters in (
        (0.2, " "), (0.25, "'"), (0.35, "!(),.:;[]j·’"), (0.4, "-il{}°"), (0.45, '"*If|t'), (0.5, "/\\_`s–"), (0.55, "?erz"),
        (0.6, "$+<=>J^acgxy~→0123456789"), (0.65, "FLPSbdkopv"), (0.7, "#BEZhnqu"), (0.75, "ACRTVXY"), (0.8, "DGKOQ"),
        (0.85, "HNU"), (0.9, "%&w"), (0.95, "@…"), (1.0, "m—"), (1.05, "M"), (1.1, "W"),
    )
    for letter in letters
}  # fmt: skip
"""Widths of letters in ems: the wider of the regular and the bold cut of the page's typeface, rounded up to a twentieth."""


def clean(text: str, limit: int = MARK_LIMIT) -> str:
    """Return text fit to stand in a drawing: one line, no control or direction characters, at most `limit` long."""
    kept: list[str] = []
    stacked = 0
    for char in text[: 8 * limit]:  # a name may be a megabyte long; nothing beyond this could be kept
        if char.isspace():
            kept.append(" ")
            stacked = 0
            continue
        kind = unicodedata.category(char)
        if char in _TURNS or kind in ("Cc", "Cs", "Cn", "Co", "Zl", "Zp"):
            continue
        stacked = stacked + 1 if kind in ("Mn", "Me") else 0
        if stacked <= 2:
            kept.append(char)
    cleaned = " ".join("".join(kept).split())
    return cleaned if len(cleaned) <= limit else cleaned[: limit - 1] + "…"


def escaped(text: str, limit: int = MARK_LIMIT) -> str:
    """Return text, cleaned, to stand between tags or in a quoted attribute."""
    return escape(clean(text, limit), quote=True)


def width_of(text: str, size: float = 12) -> float:
    """Estimate the width of a text at a font size, both in units."""
    return sum(map(_em, text)) * size


def _em(char: str) -> float:
    if char in _EMS:
        return _EMS[char]
    if unicodedata.category(char) in ("Mn", "Me", "Cf"):
        return 0.0
    return 1.05 if unicodedata.east_asian_width(char) in "WF" else 0.85 if char.isupper() else 0.7


def shorten(text: str, width: float, size: float = 12) -> str:
    """Clean a text and cut it with an ellipsis if it is too wide.

    Args:
        text: Any text.
        width: Room for it, units.
        size: Font size, units.

    Returns:
        The text as far as it fits (by estimate); "" if not even one letter does.
    """
    text = clean(text)
    if width_of(text, size) <= width:
        return text
    room = width - width_of("…", size)
    used = 0.0
    for count, char in enumerate(text):
        used += _em(char) * size
        if used > room:
            return text[:count].rstrip() + "…" if count else ""
    return text


def wrapped(text: str, width: float, size: float, most: int) -> list[str]:
    """Clean a text and break it into lines between words; a word that is too wide for a line is broken itself.

    Args:
        text: Any text.
        width: Room for a line, units.
        size: Font size, units.
        most: The most lines; the last one is cut with an ellipsis if there is more.

    Returns:
        The lines; none for an empty text.
    """
    words = clean(text).split(" ")
    lines: list[str] = []
    while words and words[0] and len(lines) < most - 1:
        count = 1
        while count < len(words) and width_of(" ".join(words[: count + 1]), size) <= width:
            count += 1
        line, words = " ".join(words[:count]), words[count:]
        if width_of(line, size) > width:
            fits = _fitting(line, width, size)
            line, words = line[:fits], [line[fits:], *words]
        lines.append(line)
    return lines + [one for one in [shorten(" ".join(words), width, size)] if one]


def _fitting(word: str, width: float, size: float) -> int:
    """Return how many characters of a word fit, at least one."""
    count = 1
    while count < len(word) and width_of(word[: count + 1], size) <= width:
        count += 1
    return count


def spread(wanted: Sequence[float], gap: float, low: float, high: float) -> list[float]:
    """Move labels apart so that they do not overlap; their order stays.

    Args:
        wanted: The best place of each label, units, in any order.
        gap: Least distance of two labels, units; if they cannot all fit, they stand evenly and closer.
        low: Lowest place.
        high: Highest place.

    Returns:
        A place for each label, in the order of `wanted`, as near to the wanted ones as the gap allows.
    """
    count = len(wanted)
    if not count:
        return []
    gap = min(gap, (high - low) / (count - 1)) if count > 1 else gap
    order = sorted(range(count), key=lambda index: (wanted[index], index))
    # Labels that collide form a block, centred on the mean of its members' wanted places.
    blocks: list[list[float]] = []  # [sum of (wanted - offset), members]
    for index in order:
        blocks.append([min(max(wanted[index], low), high), 1])
        while len(blocks) > 1:
            (total_a, size_a), (total_b, size_b) = blocks[-2], blocks[-1]
            if _start(total_a, size_a, gap, low, high) + gap * size_a <= _start(total_b, size_b, gap, low, high):
                break
            blocks[-2:] = [[total_a + total_b - gap * size_a * size_b, size_a + size_b]]
    placed = [0.0] * count
    ranks = iter(order)
    for total, size in blocks:
        start = _start(total, size, gap, low, high)
        for step in range(int(size)):
            placed[next(ranks)] = start + gap * step
    return placed


def _start(total: float, size: float, gap: float, low: float, high: float) -> float:
    return max(low, min(total / size, high - gap * (size - 1)))
