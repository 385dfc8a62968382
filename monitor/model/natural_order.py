"""Sorts names and ids as people count: *Bay 2* before *Bay 10*."""

import re

_DIGITS = re.compile(r"(\d+)")
_LONGEST = 80
"""Letters of a name that count; the rest of a longer name sorts it no further."""


def natural(name: str) -> list[tuple[int, int, str]]:
    """Return the key that sorts a name or an id so."""
    return [
        (0, int(part), "") if part.isdecimal() else (1, 0, part.casefold())
        for part in _DIGITS.split(name[:_LONGEST])
        if part
    ]
