"""Tells from all batches which heap lay where, and to which a heap's material belonged; looked up as often as one likes.

Rules:
1. At the instant at which one heap left a place and another came, both lay there: the one that left is meant where something
   was taken away, the one that came where something was laid down.
2. The material of a heap that was thrown onto another, or taken up by it, belongs to that one from that instant on.
"""

from collections.abc import Iterable, Mapping, Sequence
from functools import cached_property
from typing import Any, NamedTuple, Protocol

_NEVER = 1 << 62


class Stay(Protocol):
    """A stretch of time on one pile."""

    @property
    def pile(self) -> str:
        """The pile."""

    @property
    def start(self) -> int:
        """Its beginning, UTC ms."""

    @property
    def end(self) -> int | None:
        """Its end, not included, UTC ms; None while the heap lies there."""


class KnownHeap(Protocol):
    """A batch, as far as it matters where it lay; the engine's is one."""

    @property
    def batch(self) -> str:
        """Its id."""

    @property
    def built(self) -> int:
        """The instant of its building, UTC ms."""

    @property
    def parent(self) -> str:
        """The batch that it was split from, or ""."""

    @property
    def merged_into(self) -> str:
        """The batch that took it up, or ""."""

    @property
    def ended(self) -> int | None:
        """The instant from which it was gone, UTC ms, or None."""

    @property
    def spans(self) -> Sequence[Stay]:
        """The piles on which it lay, oldest first."""


class _Stay(NamedTuple):
    pile: str
    start: int
    end: int | None


class _Heap(NamedTuple):
    batch: str
    built: int
    parent: str
    merged_into: str
    ended: int | None
    spans: tuple[_Stay, ...]


def known_heaps(plain: Iterable[Sequence[Any]]) -> dict[str, KnownHeap]:
    """Return heaps by their ids from plain values: the fields of `KnownHeap` of each, in its order."""
    return {
        batch: _Heap(batch, built, parent, merged_into, ended, tuple(_Stay(*span) for span in spans))
        for batch, built, parent, merged_into, ended, spans in plain
    }


class PlacesOfHeaps:
    """All batches by place and time; made from the book as it is, and no longer true once that changes."""

    def __init__(self, batches: Mapping[str, KnownHeap]) -> None:
        """Look up batches in a book, by their ids."""
        self._batches = batches

    @cached_property
    def _spans(self) -> dict[str, list[tuple[int, int, str]]]:
        spans: dict[str, list[tuple[int, int, str]]] = {}
        for batch in self._batches.values():
            for span in batch.spans:
                end = _NEVER if span.end is None else span.end
                spans.setdefault(span.pile, []).append((span.start, end, batch.batch))
        return {pile: sorted(some) for pile, some in spans.items()}

    @cached_property
    def _ids(self) -> dict[str, str]:
        return {one.casefold(): one for one in self._batches}

    def left(self, place: str, time: int) -> str:
        """Return the batch that lay on a place right up to an instant (UTC ms), or ""."""
        there = [
            (end == time, start < time, start, b)
            for start, end, b in self._spans.get(place, ())
            if start <= time <= end
        ]
        return max(there)[3] if there else ""

    def lying(self, place: str, time: int) -> str:
        """Return the batch that lies on a place from an instant (UTC ms) on, or ""."""
        there = self._lying(place, time)
        return there[-1] if there else ""

    def there(self, place: str, time: int) -> list[str]:
        """Return the batches that lay on a place at an instant (UTC ms), one that left just then included, oldest first.

        There is one, two where one left and another came, or more if somebody wrote down late that a heap lay there too.
        """
        return list(dict.fromkeys(b for start, end, b in self._spans.get(place, ()) if start <= time <= end))

    def _lying(self, place: str, time: int) -> list[str]:
        return list(dict.fromkeys(b for start, end, b in self._spans.get(place, ()) if start <= time < end))

    def takers(self, place: str, to: str, time: int) -> list[str]:
        """Return the batches that took up what went from one place to another at an instant; hardly ever more than one.

        Args:
            place: Where it lay.
            to: Where it went.
            time: When, UTC ms.
        """
        there, gone = self.there(to, time), self._batches.get(self.left(place, time))
        if gone is not None and gone.merged_into in there and gone.ended == time:
            return [gone.merged_into]
        # What it was laid onto may have gone on at the same instant.
        return self._lying(to, time) or there[:1]

    def named(self, name: str) -> str:
        """Return the batch of an id, whatever the case of its letters, or ""."""
        plain = name.strip()
        if plain in self._batches or not plain[-1:].isdigit():
            return plain if plain in self._batches else ""  # every id ends in a day or a number
        return self._ids.get(plain.casefold(), "")

    def belongs_to(self, batch: str, time: int) -> str:
        """Return the batch to which a batch's material belonged at an instant (UTC ms): it may have been thrown onto another.

        Args:
            batch: The batch.
            time: The instant.
        """
        seen = {batch}
        while True:
            one = self._batches[batch]
            gone = one.ended is not None and one.ended <= time
            if not gone or one.merged_into not in self._batches or one.merged_into in seen:
                return batch
            batch = one.merged_into
            seen.add(batch)

    def built(self, batch: str) -> int:
        """Return when a batch was built, UTC ms."""
        return self._batches[batch].built

    def split_off(self, batch: str) -> tuple[str, str, int] | None:
        """Return from which batch a batch was split off, onto which place, and when (UTC ms); None if it was not."""
        one = self._batches[batch]
        return (one.parent, one.spans[0].pile, one.spans[0].start) if one.parent else None
