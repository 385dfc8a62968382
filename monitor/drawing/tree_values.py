"""The values of a drawn tree of material: boxes, and what went into each."""

from dataclasses import dataclass
from enum import StrEnum


class TreeKind(StrEnum):
    """Kinds of boxes; each has a shape of its own."""

    LOT = "lot"
    HARVEST = "harvest"
    BED = "bed"
    HEAP = "heap"
    CAME_IN = "came in"


@dataclass(frozen=True, slots=True)
class TreeBox:
    """A box, and the boxes of what went into it.

    Attributes:
        kind: Kind of box.
        name: What it is: `heap p1-2026-10-05`.
        words: More about it: its heat and risks, or "".
        certain: Whether it surely went into the first box of the tree; False: it may have.
        parts: What went into it.
        told: Whether its parts stand elsewhere in the tree, where it is named a first time.
    """

    kind: TreeKind
    name: str
    words: str = ""
    certain: bool = True
    parts: tuple["TreeBox", ...] = ()
    told: bool = False
