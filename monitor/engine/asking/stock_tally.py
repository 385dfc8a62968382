"""Keeps count of how much of each material is left, entry by entry, to tell a figure that cannot be.

It follows the shelves of `material.Shelf` in what it adds and takes away. It says nothing where those do not know: of what
never came in as a delivery and was never counted, such as a kitchen's scraps; of what was used without an amount; and of
amounts that cannot be compared. Where nobody can weigh an amount, but all spoke of it in one unit, it is counted in that.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field
from fractions import Fraction

from monitor.engine.asking.yard_sizes import YardSizes
from monitor.model.amounts import Amount, known_amount
from monitor.model.harvest_names import material_name
from monitor.model.mix_parts import parts_of
from monitor.model.work import Work, WorkKind
from monitor.model.work_kinds import declared

GRAMS = "g"


@dataclass(slots=True)
class Heap:
    """The stock of a material.

    Attributes:
        name: Its name, as it was written down first.
        left: What is left by each unit in which all was told; `GRAMS` is one of them.
        spoken_of: Whether anything was ever in stock of it.
        unclear: Whether some of it was used without an amount since it was counted last.
        most: The most that came in or was counted at once, by unit.
    """

    name: str
    left: dict[str, Fraction] = field(default_factory=dict)
    spoken_of: bool = False
    unclear: bool = False
    most: dict[str, Fraction] = field(default_factory=dict)


@dataclass(slots=True)
class StockTally:
    """The stock of all materials; entries are taken in order of time."""

    sizes: YardSizes
    _heaps: dict[str, Heap] = field(default_factory=dict)
    _delivered: dict[str, str] = field(default_factory=dict)

    def take(self, number: int, work: Work) -> None:
        """Count an entry, which has this number (0: none yet)."""
        row = declared(work.kind)
        if work.kind is WorkKind.LOT:
            self._made_lot(work)
        if work.refused or not (row.stocks or row.fills or work.kind is WorkKind.COVERED):
            return
        if work.kind is WorkKind.DELIVERY and number:
            self._delivered[f"d{number}"] = plain(work.what)
        for name, amount in named_amounts(work):
            if row.stocks:
                self._came(self._heaps.setdefault(plain(name), Heap(name)), amount, counted=row.can_be_nothing)
            elif (heap := self.of(name)) is not None:
                self._went(heap, amount)

    def screened(self, part: str, amount: Amount | None) -> None:
        """Count a part of a harvest that came off the screen, `h31/overs`; it dries, so no more of it is ever there."""
        self._came(self._heaps.setdefault(plain(part), Heap(part)), amount, counted=False)

    def of(self, name: str) -> Heap | None:
        """Return the stock of a material, or of that which a delivery (`d14`) brought; None if none was ever in stock."""
        asked = plain(name)
        return self._heaps.get(self._delivered.get(asked, asked))

    def terms(self, name: str, amount: Amount) -> dict[str, Fraction]:
        """Return an amount of a material in all units in which it can be compared."""
        found = {amount.unit: amount.count} if amount.unit else {}
        mass = self.sizes.scales.weigh(self._delivered.get(plain(name), name), amount)
        return found | ({GRAMS: Fraction(mass.wet_g)} if mass is not None else {})

    def _made_lot(self, work: Work) -> None:
        for name, amount in named_amounts(work):
            heap = self.of(name)
            if heap is not None and amount is not None:
                self._went(heap, amount)
            elif heap is not None:
                heap.left = dict.fromkeys(heap.left, Fraction(0))  # all that was left of it

    def _came(self, heap: Heap, amount: Amount | None, *, counted: bool) -> None:
        told = {} if amount is None else self.terms(heap.name, amount)
        if counted or not heap.spoken_of:
            heap.left, heap.unclear = dict(told), False
        else:
            heap.left = {unit: heap.left[unit] + count for unit, count in told.items() if unit in heap.left}
        heap.spoken_of = True
        heap.most |= {unit: max(count, heap.most.get(unit, Fraction(0))) for unit, count in told.items()}

    def _went(self, heap: Heap, amount: Amount | None) -> None:
        if amount is None:
            heap.unclear = True
            return
        told = self.terms(heap.name, amount)
        heap.left = {unit: max(left - told[unit], Fraction(0)) for unit, left in heap.left.items() if unit in told}


def named_amounts(work: Work) -> Iterator[tuple[str, Amount | None]]:
    """Yield the materials that an entry names, each with its amount; None for one that nobody gave."""
    if work.parts:
        yield from ((part.name, part.amount) for part in parts_of(work.parts))
        return
    names = [one.strip() for one in work.what.split(",") if one.strip()]
    if len(names) > 1:
        yield from ((one, None) for one in names)
    elif names:
        amount = known_amount(work.amount, work.measure, work.unit)
        yield material_name(work), None if amount is None or amount.dimension is None else amount


def plain(name: str) -> str:
    """Return a material's name in small letters, with single spaces."""
    return " ".join(name.casefold().split())
