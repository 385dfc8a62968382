"""The graph's parts: nodes, which are material that lies together somewhere, and movements from one to another.

Dry matter is conserved by a movement: what leaves one node reaches the other. Volume is not, and water is not.
"""

from dataclasses import dataclass
from enum import StrEnum
from typing import NamedTuple

from monitor.model.work import Work, WorkKind

BEFORE_THE_LOG = 0
"""The number of no entry: that of what lay in a bin when its log began."""


class NodeKind(StrEnum):
    """Kinds of nodes; shown and stored, so never renamed."""

    __hash__ = str.__hash__  # that of enumerations is worked out in Python

    DELIVERY = WorkKind.DELIVERY.value
    """Material that came in."""
    UNRECORDED = "unrecorded"
    """Material that was used and of whose coming in nothing was logged."""
    EARLIER = "earlier"
    """What lay in a bin when its log began, if anything did."""
    SHELF = "shelf"
    """The deliveries of a material that lay open together: a step between them and its uses, which nobody sees."""
    BATCH = "batch"
    BED = "bed"
    """The content of a worm bin, from its first bedding until it is emptied."""
    HARVEST = "harvest"
    """Castings taken from a bed at one time."""
    FRACTION = "fraction"
    """Fines, middle or overs of what was screened."""
    LOT = "lot"
    GIVEN = "given"
    """What one person got at one time."""
    GONE = "gone"
    """What left the record: emptied, counted as missing, or lost between two weighings."""


class Node(NamedTuple):
    """Material that lies together; a tuple, since years of work look nodes up a million times.

    Attributes:
        kind: Kind of node.
        id: Its id, by which people name it: `d14`, `p1-2026-10-05`, `b1-2026-03-01`, `h31`, `h31/overs`, `lot-b1-2026-11-05`.
    """

    kind: NodeKind
    id: str


@dataclass(frozen=True, slots=True)
class Weighed:
    """The mass of an amount.

    Attributes:
        wet_g: Mass as it lies, g.
        dry_g: Its dry matter, g; None if its moisture is unknown.
        measured: Whether it was weighed; False: estimated by volume and density.
    """

    wet_g: int
    dry_g: int | None = None
    measured: bool = True


class Movement(NamedTuple):
    """Material that went from one node into another.

    Attributes:
        time: When, UTC ms.
        entry: The number of the entry that says so.
        source: Where it came from; None: from outside the yard.
        target: Where it went.
        wet_g: Its mass, g; None if unknown.
        dry_g: Its dry matter, g; None if unknown.
        measured: Whether its mass was weighed.
        certain: Whether it surely came from this source; False: it may have come from another of the same material.
        in_part: Whether it is a part of a source that is not mixed: a harvest from the bottom of a bed need not contain
            everything that ever went into the bed.
    """

    time: int
    entry: int
    source: Node | None
    target: Node
    wet_g: int | None = None
    dry_g: int | None = None
    measured: bool = False
    certain: bool = True
    in_part: bool = False


def moved(
    number: int, work: Work, source: Node | None, target: Node, mass: Weighed | None, *, in_part: bool = False
) -> Movement:
    """Return the movement of a mass by an entry.

    Args:
        number: The entry's number.
        work: The entry.
        source: Where it came from; None: from outside the yard.
        target: Where it went.
        mass: How much it was; None: nobody knows.
        in_part: As in `Movement`.
    """
    return Movement(
        time=work.time, entry=number, source=source, target=target, wet_g=None if mass is None else mass.wet_g,
        dry_g=None if mass is None else mass.dry_g, measured=mass is not None and mass.measured, in_part=in_part,
    )  # fmt: skip


def is_earlier(movement: Movement) -> bool:
    """Return whether a movement is of what lay there before the log, of which nobody knows how much it was."""
    return movement.source is not None and movement.source.kind is NodeKind.EARLIER


def at_moisture(dry_g: int, moisture: str, else_g: int) -> int:
    """Return the mass of dry matter as it lies, g.

    Args:
        dry_g: The dry matter, g.
        moisture: Its moisture in percent, as an entry keeps it; "" for none.
        else_g: The mass without one, g.
    """
    share = 100 - float(moisture) if moisture else 0
    return round(dry_g * 100 / share) if share > 0 else else_g
