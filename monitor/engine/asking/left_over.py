"""Works out how much of a material is left where everybody spoke of it in one unit, to be named in a question.

The yard's real stock is weighed (`material.read_log`); it needs the containers of the configuration, which the engine does
not know. Here nothing is converted: as soon as one amount is missing or in another unit, nothing is said.
"""

from collections.abc import Iterable, Iterator
from fractions import Fraction

from monitor.model.amounts import Amount, known_amount, unit_shown
from monitor.model.mix_parts import parts_of
from monitor.model.work import Work
from monitor.model.work_kinds import declared


def left_over(works: Iterable[Work], name: str) -> str:
    """Return how much of a material is left, `4 barrows`; "" if that cannot be said in one unit.

    Args:
        works: The entries that stand, in any order.
        name: The material; capitals and blanks do not matter.
    """
    left, unit = Fraction(0), ""
    for work in sorted(works, key=lambda one: one.time):
        row = declared(work.kind)
        if work.refused or not (row.stocks or row.fills):
            continue
        for amount in _amounts(work, _plain(name)):
            if amount is None or not amount.unit or (unit and amount.unit != unit):
                return ""
            unit = amount.unit
            if row.stocks:
                left = amount.count if row.can_be_nothing else left + amount.count
            else:
                # What was used beyond the stock is missing from no later delivery.
                left = max(left - amount.count, Fraction(0))
    return f"{float(left):g} {unit_shown(unit)}" if left > 0 else ""


def _amounts(work: Work, plain: str) -> Iterator[Amount | None]:
    """Yield the amounts of a material in an entry; None for one that nobody gave."""
    if work.parts:
        yield from (part.amount for part in parts_of(work.parts) if _plain(part.name) == plain)
    elif _plain(work.what) == plain:
        yield known_amount(work.amount, work.measure, work.unit)


def _plain(name: str) -> str:
    return " ".join(name.casefold().split())
