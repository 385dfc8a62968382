"""Long sets of instants, held as two arrays instead of a tuple of pairs.

A noisy year near a limit has millions of intervals; as Python tuples they would cost seconds and gigabytes. `Spans`
behaves like the tuple that it stands for, and `intervals` works on both. This module needs no numpy by itself.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Final, overload

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

LONG: Final = 1024
"""Sets of more pairs than this are held as arrays."""


class Spans(Sequence[tuple[int, int]]):
    """A read-only sequence of (start, end) pairs, UTC ms, ordered, no two of them touching.

    Attributes:
        starts, ends: Its two columns, 64-bit integers; never written to.
    """

    __slots__ = ("ends", "starts")

    def __init__(self, starts: NDArray[np.int64], ends: NDArray[np.int64]) -> None:
        """Take two columns of the same length as they are."""
        self.starts = starts
        self.ends = ends

    def __len__(self) -> int:
        return int(self.starts.size)

    @overload
    def __getitem__(self, place: int) -> tuple[int, int]: ...
    @overload
    def __getitem__(self, place: slice) -> Spans: ...
    def __getitem__(self, place: int | slice) -> tuple[int, int] | Spans:
        if isinstance(place, slice):
            if place.step not in {None, 1}:
                raise ValueError("a set of instants can be sliced in its own order only")
            return Spans(self.starts[place], self.ends[place])
        return int(self.starts[place]), int(self.ends[place])

    def __iter__(self) -> Iterator[tuple[int, int]]:
        return zip(self.starts.tolist(), self.ends.tolist(), strict=True)

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Spans | tuple):
            return NotImplemented
        return len(self) == len(other) and all(one == two for one, two in zip(self, other, strict=True))

    def __hash__(self) -> int:
        return hash(tuple(self))

    def __repr__(self) -> str:
        return f"Spans of {len(self)} pairs"
