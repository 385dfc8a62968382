"""A set of instants as two columns, the starts and the ends of its intervals; and small work on single columns.

A noisy year near a limit has millions of intervals; as Python tuples they would cost seconds and gigabytes.
"""

from collections.abc import Iterator, Sequence
from typing import overload

import numpy as np
from numpy.typing import NDArray

Column = NDArray[np.int64]


class Spans(Sequence[tuple[int, int]]):
    """A read-only sequence of (start, end) pairs, UTC ms, ordered, no two of them touching.

    It equals the tuple of the same pairs.

    Attributes:
        starts, ends: Its two columns, 64-bit integers; never written to.
    """

    __slots__ = ("ends", "starts")

    def __init__(self, starts: Column, ends: Column) -> None:
        """Take two columns of the same length as they are."""
        self.starts = starts
        self.ends = ends

    def __len__(self) -> int:
        return int(self.starts.size)

    @overload
    def __getitem__(self, place: int) -> tuple[int, int]: ...
    @overload
    def __getitem__(self, place: slice) -> "Spans": ...
    def __getitem__(self, place: int | slice) -> "tuple[int, int] | Spans":
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
        return f"Spans{tuple(self)}" if len(self) <= _SHOWN else f"Spans of {len(self)} pairs"


_SHOWN = 9


def in_order(*columns: Column) -> Column:
    """Return several columns, each in order, as one in order."""
    # The stable sort sees that they are in order and merges them, three times as fast as the other.
    return np.sort(np.concatenate(columns), kind="stable")


def distinct(instants: Column) -> Column:
    """Return instants in order, each once; numpy's own way goes through a hash table, which is slower."""
    column: Column = np.sort(instants, kind="stable")
    if column.size < 2:
        return column
    return column[np.concatenate(([True], column[1:] != column[:-1]))]
