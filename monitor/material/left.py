"""Works out the rest of a node: its dry matter, and the mass that follows from its moisture when it was weighed last.

Dry matter is conserved and water is not. Whoever screens a harvest weighs what has dried: the rest has dried as well, so it
is no longer what came in less what went out. Where a part left with a moisture of its own, the rest has that moisture too.
"""

from collections.abc import Iterable
from dataclasses import dataclass

from monitor.material.movements import Movement, NodeKind, Weighed

WEIGHING_PERCENT = 5
"""By how much two weighings of one thing may differ before anybody is asked (ours; `harvest` tells a gap from the same 5 %)."""


@dataclass(slots=True)
class Left:
    """The rest of a node; `unclear` or `undried` if a mass or its dry matter is unknown.

    Attributes:
        wet_g: Its mass as it lies, g; below 0 never, whatever was written down.
        dry_g: Its dry matter, g; below 0 if more left than ever came in.
        boundless: Whether an unknown dry matter came in; if not, no more than `dry_g` is left, whatever left unweighed.
    """

    wet_g: int = 0
    dry_g: int = 0
    unclear: bool = False
    undried: bool = False
    boundless: bool = False

    @classmethod
    def after(cls, into: Iterable[Movement], out_of: Iterable[Movement]) -> "Left":
        """Return the rest of a node after all its movements, each of them in order of time.

        Args:
            into: The movements into it.
            out_of: The movements out of it.
        """
        ordered = sorted(
            [*((one, False) for one in into), *((one, True) for one in out_of)],
            key=lambda pair: (pair[0].time, pair[0].entry, pair[1]),
        )
        left = cls()
        for move, goes in ordered:
            (left.take_out if goes else left.take_in)(move)
        return left

    def take_in(self, move: Movement) -> None:
        """Count a movement into the node."""
        self._note(move)
        self.boundless |= move.dry_g is None
        self.wet_g += move.wet_g or 0
        self.dry_g += move.dry_g or 0

    def take_out(self, move: Movement) -> None:
        """Count a movement out of the node."""
        wet, dry = move.wet_g or 0, move.dry_g
        dried = bool(dry and wet) and move.target.kind is not NodeKind.GONE and dry != self.share_of(wet)
        self._note(move)
        self.dry_g -= dry or 0
        if dried and not self.undried:
            self.wet_g = round(max(0, self.dry_g) * wet / (dry or 1))
        else:
            self.wet_g = max(0, self.wet_g - wet)

    def share_of(self, wet_g: int) -> int | None:
        """Return the dry matter in a part of the rest, of a mass in g, if all is mixed; None if unknown, or nothing is left."""
        if self.undried or self.wet_g <= 0:
            return None
        return max(0, self.dry_g) * min(wet_g, self.wet_g) // self.wet_g

    def is_exceeded_by(self, asked: Weighed) -> bool:
        """Return whether an amount has more dry matter than is left, by more than weighings differ; False if nobody knows.

        Where the dry matter is unknown, the masses as they lie are compared.
        """
        if asked.dry_g is not None and not self.boundless:
            return _exceeds(asked.dry_g, self.dry_g)
        if self.unclear:
            return False
        if self.undried:
            return _exceeds(asked.wet_g, self.wet_g)
        return _exceeds(asked.wet_g, self.wet_g) if self.dry_g > 0 else asked.wet_g > 0

    def _note(self, move: Movement) -> None:
        self.unclear |= move.wet_g is None
        self.undried |= move.dry_g is None


def _exceeds(asked: int, there: int) -> bool:
    return asked * 100 > max(0, there) * (100 + WEIGHING_PERCENT)
