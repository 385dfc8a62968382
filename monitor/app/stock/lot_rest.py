"""Works out the rest of a lot, as far as its entries say: by mass, or by the bags it was made in, or no more than some mass."""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from monitor.material import MaterialRecord, Node, NodeKind, Tally
from monitor.model.amounts import Amount, Dimension, known_amount, unit_shown
from monitor.model.work import Work


@dataclass(frozen=True, slots=True)
class Counted:
    """A lot that was made and given out in containers or by volume, whose mass nobody knows.

    Attributes:
        left: How much of it is left; below 0 if more was given out than made.
        made: How much was made.
        unit: The unit of both.
    """

    left: Fraction
    made: Fraction
    unit: str

    def said(self) -> str:
        """Return it in words: `19 of 20 bags left`."""
        unit = unit_shown(self.unit)
        if self.left < 0:
            return f"{float(-self.left):g} {unit} more were given out than made"
        return f"{float(self.left):g} of {float(self.made):g} {unit} left"


@dataclass(frozen=True, slots=True)
class LotRest:
    """The rest of a lot; None for what nobody knows.

    Attributes:
        mass: The mass that went into it.
        left_g: The mass that is left, g.
        most_g: No more than this is left, g: what went in less all gifts that were weighed.
        counted: The rest in containers or by volume.
    """

    mass: Tally
    left_g: int | None
    most_g: int | None
    counted: Counted | None

    @property
    def is_gone(self) -> bool:
        """Whether nothing of it is left."""
        if self.left_g is not None:
            return self.left_g <= 0
        return self.counted is not None and self.counted.left <= 0


def rest_of_lot(record: MaterialRecord, lot: Node) -> LotRest:
    """Return the rest of a lot, which is in the graph."""
    into, gone = record.graph.into[lot], record.graph.out_of.get(lot, ())
    mass, out = Tally.wet(into), Tally.wet(gone)
    made = [record.entries[number] for number in dict.fromkeys(one.entry for one in into)]
    given = [record.entries[one.entry] for one in gone if one.target.kind is NodeKind.GIVEN]
    only_given = len(given) == len(gone)
    return LotRest(
        mass=mass,
        left_g=None if mass.unknown or out.unknown else mass.known_g - out.known_g,
        most_g=None if mass.unknown else mass.known_g - out.known_g,
        counted=counted_rest(made, given) if only_given else None,
    )


def counted_rest(made: Sequence[Work], given: Sequence[Work]) -> Counted | None:
    """Return the rest of a lot in the one unit, no mass, in which it was made and given out; None if there is none.

    Args:
        made: The entries that made it.
        given: The entries that gave some of it out.
    """
    amounts = [known_amount(work.amount, work.measure, work.unit) for work in (*made, *given)]
    units = {None if one is None else in_terms(one)[0] for one in amounts}
    unit = units.pop() if len(units) == 1 else None
    if unit is None or not made:
        return None
    counts = [in_terms(one)[1] for one in amounts if one is not None]
    whole = sum(counts[: len(made)], Fraction(0))
    return Counted(whole - sum(counts[len(made) :], Fraction(0)), whole, unit)


def in_terms(amount: Amount) -> tuple[str | None, Fraction]:
    """Return (unit, number) in which an amount that is no mass can be compared with others; the unit is None for all else."""
    if amount.dimension is Dimension.CONTAINERS:
        return amount.unit, amount.count
    if amount.dimension is Dimension.VOLUME and amount.base is not None:
        return "L", Fraction(amount.base, 1000)
    return None, Fraction(0)
