"""Reads what an entry brings onto a heap: from where, of which heap, how much; once for count, certificate, lots, reports.

Rules:
1. An entry of the heap's own place (`added`; `fed` and `bedded`, words of bins, if they were logged of a heap) brings what it
   names: its `parts`, else its `what`, several names between commas. One that sends a heap, or a part of one, from another
   place brings the heap that lay there right up to then; what else it names is said in passing.
2. A name of a batch means the heap to which that batch's material belonged by then; `HEAP/overs`, as anything else that a
   screen parted, is material of that batch.
3. A heap that goes whole, with no amount said, brings all that lies in it; a part without an amount is of unknown size.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from typing import Protocol

from monitor.model.amounts import Amount, Dimension, known_amount
from monitor.model.harvest_names import material_name, screened_from
from monitor.model.mix_parts import parts_of
from monitor.model.work import Work
from monitor.model.work_kinds import Material, declared

WATER = "water"


class Heaps(Protocol):
    """Tells which heap lay where, and to which a heap's material belonged; the book of batches does."""

    def left(self, place: str, time: int) -> str:
        """Return the batch that lay on a place right up to an instant (UTC ms), or ""."""

    def lying(self, place: str, time: int) -> str:
        """Return the batch that lies on a place from an instant (UTC ms) on, or ""."""

    def there(self, place: str, time: int) -> list[str]:
        """Return the batches that lay on a place at an instant (UTC ms), one that left just then included, oldest first."""

    def takers(self, place: str, to: str, time: int) -> list[str]:
        """Return the batches that took up what went from one place to another at an instant; hardly ever more than one.

        Args:
            place: Where it lay.
            to: Where it went.
            time: When, UTC ms.
        """

    def named(self, name: str) -> str:
        """Return the batch of an id, whatever the case of its letters, or ""."""

    def belongs_to(self, batch: str, time: int) -> str:
        """Return the batch to which a batch's material belonged at an instant, UTC ms."""

    def built(self, batch: str) -> int:
        """Return when a batch was built, UTC ms."""

    def split_off(self, batch: str) -> tuple[str, str, int] | None:
        """Return from which batch a batch was split off, onto which place, and when (UTC ms); None if it was not."""


@dataclass(frozen=True, slots=True)
class Brought:
    """One thing that an entry brings.

    Attributes:
        name: The name by which the entry calls it; "" if it goes by the place where it lay, or has none.
        named: The batch that this is the name of, or "".
        heap: The batch that it is part of, or "" if the record knows of none.
        amount: How much of it; None: nobody said.
        whole: Whether all of that heap goes.
    """

    name: str
    named: str
    heap: str
    amount: Amount | None
    whole: bool = False

    @property
    def is_water(self) -> bool:
        """Whether it is water, which is neither raw nor dry matter."""
        return plain_name(self.name) == WATER


def brought_by(work: Work, heaps: Heaps, *, own: bool) -> list[Brought]:
    """Return everything that an entry brings.

    Args:
        work: The entry.
        heaps: Which heap lay where.
        own: Whether it is about the place that gets it; False: about another place, from which a heap goes.
    """
    if not own:
        whole = declared(work.kind).material is not Material.PART_GOES
        heap = heaps.left(work.place, work.time)
        return [Brought("", "", heap, amount_of(work), whole)]
    found = []
    for name, amount in named_parts(work):
        named = heaps.named(name) or heaps.named(screened_from(name))
        heap = heaps.belongs_to(named, work.time) if named else ""
        found.append(Brought(name, named, heap, amount))
    return found


def named_parts(work: Work) -> list[tuple[str, Amount | None]]:
    """Return the names in an entry, each with its amount; several names without amounts have none."""
    if work.parts:
        return list(_parts(work.parts))
    names = [one.strip() for one in work.what.split(",") if one.strip()]
    return [(one, None) for one in names] if len(names) > 1 else [(material_name(work), amount_of(work))]


def amount_of(work: Work) -> Amount | None:
    """Return the amount of an entry; None if nobody said, or if it is a depth or a time."""
    return _amount(work.amount, work.measure, work.unit)


def in_dimension(amounts: Iterable[Amount | None], dimension: Dimension) -> int | None:
    """Return the sum of some amounts, g or mL; None if one of them is unknown or of another kind.

    Args:
        amounts: The amounts.
        dimension: Mass or volume.
    """
    total = 0
    for one in amounts:
        if one is None or one.dimension is not dimension or one.base is None:
            return None
        total += one.base
    return total


def plain_name(material: str) -> str:
    """Return a material's name as stocks are kept by it: in small letters, with single spaces."""
    return " ".join(material.casefold().split())


@lru_cache(4096)
def _parts(text: str) -> tuple[tuple[str, Amount | None], ...]:
    return tuple((part.name, part.amount) for part in parts_of(text))


@lru_cache(4096)
def _amount(number: str, measure: str, unit: str) -> Amount | None:
    amount = known_amount(number, measure, unit)
    return None if amount is None or amount.dimension in (Dimension.LENGTH, Dimension.DURATION, None) else amount
