"""The risks that material can bring into a yard: a few words, and nothing else is one of them.

Each names something that neither heat nor time takes out of compost, or that harms worms. Common practice, no published source.
"""

import re
from collections.abc import Sequence

NO_RISK = "none"
"""Somebody looked, and found none."""

NOT_ASKED = "not asked about risks"
"""Nobody wrote down anything of risks, which is not the same as none."""

RISKS: dict[str, str] = {
    "herbicide": "a weed killer that outlasts composting and harms plants grown in the compost",
    "wormer": "a drug against worms in animals, which can harm the worms of a bed",
    "meat": "meat, fish or dairy, which draws rats and may carry disease",
    "plastic": "plastic, glass or metal, which stays",
    NO_RISK: "looked for, and none found",
}
"""The words for risks, each with its meaning."""

_BETWEEN = re.compile(r"(?:[\s,;+/]|\band\b)+")
_ALSO = {"herbicides": "herbicide", "wormers": "wormer", "plastics": "plastic", "no": NO_RISK}


def delivery_risks(text: str) -> str:
    """Return the risks of a delivery as the record keeps them: `herbicide,plastic`; "" if nobody said.

    Args:
        text: As typed; commas, blanks and *and* separate the words, and their order does not matter.

    Raises:
        ValueError: A word is no risk, or *none* stands beside one; the message says what would be right.
    """
    typed = [_ALSO.get(word, word) for word in _BETWEEN.split(text.casefold()) if word]
    wrong = next((word for word in typed if word not in RISKS), None)
    if wrong is not None:
        right = list(RISKS)
        raise ValueError(f'"{wrong[:20]}" is no risk of a delivery; it is {", ".join(right[:-1])} or {right[-1]}')
    found = [risk for risk in RISKS if risk in typed]
    if NO_RISK in found and len(found) > 1:
        raise ValueError(f'"{NO_RISK}" does not go with {found[0]}; say either the risks, or {NO_RISK}')
    return ",".join(found)


def risks_of(text: str) -> Sequence[str]:
    """Return the risks that a delivery brings, from the record's text; none for "" and for `none`."""
    return [word for word in text.split(",") if word and word != NO_RISK]


def risks_looked_for(text: str, by: str = "") -> str:
    """Return in words whether anybody was asked about risks: `none, said by Ann`, or `not asked about risks`.

    Args:
        text: The record's text.
        by: Who wrote the delivery down, "" if nobody said.

    Returns:
        The words; "" if some risk is named.
    """
    if text == NO_RISK:
        return f"{NO_RISK}, said by {by}" if by else f"{NO_RISK}, as was said"
    return "" if risks_of(text) else NOT_ASKED


def risk_clause(text: str, by: str = "") -> str:
    """Return the known risks of a delivery: `risk: herbicide`, `risk: none, said by Ann`, `not asked about risks`.

    Args:
        text: The record's text.
        by: Who wrote the delivery down, "" if nobody said.
    """
    if named := risks_of(text):
        return f"risk: {', '.join(named)}"
    told = risks_looked_for(text, by)
    return told if told == NOT_ASKED else f"risk: {told}"


def risks_said(text: str) -> str:
    """Return risks in words: `risk of herbicide and plastic`, `no risk found`; "" if nobody said."""
    if text == NO_RISK:
        return "no risk found"
    *first, last = risks_of(text) or [""]
    return f"risk of {', '.join(first)} and {last}" if first else f"risk of {last}" if last else ""
