"""The stock of one material: its deliveries, of which the oldest is taken first.

Rules:
1. Nobody writes down of which delivery a bucket was. Where only one delivery can have served, it surely did; where
   several lie there, the oldest is taken as used, and each of them may have been.
2. Where more is used than came in, the rest is *unrecorded*.
3. After a use of unknown amount nobody knows how much is left; a count says so again.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field

from monitor.material.movements import Node, NodeKind, Weighed


@dataclass(slots=True)
class OnShelf:
    """The rest of a delivery.

    Attributes:
        node: The delivery.
        time: When it came in, UTC ms.
        wet_g: Mass left, g; None if it was never known.
        dry_g: Dry matter left, g; None if unknown.
        measured: Whether the delivery was weighed.
        certain: Whether what is left is certain: every use since it came had an amount, and was surely of it.
    """

    node: Node
    time: int
    wet_g: int | None
    dry_g: int | None
    measured: bool
    certain: bool = True

    @property
    def used_up(self) -> bool:
        """Whether nothing is left of it."""
        return self.wet_g == 0

    def take(self, wet_g: int) -> int | None:
        """Take some of it, and return the dry matter that went along, g; None if unknown.

        Args:
            wet_g: How much, g; at most what is left.
        """
        assert self.wet_g is not None
        if not self.wet_g:
            return 0
        dry = None if self.dry_g is None else self.dry_g * wet_g // self.wet_g
        self.wet_g -= wet_g
        if dry is not None and self.dry_g is not None:
            self.dry_g -= dry
        return dry


@dataclass(frozen=True, slots=True)
class Taken:
    """A part of a use: what came from one node."""

    node: Node
    wet_g: int | None
    dry_g: int | None
    measured: bool
    certain: bool


@dataclass(frozen=True, slots=True)
class Counted:
    """The outcome of a count.

    Attributes:
        missing: What is missing from each delivery.
        found_g: How much more there is than ever came in by the record, g.
    """

    missing: tuple[Taken, ...]
    found_g: int


@dataclass(slots=True)
class Shelf:
    """The stock of one material.

    Attributes:
        material: Its name, as it was written down first.
        deliveries: All that came in, oldest first; those that are used up stay.
        short_g: How much more was used than came in, g.
        unmeasured: How many uses since the last count had no amount.
    """

    material: str
    deliveries: list[OnShelf] = field(default_factory=list)
    short_g: int = 0
    unmeasured: int = 0
    _first: int = 0

    @property
    def open(self) -> list[OnShelf]:
        """The deliveries of which something is left, oldest first."""
        while self._first < len(self.deliveries) and self.deliveries[self._first].used_up:
            self._first += 1
        return [one for one in self.deliveries[self._first :] if not one.used_up]

    def receive(self, delivery: OnShelf) -> None:
        """Put a delivery on the shelf."""
        self.deliveries.append(delivery)

    def use(self, amount: Weighed | None, named: Node | None = None) -> Iterator[Taken]:
        """Take an amount from the shelf.

        Args:
            amount: How much; None: nobody said.
            named: The delivery, if somebody named it.

        Yields:
            What came from where; an unknown amount came from any that was open.
        """
        there = [one for one in self.open if named is None or one.node == named]
        alone = named is not None or len(there) == 1
        if amount is None:
            self.unmeasured += 1
            for one in there:
                one.certain = False
                yield Taken(one.node, None, None, measured=False, certain=alone)
            if not there:
                yield Taken(named or self._unrecorded, None, None, measured=False, certain=True)
            return
        left = amount.wet_g
        for one in there:
            one.certain &= alone
            wet = left if one.wet_g is None else min(left, one.wet_g)
            dry = self._dry_of(amount, wet) if one.wet_g is None else one.take(wet)
            left -= wet
            yield Taken(one.node, wet, dry, amount.measured, alone and not left)
        if left or not (there or amount.wet_g):
            self.short_g += left
            yield Taken(self._unrecorded, left, self._dry_of(amount, left), amount.measured, certain=not there)

    def count(self, amount: Weighed) -> Counted:
        """Set the stock to a counted amount; the oldest lacks what is missing, a delivery of unknown mass has the rest.

        Args:
            amount: How much there is.
        """
        self.short_g = self.unmeasured = 0
        there = self.open
        more = amount.wet_g - sum(one.wet_g or 0 for one in there)
        for one in there:
            one.certain = True
        for one in reversed([one for one in there if one.wet_g is None]):  # the newest of them is likeliest to be left
            one.wet_g, one.dry_g = max(more, 0), self._dry_of(amount, max(more, 0))
            more = min(more, 0)
        missing = []
        for one in there:
            gone = min(-more, one.wet_g or 0)
            if gone > 0:
                more += gone
                missing.append(Taken(one.node, gone, one.take(gone), measured=amount.measured, certain=True))
        return Counted(tuple(missing), max(more, 0))

    @property
    def _unrecorded(self) -> Node:
        return Node(NodeKind.UNRECORDED, self.material)

    @staticmethod
    def _dry_of(amount: Weighed, wet_g: int) -> int | None:
        if amount.dry_g is None:
            return None
        return amount.dry_g if wet_g == amount.wet_g else amount.dry_g * wet_g // max(1, amount.wet_g)
