"""The parts of something that is thrown together: `2 barrows of stable litter and 3 bags of leaves`.

Rules: a part is an amount and a name, as people say it (`3 bags of leaves`) or as they write it down (`leaves = 3 bags`).
Parts are separated by a semicolon, by *and*, by a plus, or by a comma. The record keeps `stable litter=2 barrow; leaves=3
bag`.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass

from monitor.model.amounts import Amount, known_amount, parse_amount

_BETWEEN = re.compile(r"\s*(?:;|\+|,(?!\d)|\band\b(?=\s+[0-9]))\s*", re.IGNORECASE)
_AMOUNT_FIRST = re.compile(r"([0-9]+(?:[.,/ ][0-9/]+)?)\s*(.+)", re.DOTALL)
_EXAMPLE = '"3 bags of leaves and 2 barrows of stable litter"'


@dataclass(frozen=True, slots=True)
class MixPart:
    """A part: the name of a material, delivery or heap, and how much of it; None: nobody said."""

    name: str
    amount: Amount | None


def parse_parts(text: str, *, us: bool = False) -> list[MixPart]:
    """Read parts as a person typed them.

    Args:
        text: `3 bags of leaves and 2 barrows of stable litter`, or `leaves = 3 bags; stable litter = 2 barrows`.
        us: Whether the yard is a US one, in which a ton is 2,000 lb.

    Returns:
        The parts in the order in which they were named.

    Raises:
        ValueError: A part has no name, no amount, or an unknown unit, or is named twice; the message says what would be right.
    """
    chunks = [one for chunk in _BETWEEN.split(text) for one in _named_apart(chunk.strip()) if one]
    parts = [_part(one, us=us) for one in chunks]
    if not parts:
        raise ValueError(f"no part is named; write them such as {_EXAMPLE}")
    names = [one.name.casefold() for one in parts]
    twice = next((part.name for part in parts if names.count(part.name.casefold()) > 1), None)
    if twice is not None:
        raise ValueError(f'"{twice}" is named twice; write it once, with all of it')
    return parts


def parts_text(parts: list[MixPart]) -> str:
    """Return parts as the record keeps them; `parts_of` reads that again."""
    return "; ".join(
        one.name if one.amount is None else f"{one.name}={one.amount.number} {one.amount.unit}".strip() for one in parts
    )


def parts_of(text: str) -> list[MixPart]:
    """Return the parts of a record, leniently: a part that cannot be understood has no amount."""
    found = []
    for one in text.split(";"):
        name, _, amount = one.partition("=")
        if name.strip():
            found.append(MixPart(name.strip(), known_amount(amount.strip(), "")))
    return found


def parts_said(text: str) -> str:
    """Return the parts of a record in words: `2 barrows of stable litter, 3 bags of leaves`."""
    said = []
    for one in parts_of(text):
        if one.amount is None:
            said.append(one.name)
        else:
            many = "s" if one.amount.base is None and one.amount.unit and one.amount.count != 1 else ""
            said.append(f"{one.amount.number} {one.amount.unit or one.amount.measure}{many} of {one.name}")
    return ", ".join(said)


def _named_apart(chunk: str) -> Iterator[str]:
    """Yield the parts of a text that *and* joins, each with its `=`; a piece without an amount begins a name."""
    begun = ""
    for piece in re.split(r"\s+and\s+", chunk, flags=re.IGNORECASE) if "=" in chunk else [chunk]:
        begun = f"{begun} and {piece}" if begun else piece
        if "=" in piece or begun[:1].isdigit():
            yield begun
            begun = ""
    if begun:
        yield begun


def _part(text: str, *, us: bool) -> MixPart:
    if "=" in text:
        name, _, amount = (one.strip() for one in text.partition("="))
    else:
        name, amount = _said(text, us=us)
    name = " ".join(name.split())
    if not name:
        raise ValueError(f'"{text}" names no material; write the parts such as {_EXAMPLE}')
    if not amount:
        raise ValueError(f'how much "{name}"? Write the parts such as {_EXAMPLE}')
    found = parse_amount(amount, us=us)
    if not found.unit:
        raise ValueError(f'{found.number} of what? Write the unit too, such as "{found.number} bags of {name}"')
    return MixPart(name, found)


def _said(text: str, *, us: bool) -> tuple[str, str]:
    """Return (name, amount) of `3 bags of leaves` or `leaves 3 bags`."""
    first = _AMOUNT_FIRST.fullmatch(text)
    if first is None:
        turned = re.search(r"\s[0-9]", text)
        return (text, "") if turned is None else (text[: turned.start()], text[turned.start() :].strip())
    number, words = first[1], first[2].split()
    # The longest run of words that is a unit: `3 short tons of hay`, `2 cubic yards leaves`.
    for count in range(min(3, len(words)), 0, -1):
        unit = " ".join(words[:count])
        try:
            parse_amount(f"{number} {unit}", us=us)
        except ValueError:
            continue
        name = words[count + 1 :] if words[count : count + 1] == ["of"] else words[count:]
        return " ".join(name), f"{number} {unit}"
    raise ValueError(f'"{text}" has no unit that is known; write the parts such as {_EXAMPLE}')
