"""Asks about figures of a screening that cannot be: more came off the screen than went onto it."""

from collections.abc import Iterator

from monitor.model.amounts import Amount, parse_amount
from monitor.model.work import Work
from monitor.model.work_kinds import FRACTIONS
from monitor.model.work_words import amount_said

_MORE = 1.05
"""A sum that is more than this times what went onto the screen is asked about; `harvest` tells a gap from the same 5 %."""


def figure_doubts(work: Work) -> Iterator[str]:
    """Yield the question about fractions that are together more than what was screened; it takes masses, or volumes."""
    onto = _amount(work.amount, work.unit or work.measure)
    parts = {name: text for name in FRACTIONS if (text := getattr(work, name))}
    came = [_amount(text) for text in parts.values()]
    if onto is None or onto.base is None or not came:
        return
    bases = [one.base for one in came if one is not None and one.base is not None and one.dimension is onto.dimension]
    if len(bases) != len(came) or sum(bases) <= _MORE * onto.base:
        return
    said = ", ".join(f"{name} {text}" for name, text in parts.items())
    yield f"More came off the screen ({said}) than went onto it ({amount_said(work)}). Is a figure or a unit a slip?"


def _amount(text: str, measure: str = "") -> Amount | None:
    try:
        return parse_amount(text, measure, zero=True)
    except ValueError:
        return None
