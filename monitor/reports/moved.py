"""The material that moved within the yard and out of it: food, harvests, fractions, water, and all that was given out or lost.

Losses are stated only where they were weighed. A gap is shown of what is used up: a harvest or a fraction that was screened,
and a heap that went.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction

from monitor.material import MaterialRecord, Movement, Node, NodeKind
from monitor.model.amounts import Amount, Dimension, known_amount
from monitor.model.mix_parts import parts_of
from monitor.model.work import Work, WorkKind
from monitor.model.work_kinds import FRACTIONS, Material, declared
from monitor.reports.report_spans import Span
from monitor.reports.report_sums import Sum, sum_of

WATER = "water"
_USED_UP = frozenset({Material.GOES, Material.JOINS, Material.ENDS})


@dataclass(frozen=True, slots=True)
class GivenOut:
    """Everything that went to people.

    Attributes:
        mass: How much it was.
        containers: How many of each kind of container were handed out, where the amount was given in them.
        people: How many people got something.
    """

    mass: Sum
    containers: Mapping[str, Fraction]
    people: int


@dataclass(frozen=True, slots=True)
class Watered:
    """The water that was poured.

    Attributes:
        entries: How many entries it is the sum of.
        ml: How much, mL, as far as it is known.
        without: How many of the entries do not say how much, or in containers of unknown volume.
    """

    entries: int
    ml: int
    without: int


@dataclass(frozen=True, slots=True)
class Gone:
    """Something that is gone, and was weighed.

    Attributes:
        at: When that was found, UTC ms.
        node: What lacks it.
        kind: The kind of work by which it was found: emptied, counted, or any other for what was lost between two weighings.
        wet_g: How much, g.
        dry_g: Its dry matter, g; None if unknown.
    """

    at: int
    node: Node
    kind: WorkKind
    wet_g: int
    dry_g: int | None


@dataclass(frozen=True, slots=True)
class Gap:
    """Dry matter that does not add up.

    Attributes:
        node: Where.
        percent: How much more came in than left, of what came in; below 0: more left.
    """

    node: Node
    percent: float


def fed(record: MaterialRecord, span: Span) -> Sum:
    """Return the food of the worms.

    Args:
        record: The graph and the log.
        span: The time.
    """
    return sum_of(
        move
        for move in _into(record, span, NodeKind.BED)
        if (work := record.entries.get(move.entry)) is not None and declared(work.kind).feeds
    )


def harvested(record: MaterialRecord, span: Span) -> Sum:
    """Return the castings that were taken from the beds.

    Args:
        record: The graph and the log.
        span: The time.
    """
    return sum_of(_into(record, span, NodeKind.HARVEST))


def screened(record: MaterialRecord, span: Span) -> dict[str, Sum]:
    """Return the fractions of all that was screened; those of which there was none are left out.

    Args:
        record: The graph and the log.
        span: The time.
    """
    moves = list(_into(record, span, NodeKind.FRACTION))
    by_name = {name: [one for one in moves if one.target.id.endswith(f"/{name}")] for name in FRACTIONS}
    return {name: sum_of(some) for name, some in by_name.items() if some}


def given_out(record: MaterialRecord, span: Span) -> GivenOut:
    """Return all that went to people.

    Args:
        record: The graph and the log.
        span: The time.
    """
    moves = list(_into(record, span, NodeKind.GIVEN))
    works = [record.entries[entry] for entry in dict.fromkeys(one.entry for one in moves)]
    containers: dict[str, Fraction] = {}
    for work in works:
        amount = _amount(work)
        if amount is not None and amount.dimension is Dimension.CONTAINERS:
            containers[amount.unit] = containers.get(amount.unit, Fraction(0)) + amount.count
    people = {" ".join(work.receiver.casefold().split()) for work in works}
    return GivenOut(sum_of(moves), containers, len(people))


def watered(record: MaterialRecord, span: Span, volume_ml: Callable[[str], int | None]) -> Watered:
    """Return the water that was poured, also that with which a heap was thrown together.

    Args:
        record: The graph and the log.
        span: The time.
        volume_ml: Returns the volume of a container by its id, mL; None if nobody said.
    """
    return water_of((work for work in record.entries.values() if span.has(work.time)), volume_ml)


def water_of(works: Iterable[Work], volume_ml: Callable[[str], int | None]) -> Watered:
    """Return the water that some entries say was poured.

    Args:
        works: The entries.
        volume_ml: Returns the volume of a container by its id, mL; None if nobody said.
    """
    pours = [one for work in works for one in _pours(work)]
    volumes = [_volume(one, volume_ml) for one in pours]
    return Watered(len(pours), round(sum(one for one in volumes if one is not None)), volumes.count(None))


def gone(record: MaterialRecord, span: Span) -> list[Gone]:
    """Return the losses, as far as it was weighed, in order of time.

    Args:
        record: The graph and the log.
        span: The time.
    """
    found = [
        Gone(move.time, move.source, record.entries[move.entry].kind, move.wet_g, move.dry_g)
        for move in _into(record, span, NodeKind.GONE)
        if move.measured and move.wet_g and move.source is not None
    ]
    return sorted(found, key=lambda one: (one.at, one.node))


def gaps(record: MaterialRecord, span: Span) -> list[Gap]:
    """Return the gaps of everything that was used up in this time.

    Args:
        record: The graph and the log.
        span: The time.
    """
    found = []
    for node in record.graph.nodes(NodeKind.HARVEST, NodeKind.FRACTION, NodeKind.BATCH):
        out = record.graph.out_of.get(node, [])
        if out and span.has(out[-1].time) and any(_uses_up(one, record) for one in out):
            percent = record.graph.gap_percent(node)
            if percent is not None:
                found.append(Gap(node, percent))
    return found


def _uses_up(move: Movement, record: MaterialRecord) -> bool:
    if move.target.kind is NodeKind.FRACTION:
        return True
    work = record.entries.get(move.entry)
    return work is not None and declared(work.kind).material in _USED_UP


def _into(record: MaterialRecord, span: Span, kind: NodeKind) -> Iterator[Movement]:
    for node in record.graph.nodes(kind):
        yield from (move for move in record.graph.into.get(node, ()) if span.has(move.time))


def _pours(work: Work) -> Iterable[Amount | None]:
    if work.kind is WorkKind.WATERED:
        return [_amount(work)]
    return [one.amount for one in parts_of(work.parts) if one.name.strip().casefold() == WATER] if work.parts else []


def _volume(amount: Amount | None, volume_ml: Callable[[str], int | None]) -> float | None:
    if amount is None:
        return None
    if amount.dimension is Dimension.VOLUME:
        return amount.base
    if amount.dimension is Dimension.MASS:
        return amount.base  # a gram of water is a millilitre
    if amount.dimension is Dimension.CONTAINERS and (held := volume_ml(amount.unit)) is not None:
        return float(held * amount.count)
    return None


def _amount(work: Work) -> Amount | None:
    return known_amount(work.amount, work.measure, work.unit)
