"""The stock of one material: its deliveries, of which the oldest is taken first.

Rules:
1. Nobody writes down of which delivery a bucket was. Where only one delivery can have served, it surely did; where
   several lie there, the oldest is taken as used, and each of them may have been.
2. Where more is used than came in, the rest is *unrecorded*.
3. After a use of unknown amount nobody knows how much is left; a count says so again.
"""

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
    """

    node: Node
    time: int
    wet_g: int | None
    dry_g: int | None
    measured: bool

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
        open: The deliveries of which something is left, oldest first.
        received: How many deliveries ever came in.
        short_g: How much more was used than came in, g.
        unmeasured: How many uses since the last count had no amount.
    """

    material: str
    open: list[OnShelf] = field(default_factory=list)
    received: int = 0
    short_g: int = 0
    unmeasured: int = 0

    def receive(self, delivery: OnShelf) -> None:
        """Put a delivery on the shelf."""
        self.open.append(delivery)
        self.received += 1

    def use(self, amount: Weighed | None, named: Node | None = None) -> list[Taken]:
        """Take an amount from the shelf.

        Args:
            amount: How much; None: nobody said.
            named: The delivery, if somebody named it.

        Returns:
            The amounts from the deliveries that count as used; where several were open, each other one may have been too.
        """
        there = self.open if named is None else [one for one in self.open if one.node == named]
        alone = named is not None or len(there) == 1
        if amount is None:
            self.unmeasured += 1
            nodes = [one.node for one in there] or [named or self._unrecorded]
            return [Taken(node, None, None, measured=False, certain=alone or not there) for node in nodes[:1]]
        left = amount.wet_g
        taken: list[Taken] = []
        for one in there:
            if not left and taken:
                break
            wet = left if one.wet_g is None else min(left, one.wet_g)
            dry = self._dry_of(amount, wet) if one.wet_g is None else one.take(wet)
            left -= wet
            taken.append(Taken(one.node, wet, dry, amount.measured, alone and not left))
        if left or not there:
            self.short_g += left
            taken.append(Taken(self._unrecorded, left, self._dry_of(amount, left), amount.measured, certain=not there))
        self._close(elsewhere=named is not None)
        return taken

    def _close(self, *, elsewhere: bool) -> None:
        """Take what is used up off the shelf: from its front, or elsewhere too."""
        while self.open and self.open[0].used_up:
            del self.open[0]
        if elsewhere:
            self.open = [one for one in self.open if not one.used_up]

    def count(self, amount: Weighed) -> Counted:
        """Set the stock to a counted amount; the oldest lacks what is missing, a delivery of unknown mass has the rest.

        Args:
            amount: How much there is.
        """
        self.short_g = self.unmeasured = 0
        there = self.open
        more = amount.wet_g - sum(one.wet_g or 0 for one in there)
        for one in reversed([one for one in there if one.wet_g is None]):  # the newest of them is likeliest to be left
            one.wet_g, one.dry_g = max(more, 0), self._dry_of(amount, max(more, 0))
            more = min(more, 0)
        missing = []
        for one in there:
            gone = min(-more, one.wet_g or 0)
            if gone > 0:
                more += gone
                missing.append(Taken(one.node, gone, one.take(gone), measured=amount.measured, certain=True))
        self._close(elsewhere=True)
        return Counted(tuple(missing), max(more, 0))

    @property
    def _unrecorded(self) -> Node:
        return Node(NodeKind.UNRECORDED, self.material)

    @staticmethod
    def _dry_of(amount: Weighed, wet_g: int) -> int | None:
        if amount.dry_g is None:
            return None
        return amount.dry_g if wet_g == amount.wet_g else amount.dry_g * wet_g // max(1, amount.wet_g)
